//! Some of the cases, by their places.

use std::ops::Range;

/// Places of cases in any order, those that follow each other as one run: where cases stand by
/// content, what is kept of them is a few long stretches, which are copied as such.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Runs(Vec<Range<usize>>);

impl Runs {
    /// How many cases.
    pub(crate) fn cases(&self) -> usize {
        self.0.iter().map(Range::len).sum()
    }

    /// The runs.
    pub(crate) fn ranges(&self) -> impl Iterator<Item = Range<usize>> {
        self.0.iter().cloned()
    }

    /// The places, one after the other.
    pub(crate) fn places(&self) -> impl Iterator<Item = usize> {
        self.ranges().flatten()
    }

    /// What these cases have of something that every case has.
    pub(crate) fn of<T: Copy>(&self, all: &[T]) -> Vec<T> {
        let mut own = Vec::with_capacity(self.cases());
        self.0.iter().for_each(|run| own.extend_from_slice(&all[run.clone()]));
        own
    }
}

impl FromIterator<usize> for Runs {
    fn from_iter<I: IntoIterator<Item = usize>>(places: I) -> Self {
        let mut runs: Vec<Range<usize>> = Vec::new();
        for place in places {
            match runs.last_mut() {
                Some(run) if run.end == place => run.end += 1,
                _ => runs.push(place..place + 1),
            }
        }
        Self(runs)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_follows_each_other_is_one_run() {
        let places = [3, 4, 5, 1, 2, 9, 3];
        let runs: Runs = places.into_iter().collect();
        assert_eq!(runs.0, [3..6, 1..3, 9..10, 3..4]);
        let all: Vec<usize> = (0..10).collect();
        assert_eq!((runs.of(&all), runs.cases()), (places.to_vec(), 7));
    }
}
