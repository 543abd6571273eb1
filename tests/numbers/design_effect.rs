//! Design effects against the summed matrix of correlations between all cases.

use std::num::NonZeroU32;

use proptest::prelude::*;
use quietbeam_analysis::methods::design_effect::{
    CentreSizes, IntraclassCorrelation, cases_over_centres, effective_sample_size,
    equal_centres_design_effect, unequal_centres_design_effect,
};
use quietbeam_analysis::methods::plan::CannotPlan;

use crate::reference::{Comparison, Tolerance, rows};

fn some(n: u32) -> NonZeroU32 {
    NonZeroU32::new(n).unwrap()
}

fn correlation(rho: f64) -> IntraclassCorrelation {
    IntraclassCorrelation::new(rho).unwrap()
}

fn centres(sizes: &[u32]) -> CentreSizes {
    CentreSizes::new(sizes.iter().map(|size| some(*size)).collect()).unwrap()
}

#[test]
fn the_whole_matrix_of_correlations() {
    let mut comparison = Comparison::new("design effect", "design_effect.py, NumPy covariance matrix");
    for row in &rows("design_effect.csv") {
        let sizes: Vec<u32> = row.text("sizes").split(' ').map(|size| size.parse().unwrap()).collect();
        let rho = correlation(row.number("correlation"));
        let tolerance = Tolerance::Relative(1e-12);
        let (unequal, expected) =
            (unequal_centres_design_effect(&centres(&sizes), rho), row.number("design_effect"));
        comparison.value(&row.name(), unequal.factor(), expected, tolerance);
        if sizes.iter().all(|size| *size == sizes[0]) {
            let equal = equal_centres_design_effect(some(sizes[0]), rho);
            comparison.value(&row.name(), equal.factor(), expected, tolerance);
        }
        let effective = effective_sample_size(&centres(&sizes), rho);
        comparison.value(&row.name(), effective, row.number("effective"), tolerance);
        let (n, k) = (some(row.number("independent")), some(u32::try_from(sizes.len()).unwrap()));
        match (cases_over_centres(n, k, rho), row.text("over_centres")) {
            (Err(CannotPlan::TooFewCentres { .. }), "") => {}
            (found, expected) => assert_eq!(found, Ok(expected.parse().unwrap()), "{}", row.name()),
        }
    }
    comparison.finish(80);
}

#[test]
fn a_hair_of_rounding_adds_no_case() {
    let tenth = equal_centres_design_effect(some(11), correlation(0.01));
    assert_eq!(tenth.inflated(some(150)), Ok(165));
    assert_eq!(tenth.inflated(some(151)), Ok(167));
    let huge = equal_centres_design_effect(some(u32::MAX), correlation(1.0));
    assert_eq!(huge.inflated(some(2)), Err(CannotPlan::TooManyCases));
    assert!(IntraclassCorrelation::new(1.1).is_err() && IntraclassCorrelation::new(f64::NAN).is_err());
    assert!(CentreSizes::new(Vec::new()).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn likeness_only_ever_costs(
        sizes in prop::collection::vec(1..100_000_u32, 1..30), rho in 0.0..=1.0_f64,
    ) {
        let (all, rho) = (centres(&sizes), correlation(rho));
        let factor = unequal_centres_design_effect(&all, rho).factor();
        let total: f64 = sizes.iter().map(|size| f64::from(*size)).sum();
        prop_assert!(factor >= 1.0 && effective_sample_size(&all, rho) <= total);
        // Equal sizes of the same total cost least.
        let mean = total / f64::from(u32::try_from(sizes.len()).unwrap());
        prop_assert!(factor >= (1.0 + (mean - 1.0) * f64::from(rho)) * (1.0 - 1e-12));
        prop_assert_eq!(unequal_centres_design_effect(&all, correlation(0.0)).factor(), 1.0);
        prop_assert_eq!(equal_centres_design_effect(some(1), rho).factor(), 1.0);
    }

    #[test]
    fn as_many_cases_as_fixed_centres_need_and_no_more(
        n in 1..200_000_u32, k in 1..500_u32, rho in prop_oneof![Just(0.0), Just(1.0), 0.0..0.3_f64],
    ) {
        let worth = |cases: u32| {
            let size = f64::from(cases) / f64::from(k);
            f64::from(cases) / (1.0 + (size - 1.0).max(0.0) * rho)
        };
        match cases_over_centres(some(n), some(k), correlation(rho)) {
            Ok(cases) => {
                prop_assert!(worth(cases) >= f64::from(n) * (1.0 - 1e-9));
                prop_assert!(cases == 1 || worth(cases - 1) < f64::from(n));
            }
            Err(CannotPlan::TooFewCentres { bound, .. }) => prop_assert!(f64::from(k) <= bound),
            Err(other) => prop_assert_eq!(other, CannotPlan::TooManyCases),
        }
    }
}
