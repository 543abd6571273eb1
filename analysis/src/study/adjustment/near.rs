//! Where the model of a part of the cases starts: at the coefficients of all of them.

use std::collections::BTreeMap;

/// What a column of the outcome's design says of a case.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Said {
    /// It is of this centre.
    Centre(u32),
    /// The covariate of this name.
    Covariate(String),
    /// It is in the zero-fluoroscopy arm.
    Arm,
}

impl Said {
    /// What it is called in a sentence.
    pub(super) fn name(self) -> String {
        match self {
            Self::Centre(_) => "the centre".to_owned(),
            Self::Covariate(name) => name,
            Self::Arm => "the intended strategy".to_owned(),
        }
    }
}

/// Coefficients of an outcome's model by what they belong to. Those of a part are near them.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::study) struct Near {
    /// Cases it was fitted to.
    pub(super) cases: u32,
    intercept: f64,
    slopes: BTreeMap<Said, f64>,
}

impl Near {
    /// One coefficient a column, the intercept before them.
    pub(super) fn new(cases: u32, columns: Vec<Said>, coefficients: &[f64]) -> Self {
        let slopes = columns.into_iter().zip(coefficients[1..].iter().copied()).collect();
        Self { cases, intercept: coefficients[0], slopes }
    }

    /// Coefficients of other columns, intercept first, where centres are compared with `base`.
    pub(super) fn of(&self, base: u32, columns: &[Said]) -> Vec<f64> {
        // That which centres were compared with here, and what was not seen, is 0.
        let of = |said: &Said| self.slopes.get(said).copied().unwrap_or(0.0);
        let base = of(&Said::Centre(base));
        let beside = |said: &Said| if matches!(said, Said::Centre(_)) { of(said) - base } else { of(said) };
        std::iter::once(self.intercept + base).chain(columns.iter().map(beside)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn centres_are_compared_with_the_first_that_is_left() {
        let age = || Said::Covariate("age".to_owned());
        let columns = vec![Said::Centre(1), Said::Centre(2), age(), Said::Arm];
        let near = Near::new(9, columns, &[-3.0, 0.5, 0.75, 0.25, -0.125]);
        assert_eq!(near.of(0, &[Said::Centre(2), age(), Said::Arm]), [-3.0, 0.75, 0.25, -0.125]);
        assert_eq!(near.of(1, &[Said::Centre(2), Said::Arm]), [-2.5, 0.25, -0.125]);
        assert_eq!(near.of(1, &[Said::Covariate("sex".to_owned())]), [-2.5, 0.0]);
    }
}
