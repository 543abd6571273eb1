//! Weighted comparisons against R and NumPy.

use quietbeam_analysis::methods::case_weights::CaseWeights;
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::distribution::{normal_upper_quantile, student_upper_quantile};
use quietbeam_analysis::methods::interval::{Arm, Confidence, NotEstimable};
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::positivity::{Positivity, PropensityBounds, positivity};
use quietbeam_analysis::methods::propensity::{Propensity, TargetPopulation, logistic_propensity};
use quietbeam_analysis::methods::weighted_balance::{
    WeightedIndicator, WeightedValues, weighted_means_by_raw_spread, weighted_means_by_weighted_spread,
    weighted_proportions_by_raw_spread, weighted_proportions_by_weighted_spread,
};
use quietbeam_analysis::methods::weighting::{
    WeightedCases, WeightedContrast, WeightedRisks, hajek_risks, weighted_cr1, weighted_cr2,
    weighted_for_these_centres,
};

use crate::reference::{Comparison, Row, Tolerance, rows};
use crate::regression_sets::{ESTIMABLE, RegressionSet};

/// The maximum of the likelihood is found to nine digits here and to eight by R.
const NEAR: Tolerance = Tolerance::Relative(1e-7);

/// Standard deviations: the fit ends when no log odds moves by more than 1e-9.
const BALANCE: Tolerance = Tolerance::Absolute(1e-9);

/// Cases of one set with the columns of a propensity model.
struct Set {
    arms: Vec<bool>,
    events: Vec<bool>,
    centres: Vec<u32>,
    covariates: Vec<Vec<f64>>,
}

impl Set {
    fn read(name: &str) -> Self {
        let set = RegressionSet::read(name);
        Self {
            arms: set.columns[0].iter().map(|t| *t == 1.0).collect(),
            events: set.events,
            centres: set.centres,
            covariates: set.columns[1..].to_vec(),
        }
    }

    /// Covariates only, covariates and seven centres made of the given ones, or none at all.
    fn model(mut self, model: &str) -> Self {
        if model.contains("seven centres") {
            self.centres.iter_mut().for_each(|centre| *centre %= 7);
        }
        if model == "covariates and seven centres" {
            let dummy = |k| self.centres.iter().map(|centre| f64::from(u8::from(*centre == k))).collect();
            self.covariates.extend((1..7).map(dummy));
        }
        if model.starts_with("intercept") {
            self.covariates.clear();
        }
        self
    }

    fn design(&self) -> Design {
        Design::new(self.arms.len(), &self.covariates).unwrap()
    }

    fn risks(&self, target: TargetPopulation) -> WeightedRisks {
        let design = self.design();
        let propensity = self.propensity(&design);
        hajek_risks(WeightedCases::new(&propensity, &self.events, &self.centres).unwrap(), target).unwrap()
    }

    fn propensity<'a>(&'a self, design: &'a Design) -> Propensity<'a> {
        logistic_propensity(LogisticCases::new(design, &self.arms).unwrap()).unwrap()
    }
}

fn target(name: &str) -> TargetPopulation {
    match name {
        "whole" | "ate" => TargetPopulation::Whole,
        "first" | "att" => TargetPopulation::FirstArm,
        "second" => TargetPopulation::SecondArm,
        "overlap" | "ato" => TargetPopulation::Overlap,
        other => panic!("{other} is not a target"),
    }
}

fn arm(name: &str) -> Arm {
    match name {
        "group1" | "first" => Arm::First,
        "group0" | "second" => Arm::Second,
        other => panic!("{other} is not an arm"),
    }
}

