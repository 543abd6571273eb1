//! Cox regression against R's survival package and statsmodels.

use proptest::prelude::*;
use quietbeam_analysis::methods::cox::{CoxCases, CoxFit, cox_regression};
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::follow_up::{Ended, FollowUp};
use quietbeam_analysis::methods::interval::NotEstimable;

use crate::reference::{Comparison, Row, Tolerance, rows};

const TERMS: [&str; 3] = ["group", "age", "x2"];

struct Set {
    follow_up: Vec<FollowUp>,
    design: Design,
    sites: Vec<u32>,
    strata: Vec<u32>,
}

impl Set {
    fn read(all: &[Row], name: &str) -> Self {
        let own: Vec<&Row> = all.iter().filter(|row| row.text("set_id") == name).collect();
        let ended = |row: &&Row| if row.text("status") == "1" { Ended::Event } else { Ended::Censored };
        let column = |term: &str| own.iter().map(|row| row.number(term)).collect();
        Self {
            follow_up: own
                .iter()
                .map(|row| FollowUp { days: row.number("time"), ended: ended(row) })
                .collect(),
            design: Design::new(own.len(), &TERMS.map(column)).unwrap(),
            sites: own.iter().map(|row| row.number("site")).collect(),
            strata: own.iter().map(|row| row.number("stratum")).collect(),
        }
    }

    fn fit(&self, strata: &[u32], centres: &[u32]) -> CoxFit {
        cox_regression(CoxCases::new(&self.follow_up, &self.design, strata, centres).unwrap()).unwrap()
    }
}

#[test]
fn efron() {
    let all = rows("follow_up.csv");
    let mut comparison = Comparison::new("cox", "R coxph(ties = efron), cox.zph; statsmodels PHReg");
    for row in &rows("cox.csv") {
        let set = Set::read(&all, row.text("set_id"));
        let (one, cases): (Vec<u32>, Vec<u32>) =
            set.sites.iter().enumerate().map(|(case, _)| (0, u32::try_from(case).unwrap())).unzip();
        let term = TERMS.iter().position(|term| *term == row.text("term")).unwrap();
        let by_site = set.fit(&one, &set.sites);
        let by_case = set.fit(&one, &cases);
        let stratified = set.fit(&set.strata, &set.sites);
        let coefficient = by_site.coefficients[term];
        for (column, computed, tolerance) in [
            ("coef", coefficient.log_hazard_ratio, 1e-9),
            ("se_model", coefficient.model_standard_error, 1e-9),
            ("se_centre", coefficient.centre_standard_error, 1e-9),
            ("se_case", by_case.coefficients[term].centre_standard_error, 1e-9),
            ("coef_stratified", stratified.coefficients[term].log_hazard_ratio, 1e-9),
            ("se_stratified", stratified.coefficients[term].model_standard_error, 1e-9),
            ("loglik_null", by_site.log_likelihood_null, 1e-8),
            ("loglik", by_site.log_likelihood, 1e-8),
            ("score_test", by_site.score_statistic, 1e-8),
            ("wald_test", by_site.wald_statistic, 1e-8),
            // R evaluates its score test at a coefficient it holds to nine digits.
            ("proportionality", coefficient.proportionality.statistic, 1e-6),
            ("proportionality_p", coefficient.proportionality.p, 1e-6),
        ] {
            let case = format!("{} {column}", row.name());
            comparison.value(&case, computed, row.number(column), Tolerance::Absolute(tolerance));
        }
    }
    comparison.finish(140);
}

#[test]
fn what_has_no_estimate_is_refused() {
    let event = |days| FollowUp { days, ended: Ended::Event };
    let all: Vec<FollowUp> = (1..=12).map(event).collect();
    let zeros = [0; 12];
    let fit = |columns: &[Vec<f64>], cases: &[FollowUp]| {
        let design = Design::new(12, columns).unwrap();
        cox_regression(CoxCases::new(cases, &design, &zeros, &zeros).unwrap())
    };
    // The early half has the covariate, the late half has not: the ratio runs off.
    let split: Vec<f64> = (0..12).map(|i| f64::from(u8::from(i < 6))).collect();
    assert_eq!(fit(std::slice::from_ref(&split), &all).err(), Some(NotEstimable::Separated));
    let twice = vec![split.clone(), split.iter().map(|v| 3.0 * v).collect()];
    assert_eq!(fit(&twice, &all).err(), Some(NotEstimable::Collinear));
    assert_eq!(fit(&[vec![5.0; 12]], &all).err(), Some(NotEstimable::Collinear));
    let nobody: Vec<FollowUp> = all.iter().map(|c| FollowUp { ended: Ended::Censored, ..*c }).collect();
    assert!(fit(&[split], &nobody).is_err());
    assert!(Design::new(3, &[vec![1.0, 2.0]]).is_err());
    assert!(Design::new(2, &[vec![1.0, f64::NAN]]).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn order_and_units_do_not_matter(
        cases in prop::collection::vec((0..30_u32, any::<bool>(), -3.0..3.0_f64, 0..4_u32), 20..60),
    ) {
        let fit = |cases: &[(u32, bool, f64, u32)], unit: f64| {
            let follow_up: Vec<FollowUp> = cases
                .iter()
                .map(|c| FollowUp { days: c.0, ended: if c.1 { Ended::Event } else { Ended::Censored } })
                .collect();
            let column = cases.iter().map(|c| c.2 * unit).collect();
            let design = Design::new(cases.len(), &[column]).unwrap();
            let centres: Vec<u32> = cases.iter().map(|c| c.3).collect();
            let strata = vec![0; cases.len()];
            cox_regression(CoxCases::new(&follow_up, &design, &strata, &centres).unwrap())
        };
        let reversed: Vec<_> = cases.iter().rev().copied().collect();
        if let (Ok(one), Ok(two), Ok(scaled)) = (fit(&cases, 1.0), fit(&reversed, 1.0), fit(&cases, 1000.0)) {
            let (a, b, c) = (one.coefficients[0], two.coefficients[0], scaled.coefficients[0]);
            prop_assert!((a.log_hazard_ratio - b.log_hazard_ratio).abs() < 1e-8);
            prop_assert!((a.centre_standard_error - b.centre_standard_error).abs() < 1e-8);
            prop_assert!((a.log_hazard_ratio - 1000.0 * c.log_hazard_ratio).abs() < 1e-8);
            prop_assert!((a.centre_standard_error - 1000.0 * c.centre_standard_error).abs() < 1e-8);
            prop_assert!(one.log_likelihood >= one.log_likelihood_null - 1e-9);
        }
    }
}
