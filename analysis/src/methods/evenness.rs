//! Do counts fall on their categories as evenly as chance would let them?

use super::distribution::chi_square_upper_tail;
use super::interval::NotEstimable;

/// Why counts cannot be tested for evenness.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CategoryCountsError {
    /// Fewer than two categories, or more than 100.
    #[error("{categories} categories are not from 2 to 100")]
    Categories {
        /// The number given.
        categories: usize,
    },
    /// Nothing was counted.
    #[error("all counts are 0")]
    Nothing,
}

/// How often each of 2 to 100 categories was seen; at least one was.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CategoryCounts(Vec<u32>);

impl CategoryCounts {
    /// Counts of the categories, in any order.
    ///
    /// # Errors
    /// Fewer than two categories, more than 100, or nothing counted.
    pub fn new(counts: Vec<u32>) -> Result<Self, CategoryCountsError> {
        if !(2..=100).contains(&counts.len()) {
            return Err(CategoryCountsError::Categories { categories: counts.len() });
        }
        if counts.iter().all(|count| *count == 0) {
            return Err(CategoryCountsError::Nothing);
        }
        Ok(Self(counts))
    }

    /// The counts.
    pub fn counts(&self) -> &[u32] {
        &self.0
    }

    /// Their sum.
    pub fn total(&self) -> u64 {
        self.0.iter().map(|count| u64::from(*count)).sum()
    }

    fn sum_of_squares(&self) -> f64 {
        self.0.iter().map(|count| f64::from(*count) * f64::from(*count)).sum()
    }

    fn statistic(&self) -> f64 {
        let total = self.total() as f64;
        let expected = total / self.0.len() as f64;
        self.0.iter().map(|count| (f64::from(*count) - expected).powi(2) / expected).sum()
    }
}

/// A test of evenness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EvennessTest {
    /// Pearson's statistic.
    pub statistic: f64,
    /// Probability of one at least as large where all categories are equally probable.
    pub p: f64,
}

/// Pearson's test that all categories are equally probable.
///
/// Formula: X² = Σ(o − n/k)²/(n/k), p = P(χ² ≥ X²) with k − 1 degrees of freedom, k categories, n counted.
/// Units: p is a probability.
/// Edges: an approximation; where n/k is below 5 the exact test beside it is the one to use.
/// Source: [pearson1900], [cochran1954b].
/// Checked: tests/numbers/evenness.csv.
pub fn even_chi_square_test(counts: &CategoryCounts) -> EvennessTest {
    let statistic = counts.statistic();
    let degrees_of_freedom = (counts.0.len() - 1) as f64;
    EvennessTest { statistic, p: chi_square_upper_tail(statistic, degrees_of_freedom) }
}

/// Exact test that all categories are equally probable, ordered by Pearson's statistic.
///
/// Formula: p = Σ n!/(Πoᵢ!)/kⁿ over all counts with n in all whose Σoᵢ² is at least the observed one; the
/// statistic grows with Σoᵢ², which is whole, so that ties are exact.
/// Units: p is a probability.
/// Edges: more than 100 counted, or more than 20 categories, cannot be estimated: use the approximation.
/// Source: [cochran1952].
/// Checked: tests/numbers/evenness.csv.
pub fn even_exact_test(counts: &CategoryCounts) -> Result<EvennessTest, NotEstimable> {
    let total = counts.total();
    let categories = counts.0.len();
    if total > 100 || categories > 20 {
        let values = usize::try_from(total).unwrap_or(usize::MAX);
        return Err(NotEstimable::TooManyArrangements { values });
    }
    let total = total as usize;
    let weights = weights_by_square(total, categories);
    let observed = counts.sum_of_squares() as usize;
    // The small weights are summed first.
    let at_least: f64 = weights[observed..].iter().rev().sum();
    let arrangements = factorial(total) / (categories as f64).powi(total as i32);
    Ok(EvennessTest { statistic: counts.statistic(), p: (at_least * arrangements).min(1.0) })
}

/// Σ Π 1/oᵢ! over all counts with `total` in all, by their sum of squares.
fn weights_by_square(total: usize, categories: usize) -> Vec<f64> {
    // by_total[t][s]: counts so far with t in all and s as their sum of squares.
    let mut by_total: Vec<Vec<f64>> = (0..=total).map(|t| vec![0.0; t * t + 1]).collect();
    by_total[0][0] = 1.0;
    for _ in 0..categories {
        // From the largest total down, so that a category is added once only.
        for t in (0..=total).rev() {
            let mut with = vec![0.0; t * t + 1];
            for count in 0..=t {
                let share = 1.0 / factorial(count);
                for (square, weight) in by_total[t - count].iter().enumerate().filter(|(_, w)| **w > 0.0) {
                    with[square + count * count] += weight * share;
                }
            }
            by_total[t] = with;
        }
    }
    by_total.pop().unwrap_or_default()
}

fn factorial(number: usize) -> f64 {
    (2..=number).map(|factor| factor as f64).product()
}