#[test]
fn propensity_risks_and_errors() {
    let mut comparison =
        Comparison::new("weighting", "R glm, survey; NumPy with a numerical stacked Jacobian");
    for name in ESTIMABLE {
        let set = Set::read(name);
        let design = set.design();
        let propensity = set.propensity(&design);
        let weights = |row: &Row| propensity.weights(target(&row.text("method")[..3])).unwrap();
        // One fit a target: the rows of a file repeat it.
        let all = ["ate", "att", "ato"].map(|name| (name, set.risks(target(name))));
        let risks = |row: &Row| all.iter().find(|(name, _)| row.text("method").starts_with(name)).unwrap().1;
        let contrast = |row: &Row| risks(row).difference.unwrap();
        for row in rows("weighting.csv").iter().filter(|row| row.text("set_id") == name) {
            let (method, term) = (row.text("method"), row.text("term"));
            let computed = if method == "propensity" {
                let place = if term == "(Intercept)" { 0 } else { term[1..].parse::<usize>().unwrap() };
                vec![("estimate", propensity.coefficients()[place])]
            } else if method.ends_with("ess") {
                vec![("estimate", weights(row).effective_sample_size(arm(term)))]
            } else if method.ends_with("risk") {
                vec![("estimate", if term == "risk1" { risks(row).first } else { risks(row).second })]
            } else if method.ends_with("mestimation_estimated_ps") {
                vec![("estimate", contrast(row).estimate), ("se", contrast(row).standard_error)]
            } else if method.ends_with("mestimation_cluster") {
                vec![("estimate", contrast(row).estimate), ("se", contrast(row).by_centre.unwrap().cr0)]
            } else {
                continue;
            };
            for (column, value) in computed {
                comparison.value(&format!("{} {column}", row.name()), value, row.number(column), NEAR);
            }
        }
    }
    comparison.finish(120);
}

#[test]
fn balance_before_and_after() {
    let mut comparison = Comparison::new("weighted_balance", "R arithmetic; NumPy");
    for name in ESTIMABLE {
        let set = Set::read(name);
        let design = set.design();
        let propensity = set.propensity(&design);
        let unweighted = CaseWeights::new(&set.arms, vec![1.0; set.arms.len()]).unwrap();
        let smd = |weights: &CaseWeights<'_>, term: &str, raw: bool| {
            let values = &set.covariates[term[1..].parse::<usize>().unwrap() - 1];
            let binary = values.iter().all(|v| *v == 0.0 || *v == 1.0);
            let present: Vec<bool> = values.iter().map(|v| *v == 1.0).collect();
            let indicator = WeightedIndicator::new(weights, &present).unwrap();
            let measured = WeightedValues::new(weights, values).unwrap();
            match (binary, raw) {
                (true, true) => weighted_proportions_by_raw_spread(indicator),
                (true, false) => weighted_proportions_by_weighted_spread(indicator),
                (false, true) => weighted_means_by_raw_spread(measured),
                (false, false) => weighted_means_by_weighted_spread(measured),
            }
            .unwrap()
        };
        let of_set = |row: &&Row| row.text("set_id") == name;
        for row in rows("weighting.csv").iter().filter(of_set) {
            let Some(method) = row.text("method").strip_prefix("smd_") else { continue };
            let weights = propensity.weights(target(&method[..3])).unwrap();
            let value = smd(&weights, row.text("term"), method.ends_with("unweighted_denominator"));
            comparison.value(&row.name(), value, row.number("estimate"), BALANCE);
        }
        for row in rows("balance.csv").iter().filter(of_set) {
            for raw in [true, false] {
                let value = smd(&unweighted, row.text("term"), raw);
                comparison.value(&row.name(), value, row.number("estimate"), Tolerance::Relative(1e-10));
            }
        }
    }
    comparison.finish(190);
}

