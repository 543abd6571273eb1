//! Strata against 50-digit arithmetic, metafor, mantelhaen.test, epiR and statsmodels.

use quietbeam_analysis::methods::counts::Stratum;
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_analysis::methods::mantel_haenszel::mantel_haenszel_difference_sato;
use quietbeam_analysis::methods::stratified_score::stratified_miettinen_nurminen_interval;

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
    comparison.finish(90);
}

#[test]
fn stratified_miettinen_nurminen() {
    let source = "50-digit evaluation, confirmed by direct maximisation of the likelihood";
    check("strat_mn_mh_weights", source, |strata, level| {
        stratified_miettinen_nurminen_interval(strata, level).map(|result| result.interval)
    });
}

#[test]
fn mantel_haenszel_sato() {
    let source = "50-digit evaluation; metafor rma.mh, statsmodels StratifiedTable";
    check("mh_rd_sato", source, mantel_haenszel_difference_sato);
}
