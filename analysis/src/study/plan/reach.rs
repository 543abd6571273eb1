//! How far the cases that a registry holds go towards what a plan takes.

use crate::study::arm::ByArm;
use serde::Serialize;

/// What the cases in a plan's scope are worth, before anyone looks at an outcome.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reach {
    /// Cases in scope by intended strategy.
    pub cases: ByArm<u32>,
    /// Cases of each arm that would tell as much, if either strategy were as frequent in every
    /// centre.
    pub worth_each_arm: f64,
    /// How many times as many cases it takes because centres prefer one strategy and are
    /// compared within themselves; `None` where no centre uses both.
    pub design_effect: Option<f64>,
}

impl Reach {
    /// From the cases in scope of each centre.
    ///
    /// Formula: where the outcome varies alike, a difference between arms of a and b cases has the
    /// variance σ²(1/a + 1/b), as much as between arms of 2ab/(a + b) cases each. Compared within
    /// centres and weighted by the inverse of the variance, these add up over the centres:
    /// m = Σ 2aᵢbᵢ/(aᵢ + bᵢ). The design effect is 2AB/(A + B), of the sums, over m.
    /// Source: arithmetic of variances; the weights are those of \[mantel_haenszel1959\] for a difference.
    pub fn new(by_centre: impl IntoIterator<Item = ByArm<u32>>) -> Self {
        let (mut cases, mut within) = (ByArm::<u32>::default(), 0.0);
        for centre in by_centre {
            within += worth(&centre.map(|cases| f64::from(*cases)));
            cases.zero_fluoroscopy += centre.zero_fluoroscopy;
            cases.conventional += centre.conventional;
        }
        let design_effect = (within > 0.0).then(|| worth(&cases.map(|cases| f64::from(*cases))) / within);
        Self { cases, worth_each_arm: within, design_effect }
    }
}

/// Cases of each of two equal arms that tell as much as these.
pub(in crate::study) fn worth(cases: &ByArm<f64>) -> f64 {
    let (a, b) = (cases.zero_fluoroscopy, cases.conventional);
    if a + b == 0.0 { 0.0 } else { 2.0 * a * b / (a + b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn arms((zero_fluoroscopy, conventional): (u32, u32)) -> ByArm<u32> {
        ByArm { zero_fluoroscopy, conventional }
    }

    #[test]
    fn centres_that_prefer_one_strategy_cost_cases() {
        let alike = Reach::new([arms((100, 100)), arms((50, 50))]);
        assert_eq!((alike.worth_each_arm, alike.design_effect), (150.0, Some(1.0)));
        // By hand: 2 · 90 · 10 / 100 = 18 in each of two centres, against 100 with 100.
        let apart = Reach::new([arms((90, 10)), arms((10, 90))]);
        assert_eq!((apart.worth_each_arm, apart.design_effect), (36.0, Some(100.0 / 36.0)));
        let never = Reach::new([arms((90, 0)), arms((0, 90))]);
        assert_eq!((never.worth_each_arm, never.design_effect), (0.0, None));
        assert_eq!(Reach::new([]).cases, arms((0, 0)));
    }

    proptest! {
        #[test]
        fn comparing_within_centres_never_takes_fewer_cases(
            centres in prop::collection::vec((0_u32..5_000, 0_u32..5_000), 1..12)
        ) {
            let reach = Reach::new(centres.into_iter().map(arms));
            if let Some(effect) = reach.design_effect {
                prop_assert!(effect >= 1.0 - 1e-12, "{effect}");
            }
            let smaller = reach.cases.zero_fluoroscopy.min(reach.cases.conventional);
            prop_assert!(reach.worth_each_arm <= 2.0 * f64::from(smaller) + 1e-9);
        }
    }
}
