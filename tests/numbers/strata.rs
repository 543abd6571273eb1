//! Strata against 50-digit arithmetic, metafor, mantelhaen.test, epiR and statsmodels.

use quietbeam_analysis::methods::association::{
    ChiSquareTest, breslow_day_tarone_test, breslow_day_test, cochran_mantel_haenszel_corrected_test,
    cochran_mantel_haenszel_test,
};
use quietbeam_analysis::methods::counts::Stratum;
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable, RatioInterval};
use quietbeam_analysis::methods::mantel_haenszel::{
    mantel_haenszel_difference_greenland_robins, mantel_haenszel_difference_sato, mantel_haenszel_odds_ratio,
    mantel_haenszel_risk_ratio,
};
use quietbeam_analysis::methods::null_test::NullDifference;
use quietbeam_analysis::methods::stratified_newcombe::{
    stratified_newcombe_recovered_interval, stratified_newcombe_yan_su_interval, stratified_wilson_intervals,
};
use quietbeam_analysis::methods::stratified_score::{
    stratified_mee_interval, stratified_miettinen_nurminen_interval, stratified_miettinen_nurminen_test,
};

use crate::reference::{Comparison, Tolerance, rows};

/// The table of one set, stratum by stratum.
pub(crate) fn table(set: &str) -> Vec<Stratum> {
    let all = rows("strata.csv");
    all.iter().filter(|row| row.text("set_id") == set).map(|row| row.stratum()).collect()
}

fn check(
    method: &'static str,
    source: &'static str,
    compute: impl Fn(&[Stratum], Confidence) -> Result<Interval, NotEstimable>,
) {
    let mut comparison = Comparison::new(method, source);
    for row in rows("stratified.csv").iter().filter(|row| row.text("method") == method) {
        let interval = compute(&table(row.text("set_id")), row.level()).expect("an interval");
        // As for two arms: the last digits go in the square root of the statistic.
        comparison.interval(row, interval, Tolerance::Absolute(1e-9));
    }
    comparison.finish(80);
}

const SCORE: &str = "50-digit evaluation, confirmed by direct maximisation of the likelihood";
const NEWCOMBE: &str = "50-digit evaluation; no library";
const LIBRARIES: &str =
    "50-digit evaluation; metafor rma.mh, mantelhaen.test, epiR, statsmodels StratifiedTable";

#[test]
fn stratified_miettinen_nurminen() {
    check("strat_mn_mh_weights", SCORE, |strata, level| {
        stratified_miettinen_nurminen_interval(strata, level).map(|result| result.interval)
    });
}

#[test]
fn stratified_mee() {
    check("strat_mee_mh_weights", SCORE, |strata, level| {
        stratified_mee_interval(strata, level).map(|result| result.interval)
    });
}

#[test]
fn wilson_of_each_arm() {
    check("strat_wilson_group1_mhw", NEWCOMBE, |strata, level| {
        stratified_wilson_intervals(strata, level).map(|both| both.0)
    });
    check("strat_wilson_group2_mhw", NEWCOMBE, |strata, level| {
        stratified_wilson_intervals(strata, level).map(|both| both.1)
    });
}

#[test]
fn newcombe() {
    check("strat_newcombe_yan_su", NEWCOMBE, stratified_newcombe_yan_su_interval);
    check("strat_newcombe_mover_form", NEWCOMBE, stratified_newcombe_recovered_interval);
}

#[test]
fn mantel_haenszel_difference() {
    check("mh_rd_sato", LIBRARIES, mantel_haenszel_difference_sato);
    check("mh_rd_greenland_robins", LIBRARIES, mantel_haenszel_difference_greenland_robins);
}

#[test]
fn mantel_haenszel_ratios() {
    type Method = fn(&[Stratum], Confidence) -> Result<RatioInterval, NotEstimable>;
    let methods: [(&str, Method); 2] =
        [("mh_or_rbg", mantel_haenszel_odds_ratio), ("mh_rr_greenland_robins", mantel_haenszel_risk_ratio)];
    for (method, compute) in methods {
        let mut comparison = Comparison::new("mantel_haenszel_ratios", LIBRARIES);
        for row in rows("stratified.csv").iter().filter(|row| row.text("method") == method) {
            let interval = compute(&table(row.text("set_id")), row.level());
            comparison.ratio(row, interval, Tolerance::Relative(1e-9));
        }
        comparison.finish(90);
    }
}

#[test]
fn stratified_miettinen_nurminen_one_sided() {
    let mut comparison = Comparison::new("strat_mn_mh_z", SCORE);
    for row in &rows("stratified.csv") {
        let Some(null) = row.text("method").strip_prefix("strat_mn_mh_z_null=") else { continue };
        let null = NullDifference::new(null.parse().unwrap()).unwrap();
        let test = stratified_miettinen_nurminen_test(&table(row.text("set_id")), null).unwrap();
        let near = Tolerance::Absolute(1e-9);
        comparison.value(&row.name(), test.z, row.number("statistic"), near);
        comparison.value(&row.name(), test.p_less, row.number("p"), near);
    }
    comparison.finish(180);
}

#[test]
fn chi_square_tests() {
    type Method = fn(&[Stratum]) -> Result<ChiSquareTest, NotEstimable>;
    let methods: [(&str, Method); 4] = [
        ("cmh", cochran_mantel_haenszel_test),
        ("cmh_cc_R", cochran_mantel_haenszel_corrected_test),
        ("breslow_day", breslow_day_test),
        ("breslow_day_tarone", breslow_day_tarone_test),
    ];
    for (method, compute) in methods {
        let mut comparison = Comparison::new(method, LIBRARIES);
        for row in rows("stratified.csv").iter().filter(|row| row.text("method") == method) {
            let test = compute(&table(row.text("set_id"))).expect("a test");
            let near = Tolerance::Absolute(1e-9);
            comparison.value(&row.name(), test.statistic, row.number("statistic"), near);
            comparison.value(&row.name(), test.degrees_of_freedom, row.number("df"), near);
            comparison.value(&row.name(), test.p, row.number("p"), near);
        }
        comparison.finish(60);
    }
}
