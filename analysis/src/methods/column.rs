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

    /// As for a column; what is no number stands behind every number.
    fn filled(mut self) -> Option<(Column, Column)> {
        let numbers = self.values.partition_point(|value| !value.is_nan());
        let known: u32 = self.counts[..numbers].iter().sum();
        let mut below = 0;
        let median = self.counts[..numbers].iter().position(|count| {
            below += count;
            below > known / 2
        })?;
        let absent = Column::of_flags(self.which.iter().map(|place| usize::from(*place) >= numbers));
        if numbers < self.values.len() {
            self.values.truncate(numbers);
            // A byte tells all places apart.
            let fill = |place: u8| if usize::from(place) < numbers { place } else { median as u8 };
            self = Self::new(self.values, self.which.into_iter().map(fill).collect());
        }
        Some((Column::Few(self), absent))
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
    pub(crate) fn new(values: impl Iterator<Item = f64>) -> Self {
        let mut growing = Growing::for_cases(values.size_hint().0);
        growing.extend(values);
        growing.column()
    }

    /// The median of the numbers where there is none, and 1 in those cases and 0 elsewhere; `None`
    /// without a number.
    pub(crate) fn filled(self) -> Option<(Self, Self)> {
        match self {
            Self::Few(few) => few.filled(),
            Self::Many(mut values) => {
                let mut known: Vec<f64> = values.iter().copied().filter(|value| !value.is_nan()).collect();
                let middle = known.len() / 2;
                if known.is_empty() {
                    return None;
                }
                let median = *known.select_nth_unstable_by(middle, f64::total_cmp).1;
                let absent = Self::of_flags(values.iter().map(|value| value.is_nan()));
                values.iter_mut().filter(|value| value.is_nan()).for_each(|value| *value = median);
                Some((Self::Many(values), absent))
            }
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

    /// Every value less a number.
    pub(crate) fn less(self, number: f64) -> Self {
        match self {
            Self::Few(mut few) => {
                few.values.iter_mut().for_each(|value| *value -= number);
                Self::Few(few)
            }
            Self::Many(values) => Self::Many(values.into_iter().map(|value| value - number).collect()),
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

/// A column to which values are added.
pub(crate) struct Growing {
    cases: usize,
    met: Met,
    which: Vec<u8>,
    /// The values, from the one on that was one too many.
    many: Option<Vec<f64>>,
}

impl Growing {
    /// An empty one with room for so many cases.
    pub(crate) fn for_cases(cases: usize) -> Self {
        Self { cases, met: Met::new(), which: Vec::with_capacity(cases), many: None }
    }

    /// Adds the values of further cases.
    pub(crate) fn extend(&mut self, mut values: impl Iterator<Item = f64>) {
        if self.many.is_none() {
            let one_too_many = values.by_ref().find(|value| {
                let place = self.met.place(*value);
                self.which.extend(place);
                place.is_none()
            });
            self.many = one_too_many.map(|value| {
                let mut many = Vec::with_capacity(self.cases);
                let which = std::mem::take(&mut self.which);
                many.extend(which.into_iter().map(|place| self.met.values[usize::from(place)]));
                many.push(value);
                many
            });
        }
        if let Some(many) = &mut self.many {
            many.extend(values);
        }
    }

    /// The column of them.
    pub(crate) fn column(self) -> Column {
        match self.many {
            Some(values) => Column::Many(values),
            None => Column::Few(self.met.in_order(self.which)),
        }
    }
}

/// The values met so far, as long as a byte tells them apart.
struct Met {
    /// In the order in which they were met.
    values: Vec<f64>,
    /// Their places in that order, from the smallest value on.
    order: Vec<u8>,
    /// The place of the last that was met with each whole part below 256, and behind them of what is
    /// no number: most columns hold whole numbers.
    last: [Option<u8>; FEW + 1],
}

impl Met {
    fn new() -> Self {
        Self { values: Vec::new(), order: Vec::new(), last: [None; FEW + 1] }
    }

    /// The place of a value; `None` where it is one too many.
    fn place(&mut self, value: f64) -> Option<u8> {
        let whole = if value.is_nan() { FEW } else { usize::from(value as u8) };
        let alike = |place: &u8| self.values[usize::from(*place)].to_bits() == value.to_bits();
        let known = self.last[whole].filter(alike);
        if known.is_some() {
            return known;
        }
        let place = self.find(value)?;
        self.last[whole] = Some(place);
        Some(place)
    }

    fn find(&mut self, value: f64) -> Option<u8> {
        let known = |place: &u8| self.values[usize::from(*place)].total_cmp(&value);
        match self.order.binary_search_by(known) {
            Ok(at) => Some(self.order[at]),
            Err(at) => {
                let place = u8::try_from(self.values.len()).ok()?;
                self.values.push(value);
                self.order.insert(at, place);
                Some(place)
            }
        }
    }

    /// The column of these places, with the values in order.
    fn in_order(self, mut which: Vec<u8>) -> Few {
        let mut rank = [0; FEW];
        (0..=u8::MAX).zip(&self.order).for_each(|(at, place)| rank[usize::from(*place)] = at);
        which.iter_mut().for_each(|place| *place = rank[usize::from(*place)]);
        Few::new(self.order.iter().map(|place| self.values[usize::from(*place)]).collect(), which)
    }
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
            let column = Column::new(values.iter().copied());
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
        assert_eq!(Column::of_flags([true, false].into_iter()), Column::new([1.0, 0.0].into_iter()));
    }

    #[test]
    fn the_median_stands_where_there_is_no_number() {
        const NO: f64 = f64::NAN;
        // Of an even number the upper of the two in the middle, so that it is a value that occurs.
        for (values, filled) in [
            (vec![NO, 4.0, 1.5, NO, 2.0, 9.0], vec![4.0, 4.0, 1.5, 4.0, 2.0, 9.0]),
            (vec![3.0, 1.0, 1.0, NO], vec![3.0, 1.0, 1.0, 1.0]),
            (vec![-0.0, 0.0], vec![-0.0, 0.0]),
        ] {
            let absent: Vec<f64> = values.iter().map(|value| f64::from(u8::from(value.is_nan()))).collect();
            let few = Column::new(values.iter().copied());
            for column in [few, Column::Many(values)] {
                let (full, gaps) = column.filled().unwrap();
                assert_eq!(full.iter().map(f64::to_bits).collect::<Vec<_>>(), bits(&filled));
                assert_eq!(gaps.iter().collect::<Vec<_>>(), absent);
                assert!(full.ends().is_some_and(|(_, high)| !high.is_nan()));
            }
        }
        for values in [vec![], vec![NO, NO]] {
            assert!(Column::new(values.iter().copied()).filled().is_none());
            assert!(Column::Many(values).filled().is_none());
        }
    }

    fn bits(values: &[f64]) -> Vec<u64> {
        values.iter().copied().map(f64::to_bits).collect()
    }

    /// What two cases keep of a column of two values may vary no more.
    #[test]
    fn a_part_of_a_column_varies_by_itself() {
        let column = Column::new([0.0, 1.0, 1.0].into_iter());
        assert!(!column.only(&runs([1, 2])).varies() && column.only(&runs([0, 2])).varies());
        assert_eq!(column.only(&runs([1, 2])).ends(), Some((1.0, 1.0)));
        assert_eq!(column.only(&runs([])).ends(), None);
    }

    /// A design refuses it with the place; nothing may fail before.
    #[test]
    fn what_is_no_number_is_found_wherever_it_stands() {
        for values in [vec![f64::NAN], vec![f64::NAN, 1.0], vec![1.0, f64::NAN, 1.0]] {
            let place = values.iter().position(|value| value.is_nan());
            assert_eq!(Column::new(values.into_iter()).find(f64::is_nan), place);
        }
    }

    #[test]
    fn every_value_is_counted_once_a_case() {
        let column = Column::new([5.0, 3.0, 5.0, 4.0, 5.0, 3.0, 3.0].into_iter());
        let Column::Few(few) = column.only(&runs([0, 1, 2, 4, 5])) else { panic!("few values") };
        assert_eq!(few.counted().collect::<Vec<_>>(), [(3.0, 2), (5.0, 3)]);
    }
}
