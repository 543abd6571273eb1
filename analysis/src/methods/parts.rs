//! A pass over many cases in parts, which threads go through beside each other.

use rayon::prelude::*;

use super::lanes::BLOCK;

/// Cases of a part; fewer are one part. What parts add up to is added in their order, so that no
/// number of threads changes a digit.
pub(super) const PART: usize = 512 * BLOCK;

/// What the parts of so many cases add up to, each told by its first case and the case behind its
/// last.
pub(super) fn over_parts<T: Send>(
    cases: usize,
    of: impl Fn(usize, usize) -> T + Send + Sync,
    add: impl Fn(T, T) -> T,
) -> T {
    if cases <= PART {
        return of(0, cases);
    }
    let firsts = (0..cases.div_ceil(PART)).into_par_iter().map(|part| part * PART);
    let found: Vec<T> = firsts.map(|first| of(first, cases.min(first + PART))).collect();
    added(found, add).unwrap_or_else(|| of(0, 0))
}

/// The same where every case has a number that changes; a part is told by its first case and these.
pub(super) fn over_parts_of<T: Send>(
    numbers: &mut [f64],
    of: impl Fn(usize, &mut [f64]) -> T + Send + Sync,
    add: impl Fn(T, T) -> T,
) -> T {
    if numbers.len() <= PART {
        return of(0, numbers);
    }
    let parts = numbers.par_chunks_mut(PART).enumerate();
    let found: Vec<T> = parts.map(|(part, own)| of(part * PART, own)).collect();
    added(found, add).unwrap_or_else(|| of(0, &mut []))
}

fn added<T>(found: Vec<T>, add: impl Fn(T, T) -> T) -> Option<T> {
    found.into_iter().reduce(add)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_case_is_in_one_part_and_parts_stay_in_order() {
        for cases in [0, 1, PART, PART + 1, 3 * PART + 5] {
            let joined = |mut all: Vec<usize>, more: Vec<usize>| {
                all.extend(more);
                all
            };
            let places: Vec<usize> = (0..cases).collect();
            assert_eq!(over_parts(cases, |first, end| (first..end).collect(), joined), places);
            let mut numbers = vec![0.0; cases];
            let mark = |first: usize, own: &mut [f64]| {
                own.iter_mut().for_each(|number| *number += 1.0);
                (first..first + own.len()).collect()
            };
            assert_eq!(over_parts_of(&mut numbers, mark, joined), places);
            assert!(numbers.iter().all(|number| *number == 1.0));
        }
    }
}
