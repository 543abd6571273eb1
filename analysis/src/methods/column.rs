//! One covariate of the cases, kept small where it has few different values.

use super::runs::Runs;

/// Values that a byte a case tells apart.
const FEW: usize = 256;

/// Cases of one stretch: ten columns of it as numbers stay in the fastest cache.
pub(super) const STRETCH: usize = 256;

/// One number a case. A column of few values, such as the indicator of a centre or a whole number
/// of years, holds them once and a byte a case: a million cases with some twenty such columns
/// would not fit otherwise, and a pass over them is as long as what it reads.
#[derive(Clone, Debug)]
pub(crate) enum Column {
    /// At most 256 values.
    Few(Few),
    /// Any values.
    Many(Vec<f64>),
}

/// A column of few values.
#[derive(Clone, Debug)]
pub(crate) struct Few {
    /// The values from the smallest on, each once; a part of a column may lack some.
    values: Vec<f64>,
    /// How many cases have each.
    counts: Vec<u32>,
    /// The place of each case's value.
    which: Vec<u8>,
    /// The place that all cases of a stretch share, where they do, so that nobody need look at them.
    shared: Vec<Option<u8>>,
}

impl Few {
    fn new(values: Vec<f64>, which: Vec<u8>) -> Self {
        let shared: Vec<Option<u8>> = which.chunks(STRETCH).map(shared).collect();
        Self { counts: counted(&which, &shared, values.len()), values, which, shared }
    }

    /// The place that all cases of a stretch share, if they do; stretches are counted from 0.
    pub(super) fn shared(&self, stretch: usize) -> Option<u8> {
        self.shared[stretch]
    }

    /// The values from the smallest on.
    pub(crate) fn values(&self) -> &[f64] {
        &self.values
    }

    /// The place of each case's value among them.
    pub(crate) fn which(&self) -> &[u8] {
        &self.which
    }

    /// The values that some case has, each with the number of its cases.
    pub(crate) fn counted(&self) -> impl DoubleEndedIterator<Item = (f64, u32)> {
        self.values.iter().copied().zip(self.counts.iter().copied()).filter(|(_, count)| *count > 0)
    }
}

fn shared(places: &[u8]) -> Option<u8> {
    // Without a way out in the middle it reads many at once.
    let differing = places.iter().fold(0, |differing, place| differing | (place ^ places[0]));
    (differing == 0).then(|| places[0])
}

/// How often each place occurs. Four counts side by side: one that is raised twice in a row would
/// wait for itself.
fn counted(which: &[u8], shared: &[Option<u8>], values: usize) -> Vec<u32> {
    let mut counts = [[0; FEW]; 4];
    for (some, shared) in which.chunks(STRETCH).zip(shared) {
        if let Some(place) = shared {
            counts[0][usize::from(*place)] += some.len() as u32;
            continue;
        }
        for four in some.chunks(4) {
            for (place, own) in four.iter().zip(&mut counts) {
                own[usize::from(*place)] += 1;
            }
        }
    }
    (0..values).map(|value| counts.iter().map(|own| own[value]).sum()).collect()
}

impl Column {
    /// The values of the cases, in their order.
    pub(crate) fn new(values: Vec<f64>) -> Self {
        match distinct(&values) {
            Some(few) => {
                let mut last = 0;
                let mut place = |value: &f64| {
                    if few[last].total_cmp(value).is_ne() {
                        last = few.partition_point(|other| other.total_cmp(value).is_lt());
                    }
                    // There are at most 256.
                    last as u8
                };
                let which = values.iter().map(&mut place).collect();
                Self::Few(Few::new(few, which))
            }
            None => Self::Many(values),
        }
    }

    /// 1 in the cases that are marked and 0 elsewhere.
    pub(crate) fn of_flags(marked: impl Iterator<Item = bool>) -> Self {
        Self::Few(Few::new(vec![0.0, 1.0], marked.map(u8::from).collect()))
    }

    /// 1 for the cases that have a 1 and 0 for the others, of a column of 0 and 1.
    pub(crate) fn marks(&self) -> Option<&[u8]> {
        match self {
            Self::Few(Few { values, which, .. }) if values[..] == [0.0, 1.0] => Some(which),
            _ => None,
        }
    }

    /// Number of cases.
    pub(crate) fn len(&self) -> usize {
        match self {
            Self::Few(few) => few.which.len(),
            Self::Many(values) => values.len(),
        }
    }

    /// The value of a case, counted from 0.
    pub(crate) fn at(&self, case: usize) -> f64 {
        match self {
            Self::Few(few) => few.values[usize::from(few.which[case])],
            Self::Many(values) => values[case],
        }
    }

