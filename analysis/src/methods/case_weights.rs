//! Weights of the cases of two arms.

use super::interval::Arm;
use super::sample::count;

/// Why some numbers are not the weights of the cases of two arms.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CaseWeightsError {
    /// Vectors of unequal length.
    #[error("{found} weights or values for {cases} cases")]
    UnequalLengths {
        /// Length given.
        found: usize,
        /// Cases.
        cases: usize,
    },
    /// A weight that is negative, not a number or absurdly large.
    #[error("case {case} has the weight {weight}, which does not lie between 0 and 1e100")]
    OutOfRange {
        /// Case, from 1.
        case: usize,
        /// The weight.
        weight: f64,
    },
    /// A covariate that is not a number or absurdly large.
    #[error("case {case} has the value {value}, which does not lie between -1e100 and 1e100")]
    ValueOutOfRange {
        /// Case, from 1.
        case: usize,
        /// The value.
        value: f64,
    },
    /// Nobody in an arm counts.
    #[error("no case of the {arm} arm has a weight above 0")]
    NoWeight {
        /// The arm.
        arm: Arm,
    },
}

/// Weights from 0, some of them above 0 in each arm.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseWeights<'a> {
    in_first: &'a [bool],
    weights: Vec<f64>,
    largest_first: f64,
    largest_second: f64,
}

impl<'a> CaseWeights<'a> {
    /// One weight a case; `in_first` tells which cases are in the first arm.
    ///
    /// # Errors
    /// Unequal lengths, a weight outside 0 to 1e100, an arm without weight.
    pub fn new(in_first: &'a [bool], weights: Vec<f64>) -> Result<Self, CaseWeightsError> {
        let (found, cases) = (weights.len(), in_first.len());
        if found != cases {
            return Err(CaseWeightsError::UnequalLengths { found, cases });
        }
        if let Some((place, &weight)) =
            weights.iter().enumerate().find(|(_, weight)| !(0.0..=1e100).contains(*weight))
        {
            return Err(CaseWeightsError::OutOfRange { case: place + 1, weight });
        }
        let mut all = Self { in_first, weights, largest_first: 0.0, largest_second: 0.0 };
        let largest = |arm| {
            let largest = all.of(arm).fold(0.0, |most: f64, (_, weight)| most.max(weight));
            if largest > 0.0 { Ok(largest) } else { Err(CaseWeightsError::NoWeight { arm }) }
        };
        (all.largest_first, all.largest_second) = (largest(Arm::First)?, largest(Arm::Second)?);
        Ok(all)
    }

    /// The weights, in the order of the cases.
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// Which cases are in the first arm.
    pub fn in_first_arm(&self) -> &'a [bool] {
        self.in_first
    }

    /// Place and weight of each case of an arm.
    fn of(&self, arm: Arm) -> impl Iterator<Item = (usize, f64)> + Clone {
        let wanted = arm == Arm::First;
        let own = move |(place, (first, weight)): (usize, (&bool, &f64))| {
            (*first == wanted).then_some((place, *weight))
        };
        self.in_first.iter().zip(&self.weights).enumerate().filter_map(own)
    }

    /// Place and weight as a share of the arm's largest, so that squares neither vanish nor overflow.
    pub(super) fn relative(&self, arm: Arm) -> impl Iterator<Item = (usize, f64)> + Clone {
        let largest = match arm {
            Arm::First => self.largest_first,
            Arm::Second => self.largest_second,
        };
        self.of(arm).map(move |(place, weight)| (place, weight / largest))
    }

    /// The largest share of one case in the weight of its arm, between 0 and 1.
    pub fn largest_share(&self, arm: Arm) -> f64 {
        1.0 / self.relative(arm).map(|(_, weight)| weight).sum::<f64>()
    }

    /// Number of cases of an arm, at least 1.
    pub fn cases(&self, arm: Arm) -> usize {
        self.of(arm).count()
    }

    /// Effective sample size of an arm: equally weighted cases that would say as much.
    ///
    /// Formula: (Σw)² / Σw².
    /// Units: cases.
    /// Edges: equal weights give the number of cases, one case that outweighs all others 1.
    /// Source: [kish1965].
    /// Checked: tests/numbers/weighting.csv.
    pub fn effective_sample_size(&self, arm: Arm) -> f64 {
        let (sum, squares) = self
            .relative(arm)
            .fold((0.0, 0.0), |(sum, squares), (_, weight)| (sum + weight, squares + weight * weight));
        // Rounding must not promise more cases than there are.
        (sum * sum / squares).min(count(self.cases(arm)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_arm_needs_a_weight_above_nothing() {
        let arms = [true, false, true];
        let new = |weights: &[f64]| CaseWeights::new(&arms, weights.to_vec());
        assert!(new(&[0.0, 1.0, 1e-300]).is_ok());
        assert_eq!(new(&[0.0, 1.0, 0.0]), Err(CaseWeightsError::NoWeight { arm: Arm::First }));
        assert_eq!(new(&[1.0, 0.0, 0.0]), Err(CaseWeightsError::NoWeight { arm: Arm::Second }));
        assert_eq!(new(&[1.0, 1.0]), Err(CaseWeightsError::UnequalLengths { found: 2, cases: 3 }));
        for wrong in [-1.0, f64::NAN, f64::INFINITY, 2e100] {
            assert!(matches!(new(&[1.0, wrong, 1.0]), Err(CaseWeightsError::OutOfRange { case: 2, .. })));
        }
    }
}
