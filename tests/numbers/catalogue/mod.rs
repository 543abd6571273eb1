//! The catalogue of calculations: the reference files go straight through it.

mod centres;
mod looks;
mod plans;
mod regression;
mod rows;
mod sets;
mod weighting;
mod whole;

use std::collections::BTreeMap;

use quietbeam_analysis::calculate::{Sheet, find};

use crate::reference::{Comparison, Row, Tolerance};

/// A row of a result by column name.
type Answered = BTreeMap<String, String>;

/// Puts rows through a calculation; `given` are parameters beside them.
fn put(name: &str, header: &[&str], rows: &[Vec<&str>], given: &[(&str, &str)]) -> Vec<Answered> {
    let given: Vec<(String, String)> =
        given.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
    let mut sheet = Sheet::new(find(name).expect("a calculation"), header, &given).expect("a header");
    let columns = sheet.header().to_vec();
    let mut results = Vec::new();
    for (number, row) in rows.iter().enumerate() {
        let line = u64::try_from(number).unwrap() + 2;
        results.extend(sheet.take(line, row).unwrap_or_else(|trouble| panic!("{name}: {trouble}")));
    }
    results.extend(sheet.finish().unwrap_or_else(|trouble| panic!("{name}: {trouble}")));
    let answered = |row: Vec<String>| {
        assert_eq!(row.len(), columns.len(), "{name}");
        columns.iter().cloned().zip(row).collect()
    };
    results.iter().flat_map(|result| result.rows().collect::<Vec<_>>()).map(answered).collect()
}

/// Compares outputs with columns of the reference; what is undefined there has a reason here.
fn compare(
    comparison: &mut Comparison,
    row: &Row,
    answered: &Answered,
    pairs: &[(&str, &str)],
    tolerance: Tolerance,
) {
    let expects = |column: &str| row.number::<f64>(column);
    // A statistic without a standard error is infinite there, or 0 for want of a difference.
    let undefined = pairs
        .iter()
        .any(|(output, column)| !expects(column).is_finite() || (*output == "z" && expects(column) == 0.0));
    for (output, column) in pairs {
        let (computed, expected) = (&answered[*output], expects(column));
        assert!(!computed.to_lowercase().contains("nan"), "{}: {computed}", row.name());
        if computed.is_empty() {
            assert!(!answered["reason"].is_empty(), "{}: blank without a reason", row.name());
            assert!(undefined, "{}: {}", row.name(), answered["reason"]);
            continue;
        }
        let computed = computed.parse().unwrap_or_else(|_| panic!("{}: {computed}", row.name()));
        comparison.value(&format!("{} {output}", row.name()), computed, expected, tolerance);
    }
}

const INTERVAL: [(&str, &str); 3] = [("estimate", "estimate"), ("lower", "lower"), ("upper", "upper")];
const TEST: [(&str, &str); 3] = [("z", "z"), ("p_greater", "p_greater"), ("p_less", "p_less")];
const SOURCE: &str = "the reference file of the method, see README.md beside it";

/// Names and what they go with.
type Pairs<'a> = Vec<(&'a str, &'a str)>;

/// One row of columns and values through a calculation.
fn one(name: &str, cells: &[(&str, &str)]) -> Answered {
    let (header, row): (Vec<&str>, Vec<&str>) = cells.iter().copied().unzip();
    let mut answered = put(name, &header, &[row], &[]);
    assert_eq!(answered.len(), 1, "{name}");
    answered.remove(0)
}