    /// The values of all cases.
    pub(crate) fn iter(&self) -> impl Iterator<Item = f64> {
        (0..self.len()).map(|case| self.at(case))
    }

    /// The first case with such a value.
    pub(crate) fn find(&self, such: impl Fn(f64) -> bool) -> Option<usize> {
        match self {
            Self::Few(few) if !few.values.iter().any(|value| such(*value)) => None,
            _ => self.iter().position(such),
        }
    }

    /// Of some cases, in their order.
    pub(crate) fn only(&self, cases: &Runs) -> Self {
        match self {
            Self::Few(few) => Self::Few(Few::new(few.values.clone(), cases.of(&few.which))),
            Self::Many(values) => Self::Many(cases.of(values)),
        }
    }

    /// The smallest and the largest value; `None` without a case.
    pub(crate) fn ends(&self) -> Option<(f64, f64)> {
        match self {
            Self::Few(few) => {
                let mut present = few.counted().map(|(value, _)| value);
                let low = present.next()?;
                Some((low, present.next_back().unwrap_or(low)))
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

impl PartialEq for Column {
    /// Equal in every case, however they were made.
    fn eq(&self, other: &Self) -> bool {
        self.len() == other.len() && self.iter().eq(other.iter())
    }
}

/// The different values from the smallest on, if a byte tells them apart.
fn distinct(values: &[f64]) -> Option<Vec<f64>> {
    let mut found: Vec<f64> = Vec::new();
    // What stands together often repeats the value before.
    for value in values.chunk_by(|one, other| one.total_cmp(other).is_eq()).map(|alike| &alike[0]) {
        if let Err(place) = found.binary_search_by(|other| other.total_cmp(value)) {
            if found.len() == FEW {
                return None;
            }
            found.insert(place, *value);
        }
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn runs<const CASES: usize>(places: [usize; CASES]) -> Runs {
        places.into_iter().collect()
    }

    #[test]
    fn a_column_gives_back_what_it_was_made_of() {
        let few: Vec<f64> = (0..600).map(|case| f64::from(case * 7 % 256)).collect();
        let many: Vec<f64> = (0..600).map(|case| f64::from(case * 7 % 257)).collect();
        let small = [vec![3.0], vec![2.0, 2.0], vec![1.0, 0.0, 1.0], vec![0.5, -0.5, 7.0, 0.5]];
        for values in small.into_iter().chain([few, many]) {
            let column = Column::new(values.clone());
            assert_eq!(matches!(column, Column::Many(_)), values.contains(&256.0));
            assert_eq!(column.iter().collect::<Vec<_>>(), values);
            assert_eq!(column.varies(), values.iter().any(|value| *value != values[0]), "{values:?}");
            let smallest = values.iter().copied().fold(f64::INFINITY, f64::min);
            let largest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            assert_eq!(column.ends(), Some((smallest, largest)));
            let last = values.len() - 1;
            let found: Vec<f64> = column.only(&runs([last, 0])).iter().collect();
            assert_eq!(found, [values[last], values[0]]);
        }
        assert_eq!(Column::of_flags([true, false].into_iter()), Column::new(vec![1.0, 0.0]));
    }

    /// What two cases keep of a column of two values may vary no more.
    #[test]
    fn a_part_of_a_column_varies_by_itself() {
        let column = Column::new(vec![0.0, 1.0, 1.0]);
        assert!(!column.only(&runs([1, 2])).varies() && column.only(&runs([0, 2])).varies());
        assert_eq!(column.only(&runs([1, 2])).ends(), Some((1.0, 1.0)));
        assert_eq!(column.only(&runs([])).ends(), None);
    }

    /// A design refuses it with the place; nothing may fail before.
    #[test]
    fn what_is_no_number_is_found_wherever_it_stands() {
        for values in [vec![f64::NAN], vec![f64::NAN, 1.0], vec![1.0, f64::NAN, 1.0]] {
            let place = values.iter().position(|value| value.is_nan());
            assert_eq!(Column::new(values).find(f64::is_nan), place);
        }
    }

    #[test]
    fn every_value_is_counted_once_a_case() {
        let column = Column::new(vec![5.0, 3.0, 5.0, 4.0, 5.0, 3.0, 3.0]);
        let Column::Few(few) = column.only(&runs([0, 1, 2, 4, 5])) else { panic!("few values") };
        assert_eq!(few.counted().collect::<Vec<_>>(), [(3.0, 2), (5.0, 3)]);
    }
}
