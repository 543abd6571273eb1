//! A set of whole numbers, as ranges in order.

/// A set of whole numbers. A printed number is one of them: often a range, but
/// a rounded share of a small group leaves holes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Values(Vec<(i64, i64)>);

/// Beyond every count.
const FAR: i64 = i64::MAX / 4;

impl Values {
    /// One number.
    pub fn exactly(value: i64) -> Self {
        Self(vec![(value, value)])
    }

    /// A range, both ends in it.
    pub fn between(low: i64, high: i64) -> Self {
        Self(if low <= high { vec![(low, high)] } else { Vec::new() })
    }

    /// Everything from a number on.
    pub fn at_least(low: i64) -> Self {
        Self(vec![(low, FAR)])
    }

    /// Everything up to a number.
    pub fn at_most(high: i64) -> Self {
        Self(vec![(-FAR, high)])
    }

    /// The numbers given, in any order.
    pub fn of(values: impl IntoIterator<Item = i64>) -> Self {
        let mut values: Vec<i64> = values.into_iter().collect();
        values.sort_unstable();
        let mut ranges: Vec<(i64, i64)> = Vec::new();
        for value in values {
            match ranges.last_mut() {
                Some((_, high)) if *high + 1 >= value => *high = value,
                _ => ranges.push((value, value)),
            }
        }
        Self(ranges)
    }

    /// Whether a number is one of them.
    pub fn contains(&self, value: i64) -> bool {
        self.up_from(value) == Some(value)
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The smallest and the largest.
    pub fn ends(&self) -> Option<(i64, i64)> {
        Some((self.0.first()?.0, self.0.last()?.1))
    }

    /// From where to where they reach, where none is left out between.
    pub fn single(&self) -> Option<(i64, i64)> {
        match self.0[..] {
            [range] => Some(range),
            _ => None,
        }
    }

    /// The smallest that is not below a number.
    pub fn up_from(&self, value: i64) -> Option<i64> {
        let after = self.0.partition_point(|(_, high)| *high < value);
        self.0.get(after).map(|(low, _)| value.max(*low))
    }

    /// The largest that is not above a number.
    pub fn down_from(&self, value: i64) -> Option<i64> {
        let before = self.0.partition_point(|(low, _)| *low <= value);
        before.checked_sub(1).map(|range| value.min(self.0[range].1))
    }
}
