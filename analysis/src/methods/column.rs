//! One covariate of the cases, kept small where it only tells two groups of them apart.

/// One number a case. A column of two values, such as the indicator of a centre, holds them once
/// and a byte a case: a million cases with some twenty such columns would not fit otherwise, and
/// a pass over them is as long as what it reads.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Column {
    /// At most two values, and which cases have the second.
    Two {
        /// The smaller, and the other.
        values: [f64; 2],
        /// Whether a case has the other.
        other: Vec<bool>,
    },
    /// Any values.
    Many(Vec<f64>),
}

impl Column {
    /// The values of the cases, in their order.
    pub(crate) fn new(values: Vec<f64>) -> Self {
        let one = values.first().copied().unwrap_or(0.0);
        let two = values.iter().copied().find(|value| *value != one).unwrap_or(one);
        if values.iter().any(|value| *value != one && *value != two) {
            return Self::Many(values);
        }
        // The smaller first, so that equal columns are equal however they were made.
        let [low, high] = [one.min(two), one.max(two)];
        Self::Two { values: [low, high], other: values.iter().map(|value| *value != low).collect() }
    }

    /// 1 in the cases that are marked and 0 elsewhere.
    pub(crate) fn of_flags(marked: impl Iterator<Item = bool>) -> Self {
        Self::Two { values: [0.0, 1.0], other: marked.collect() }
    }

    /// Which cases have a 1, of a column of 0 and 1.
    pub(crate) fn flags(&self) -> Option<&[bool]> {
        match self {
            Self::Two { values: [0.0, 1.0], other } => Some(other),
            _ => None,
        }
    }

    /// Number of cases.
    pub(crate) fn len(&self) -> usize {
        match self {
            Self::Two { other, .. } => other.len(),
            Self::Many(values) => values.len(),
        }
    }

    /// The value of a case, counted from 0.
    pub(crate) fn at(&self, case: usize) -> f64 {
        match self {
            Self::Two { values, other } => values[usize::from(other[case])],
            Self::Many(values) => values[case],
        }
    }

    /// The values of all cases.
    pub(crate) fn iter(&self) -> impl Iterator<Item = f64> {
        (0..self.len()).map(|case| self.at(case))
    }

    /// The cases at these places, in this order.
    pub(crate) fn only(&self, places: &[usize]) -> Self {
        match self {
            Self::Two { values, other } => {
                Self::Two { values: *values, other: places.iter().map(|case| other[*case]).collect() }
            }
            Self::Many(values) => Self::Many(places.iter().map(|case| values[*case]).collect()),
        }
    }

    /// The smallest and the largest value; `None` without a case.
    pub(crate) fn ends(&self) -> Option<(f64, f64)> {
        match self {
            Self::Two { values: [low, high], other } => {
                match [false, true].map(|which| other.contains(&which)) {
                    [true, true] => Some((*low, *high)),
                    [true, false] => Some((*low, *low)),
                    [false, true] => Some((*high, *high)),
                    [false, false] => None,
                }
            }
            Self::Many(values) => {
                let first = *values.first()?;
                Some(values.iter().fold((first, first), |(low, high), v| (low.min(*v), high.max(*v))))
            }
        }
    }

    /// Whether some case differs from another.
    pub(crate) fn varies(&self) -> bool {
        self.ends().is_some_and(|(low, high)| low != high)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_column_gives_back_what_it_was_made_of() {
        for values in [vec![3.0], vec![2.0, 2.0], vec![1.0, 0.0, 1.0], vec![0.5, -0.5, 7.0, 0.5]] {
            let column = Column::new(values.clone());
            assert_eq!(column.iter().collect::<Vec<_>>(), values);
            assert_eq!(column.varies(), values.iter().any(|value| *value != values[0]), "{values:?}");
            let smallest = values.iter().copied().fold(f64::INFINITY, f64::min);
            assert_eq!(column.ends().unwrap().0, smallest);
            let last = [values.len() - 1, 0];
            assert_eq!(column.only(&last).iter().collect::<Vec<_>>(), [values[last[0]], values[0]]);
        }
        assert_eq!(Column::of_flags([true, false].into_iter()), Column::new(vec![1.0, 0.0]));
    }

    /// What two cases keep of a column of two values may vary no more.
    #[test]
    fn a_part_of_a_column_varies_by_itself() {
        let column = Column::new(vec![0.0, 1.0, 1.0]);
        assert!(!column.only(&[1, 2]).varies() && column.only(&[0, 2]).varies());
        assert_eq!(column.only(&[1, 2]).ends(), Some((1.0, 1.0)));
        assert_eq!(column.only(&[]).ends(), None);
    }
}
