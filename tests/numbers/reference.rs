//! Reading reference values and comparing with them.

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::str::FromStr;

use quietbeam_analysis::methods::counts::{EventCount, Stratum, TwoArms};
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable, Ratio, RatioInterval};
use quietbeam_analysis::methods::null_test::OneSidedTest;

/// The folder of the reference files.
pub(crate) fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/numbers")
}

/// One row of a reference file, by column name.
pub(crate) struct Row {
    file: &'static str,
    header: csv::StringRecord,
    values: csv::StringRecord,
}

impl Row {
    pub(crate) fn text(&self, column: &str) -> &str {
        let place = self.header.iter().position(|name| name == column);
        let place = place.unwrap_or_else(|| panic!("{}: no column {column}", self.file));
        &self.values[place]
    }

    pub(crate) fn number<T: FromStr>(&self, column: &str) -> T {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("{}: {column} is {text:?}", self.name()))
    }

    pub(crate) fn numbers<T: FromStr>(&self) -> Vec<T> {
        let one = |text: &str| text.parse().unwrap_or_else(|_| panic!("{}: {text:?}", self.file));
        self.values.iter().map(one).collect()
    }

    pub(crate) fn name(&self) -> String {
        format!("{} [{}]", self.file, self.values.iter().collect::<Vec<_>>().join(","))
    }

    pub(crate) fn count(&self, events: &str, total: &str) -> EventCount {
        EventCount::new(self.number(events), self.number(total)).expect("a count")
    }

    pub(crate) fn arms(&self) -> TwoArms {
        TwoArms { first: self.count("x1", "n1"), second: self.count("x2", "n2") }
    }

    pub(crate) fn stratum(&self) -> Stratum {
        self.arms().into()
    }

    pub(crate) fn level(&self) -> Confidence {
        Confidence::new(self.number("level")).expect("a level")
    }
}

/// All rows of a file.
pub(crate) fn rows(file: &'static str) -> Vec<Row> {
    let mut reader =
        csv::Reader::from_path(folder().join(file)).unwrap_or_else(|error| panic!("{file}: {error}"));
    let header = reader.headers().expect("a header").clone();
    let rows: Vec<Row> = reader
        .records()
        .map(|record| Row { file, header: header.clone(), values: record.expect("a row") })
        .collect();
    assert!(!rows.is_empty(), "{file} has no rows");
    rows
}

/// How near is near enough.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Tolerance {
    Absolute(f64),
    Relative(f64),
}

impl Tolerance {
    /// Deviation in units of the tolerance; 1 is the most that passes.
    fn used(self, computed: f64, expected: f64) -> f64 {
        if computed == expected {
            return 0.0;
        }
        let used = match self {
            Self::Absolute(limit) => (computed - expected).abs() / limit,
            Self::Relative(limit) => (computed - expected).abs() / (limit * expected.abs()),
        };
        if used.is_nan() { f64::INFINITY } else { used }
    }
}

/// Compares values one by one, then reports every failure together.
pub(crate) struct Comparison {
    what: &'static str,
    source: &'static str,
    checked: usize,
    worst: f64,
    worst_tolerance: Option<Tolerance>,
    files: BTreeSet<String>,
    failures: Vec<String>,
}

impl Comparison {
    pub(crate) fn new(what: &'static str, source: &'static str) -> Self {
        Self {
            what,
            source,
            checked: 0,
            worst: 0.0,
            worst_tolerance: None,
            files: BTreeSet::new(),
            failures: Vec::new(),
        }
    }

    pub(crate) fn value(&mut self, case: &str, computed: f64, expected: f64, tolerance: Tolerance) {
        self.checked += 1;
        // A case begins with the name of its row, and that with the file.
        if let Some((file, _)) = case.split_once(" [") {
            self.files.insert(file.to_owned());
        }
        let used = tolerance.used(computed, expected);
        if used >= self.worst {
            self.worst = used;
            self.worst_tolerance = Some(tolerance);
        }
        if used > 1.0 {
            self.failures.push(format!(
                "{case}: computed {computed:e}, expected {expected:e}, {tolerance:?}, source: {}",
                self.source
            ));
        }
    }

    /// Estimate and both limits.
    pub(crate) fn interval(&mut self, row: &Row, computed: Interval, tolerance: Tolerance) {
        assert_eq!(computed.level.level(), row.number::<f64>("level"));
        for (column, value) in
            [("estimate", computed.estimate), ("lower", computed.lower), ("upper", computed.upper)]
        {
            let case = format!("{} {column}", row.name());
            self.value(&case, value, row.number(column), tolerance);
        }
    }

    /// Estimate and both limits of a ratio; the reference writes `NaN` for no estimate and
    /// `Inf` for no bound.
    pub(crate) fn ratio(
        &mut self,
        row: &Row,
        computed: Result<RatioInterval, NotEstimable>,
        tolerance: Tolerance,
    ) {
        let expected = |column| row.number::<f64>(column);
        let Ok(computed) = computed else {
            self.checked += 1;
            assert!(expected("upper").is_nan(), "{}: should have been estimated", row.name());
            return;
        };
        let estimate = computed.estimate.map(Ratio::or_infinity);
        assert_eq!(estimate.is_none(), expected("estimate").is_nan(), "{}", row.name());
        for (column, value) in [
            ("estimate", estimate),
            ("lower", Some(computed.lower)),
            ("upper", Some(computed.upper.or_infinity())),
        ] {
            let Some(value) = value else { continue };
            self.value(&format!("{} {column}", row.name()), value, expected(column), tolerance);
        }
    }

    /// Statistic and p values; an infinite statistic of the reference is "cannot be tested" here.
    pub(crate) fn test<Null>(
        &mut self,
        row: &Row,
        computed: Result<OneSidedTest<Null>, NotEstimable>,
        tolerance: Tolerance,
    ) {
        let Ok(test) = computed else {
            self.checked += 1;
            let z: f64 = row.number("z");
            assert!(z.is_infinite() || z == 0.0, "{}: should have been tested", row.name());
            return;
        };
        for (column, value) in [("z", test.z), ("p_greater", test.p_greater), ("p_less", test.p_less)] {
            self.value(&format!("{} {column}", row.name()), value, row.number(column), tolerance);
        }
    }

    /// A row of the table that `tests/numbers/table` collects.
    fn line(&self) -> String {
        let files: Vec<&str> = self.files.iter().map(String::as_str).collect();
        let (limit, kind) = match self.worst_tolerance {
            Some(Tolerance::Absolute(limit)) => (limit, "absolute"),
            Some(Tolerance::Relative(limit)) => (limit, "relative"),
            None => (0.0, ""),
        };
        format!(
            "accuracy: | {} | {} | {} | {} | {:.1e} | {limit:.0e} {kind} |",
            self.what,
            files.join(", "),
            self.source,
            self.checked,
            self.worst * limit
        )
    }

    /// Fails when anything deviated, or when fewer values than `least` were compared.
    pub(crate) fn finish(self, least: usize) {
        println!("{}", self.line());
        assert!(
            self.failures.is_empty(),
            "{}: {} of {} deviate\n{}",
            self.what,
            self.failures.len(),
            self.checked,
            self.failures.iter().take(20).cloned().collect::<Vec<_>>().join("\n")
        );
        assert!(self.checked >= least, "{}: only {} values compared", self.what, self.checked);
    }
}
