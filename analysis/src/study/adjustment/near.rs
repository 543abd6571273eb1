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
    columns: Vec<Said>,
    all: Vec<f64>,
    /// The same without the cases of each centre, to first order.
    without: BTreeMap<u32, Vec<f64>>,
}

impl Near {
    /// One coefficient a column, the intercept before them.
    pub(super) fn new(
        cases: usize,
        columns: Vec<Said>,
        coefficients: &[f64],
        without: impl IntoIterator<Item = (u32, Vec<f64>)>,
    ) -> Self {
        let (all, without) = (coefficients.to_vec(), without.into_iter().collect());
        Self { cases: cases as u32, columns, all, without }
    }

    /// Coefficients of other columns, intercept first, where centres are compared with `base`.
    pub(super) fn of(&self, base: u32, columns: &[Said]) -> Vec<f64> {
        let mut left = self
            .without
            .iter()
            .filter(|(centre, _)| **centre != base && !columns.contains(&Said::Centre(**centre)));
        let nearest = match (left.next(), left.next()) {
            (Some((_, without)), None) => without,
            _ => &self.all,
        };
        // That which centres were compared with here, and what was not seen, is 0.
        let place = |said: &Said| self.columns.iter().position(|own| own == said);
        let of = |said: &Said| place(said).map_or(0.0, |place| nearest[place + 1]);
        let base = of(&Said::Centre(base));
        let beside = |said: &Said| if matches!(said, Said::Centre(_)) { of(said) - base } else { of(said) };
        std::iter::once(nearest[0] + base).chain(columns.iter().map(beside)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn centres_are_compared_with_the_first_that_is_left() {
        let age = || Said::Covariate("age".to_owned());
        let columns = vec![Said::Centre(1), Said::Centre(2), age(), Said::Arm];
        let near = Near::new(9, columns, &[-3.0, 0.5, 0.75, 0.25, -0.125], []);
        assert_eq!(near.of(0, &[Said::Centre(2), age(), Said::Arm]), [-3.0, 0.75, 0.25, -0.125]);
        assert_eq!(near.of(1, &[Said::Centre(2), Said::Arm]), [-2.5, 0.25, -0.125]);
        assert_eq!(near.of(1, &[Said::Covariate("sex".to_owned())]), [-2.5, 0.0]);
    }

    #[test]
    fn one_centre_left_out_is_known_to_first_order() {
        let columns = vec![Said::Centre(1), Said::Centre(2), Said::Arm];
        let without = [(0, vec![-3.5, 1.0, 1.5, 0.5]), (1, vec![-3.25, 0.0, 0.75, 0.25])];
        let near = Near::new(9, columns, &[-3.0, 0.5, 0.75, -0.125], without);
        assert_eq!(near.of(0, &[Said::Centre(2), Said::Arm]), [-3.25, 0.75, 0.25]);
        assert_eq!(near.of(1, &[Said::Centre(2), Said::Arm]), [-2.5, 0.5, 0.5]);
        // With two of them gone, or none, it is all cases that are nearest.
        assert_eq!(near.of(2, &[Said::Arm]), [-2.25, -0.125]);
        assert_eq!(near.of(0, &[Said::Centre(1), Said::Centre(2), Said::Arm]), [-3.0, 0.5, 0.75, -0.125]);
    }
}
