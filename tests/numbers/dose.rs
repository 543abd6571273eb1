//! Doses, quantiles and balance against R and NumPy.

use quietbeam_analysis::methods::balance::{
    standardised_difference_of_means, standardised_difference_of_proportions,
};
use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
use quietbeam_analysis::methods::dose::{
    geometric_mean_interval, geometric_mean_ratio_welch, split_by_exposure,
};
use quietbeam_analysis::methods::sample::{
    PositiveSample, Probability, Sample, median, quantile_type_6, quantile_type_7,
};

use crate::reference::{Comparison, Row, Tolerance, rows};

/// Sums of a thousand logarithms in another order differ in the last three digits.
const ROUNDING: Tolerance = Tolerance::Relative(1e-10);

/// Doses of one group of one set, in the order of the file.
pub(crate) fn doses(all: &[Row], set: &str, group: &str) -> Vec<f64> {
    all.iter()
        .filter(|row| row.text("set_id") == set && row.text("group") == group)
        .map(|row| row.number("dose"))
        .collect()
}

#[test]
fn ratio_of_geometric_means() {
    let values = rows("dose_values.csv");
    let mut comparison = Comparison::new("gm_ratio_welch", "R t.test on logarithms; SciPy ttest_ind");
    for row in rows("dose.csv").iter().filter(|row| row.text("method").ends_with("gm_ratio_welch")) {
        let exposed = |group| {
            let mut doses = doses(&values, row.text("set_id"), group);
            if row.text("method").starts_with("positive_part") {
                doses.retain(|dose| *dose > 0.0);
            }
            PositiveSample::new(doses).expect("doses above 0")
        };
        let result = geometric_mean_ratio_welch(&exposed("1"), &exposed("2"), row.level()).unwrap();
        comparison.interval(row, result.interval, ROUNDING);
        for (column, computed) in
            [("se", result.log_standard_error), ("df", result.degrees_of_freedom), ("p", result.p_two_sided)]
        {
            let case = format!("{} {column}", row.name());
            comparison.value(&case, computed, row.number(column), ROUNDING);
        }
    }
    comparison.finish(200);
}

#[test]
fn quantiles() {
    let values = rows("dose_values.csv");
    let mut comparison = Comparison::new("quantiles", "R quantile(type = 6 and 7); NumPy quantile");
    for row in &rows("quantiles.csv") {
        let quantile = if row.text("method") == "quantile_type6" { quantile_type_6 } else { quantile_type_7 };
        let sample = Sample::new(doses(&values, row.text("set_id"), row.text("group"))).unwrap();
        let q = Probability::new(row.number("probability")).expect("a probability");
        // Interpolation between two stored values: only rounding.
        let near = Tolerance::Relative(1e-13);
        comparison.value(&row.name(), quantile(&sample, q), row.number("estimate"), near);
        if row.number::<f64>("probability") == 0.5 {
            comparison.value(&row.name(), median(&sample), row.number("estimate"), near);
        }
    }
    comparison.finish(400);
}

#[test]
fn standardised_differences() {
    let covariates = rows("covariates.csv");
    let mut comparison = Comparison::new("smd", "R: (m1 - m0) / sqrt((s1^2 + s0^2) / 2)");
    for row in &rows("balance.csv") {
        let arm = |treated: &str| -> Vec<f64> {
            covariates
                .iter()
                .filter(|c| c.text("set_id") == row.text("set_id") && c.text("t") == treated)
                .map(|c| c.number(row.text("term")))
                .collect()
        };
        let (treated, control) = (arm("1"), arm("0"));
        let binary = treated.iter().chain(&control).all(|v| *v == 0.0 || *v == 1.0);
        let computed = if binary {
            let count = |values: &[f64]| {
                let events = values.iter().filter(|v| **v == 1.0).count();
                EventCount::new(u32::try_from(events).unwrap(), u32::try_from(values.len()).unwrap())
            };
            let arms = TwoArms { first: count(&treated).unwrap(), second: count(&control).unwrap() };
            standardised_difference_of_proportions(arms)
        } else {
            let sample = |values: &[f64]| Sample::new(values.to_vec()).unwrap();
            standardised_difference_of_means(&sample(&treated), &sample(&control))
        };
        comparison.value(&row.name(), computed.unwrap(), row.number("estimate"), ROUNDING);
    }
    comparison.finish(20);
}

#[test]
fn geometric_means() {
    let values = rows("dose_values.csv");
    let mut comparison = Comparison::new("geometric_mean", "R t.test on logarithms");
    for row in rows("dose.csv").iter().filter(|row| row.text("method").contains("geometric_mean")) {
        let group = &row.text("method")[row.text("method").len() - 1..];
        let doses = PositiveSample::new(doses(&values, row.text("set_id"), group)).unwrap();
        comparison.interval(row, geometric_mean_interval(&doses, row.level()).unwrap(), ROUNDING);
    }
    comparison.finish(150);
}

#[test]
fn exposed_cases_are_counted_and_kept() {
    let values = rows("dose_values.csv");
    let mut checked = 0;
    for row in rows("dose.csv").iter().filter(|row| row.text("method").starts_with("zero")) {
        let group = &row.text("method")[row.text("method").len() - 1..];
        let split = split_by_exposure(&doses(&values, row.text("set_id"), group)).unwrap();
        let none: f64 = row.number("statistic");
        assert_eq!(f64::from(split.exposed.non_events()), none, "{}", row.name());
        assert_eq!(f64::from(split.exposed.total()), row.number::<f64>("df"), "{}", row.name());
        let kept = split.doses.map_or(0, |doses| doses.values().len());
        assert_eq!(kept, split.exposed.events() as usize);
        checked += 1;
    }
    assert!(checked >= 20);
    assert!(split_by_exposure(&[]).is_err() && split_by_exposure(&[1.0, -0.1]).is_err());
    assert!(split_by_exposure(&[0.0, f64::NAN]).is_err());
    assert_eq!(split_by_exposure(&[0.0, 0.0]).unwrap().doses, None);
}