#[test]
fn errors_by_centre() {
    let mut comparison = Comparison::new("weighting_centres", "NumPy: every matrix of the definition formed");
    let mut last = (String::new(), None);
    for row in &rows("weighting_centres.csv") {
        let name = ["set_id", "model", "target"].map(|column| row.text(column)).join(" ");
        if last.0 != name {
            let set = Set::read(row.text("set_id")).model(row.text("model"));
            last = (name, Some(set.risks(target(row.text("target")))));
        }
        let risks = last.1.unwrap();
        let contrast: WeightedContrast = match row.text("measure") {
            "difference" => risks.difference,
            "log_ratio" => risks.log_ratio,
            "log_ratio_of_absence" => risks.log_ratio_of_absence,
            other => panic!("{other}"),
        }
        .unwrap();
        let by_centre = contrast.by_centre.unwrap();
        for (column, value) in [
            ("estimate", contrast.estimate),
            ("se_plain", contrast.standard_error),
            ("se_cr0", by_centre.cr0),
            ("se_cr1", by_centre.cr1),
            ("se_cr2", by_centre.cr2),
            ("df", by_centre.cr2_degrees_of_freedom),
        ] {
            comparison.value(&format!("{} {column}", row.name()), value, row.number(column), NEAR);
        }
        check_limits(&mut comparison, row, contrast);
    }
    comparison.finish(1000);
}

fn check_limits(comparison: &mut Comparison, row: &Row, contrast: WeightedContrast) {
    let level = Confidence::new(0.9).unwrap();
    let number = |column| row.number::<f64>(column);
    let centres = contrast.by_centre.unwrap().centres as f64;
    let by_df = student_upper_quantile(0.05, number("df")) * number("se_cr2");
    for (wald, reach) in [
        (weighted_for_these_centres(contrast), normal_upper_quantile(0.05) * number("se_plain")),
        (weighted_cr1(contrast), student_upper_quantile(0.05, centres - 1.0) * number("se_cr1")),
        (weighted_cr2(contrast), by_df),
    ] {
        let interval = wald.unwrap().interval(level).unwrap();
        let near = Tolerance::Absolute(1e-7 * reach);
        comparison.value("lower", interval.lower, number("estimate") - reach, near);
        comparison.value("upper", interval.upper, number("estimate") + reach, near);
    }
    if row.text("measure") != "difference" {
        let ratio = weighted_cr2(contrast).unwrap().ratio_interval(level).unwrap();
        comparison.value("lower", ratio.lower, (number("estimate") - by_df).exp(), NEAR);
        comparison.value("upper", ratio.upper.or_infinity(), (number("estimate") + by_df).exp(), NEAR);
    }
}

#[test]
fn positivity_reports() {
    let mut comparison = Comparison::new("positivity", "NumPy");
    let all = rows("positivity.csv");
    for rows in all.chunk_by(|a, b| a.text("set_id") == b.text("set_id")) {
        let set = Set::read(rows[0].text("set_id"));
        let design = set.design();
        let propensity = set.propensity(&design);
        for row in rows {
            let bounds = PropensityBounds::new(row.number("low"), row.number("high")).unwrap();
            check_positivity(
                &mut comparison,
                row,
                positivity(&propensity, target(row.text("target")), bounds),
            );
        }
    }
    comparison.finish(300);
}

fn check_positivity(comparison: &mut Comparison, row: &Row, report: Result<Positivity, NotEstimable>) {
    let report = report.unwrap();
    let own = if row.text("arm") == "first" { &report.first } else { &report.second };
    for (column, value) in [
        ("smallest", own.smallest),
        ("largest", own.largest),
        ("share", own.largest_weight_share),
        ("ess", own.effective_sample_size),
        ("overlap", report.overlap),
    ] {
        comparison.value(&format!("{} {column}", row.name()), value, row.number(column), NEAR);
    }
    let classes: Vec<usize> = row.text("classes").split(' ').map(|count| count.parse().unwrap()).collect();
    assert_eq!(own.by_class.to_vec(), classes, "{}", row.name());
    for (column, count) in [
        ("cases", own.cases),
        ("below", own.below),
        ("above", own.above),
        ("outside", own.outside_shared_range),
    ] {
        assert_eq!(count, row.number::<usize>(column), "{} {column}", row.name());
    }
}
