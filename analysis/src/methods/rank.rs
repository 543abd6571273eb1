//! Rank-sum test of two samples.

use serde::{Deserialize, Serialize};

use super::distribution::{normal_lower_tail, normal_upper_tail};
use super::interval::NotEstimable;
use super::sample::{Sample, count};

/// A rank-sum test: does one arm tend to larger values?
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RankSumTest {
    /// Mann–Whitney count: pairs in which the first arm is larger, ties as one half.
    pub pairs_won: f64,
    /// Of smaller values in the first arm.
    pub p_less: f64,
    /// Of larger values in the first arm.
    pub p_greater: f64,
    /// Of any shift.
    pub p_two_sided: f64,
}

/// Rank-sum test by the normal approximation with tie correction.
///
/// Formula: z = (U − n1n2/2) / √(n1n2/12 (N+1 − Σ(t³−t)/(N(N−1)))), U the pairs won by the first
/// arm, t the sizes of the groups of tied values.
/// Units: any unit, the same in both arms.
/// Edges: when all values are equal nothing can be tested.
/// Source: [lehmann1975].
/// Checked: tests/numbers/rank.csv.
pub fn rank_sum_test(first: &Sample, second: &Sample) -> Result<RankSumTest, NotEstimable> {
    let approximation = Approximation::of(first, second)?;
    let z = approximation.z(0.0);
    Ok(RankSumTest {
        pairs_won: approximation.pairs_won,
        p_less: normal_lower_tail(z),
        p_greater: normal_upper_tail(z),
        p_two_sided: (2.0 * normal_upper_tail(z.abs())).min(1.0),
    })
}

/// Rank-sum test by the normal approximation with tie and continuity correction.
///
/// Formula: as without, the distance U − n1n2/2 reduced by ½ in the direction tested; two-sided
/// twice the tail of the reduced distance.
/// Units: any unit, the same in both arms.
/// Edges: when all values are equal nothing can be tested.
/// Source: [lehmann1975].
/// Checked: tests/numbers/rank.csv.
pub fn rank_sum_corrected_test(first: &Sample, second: &Sample) -> Result<RankSumTest, NotEstimable> {
    let approximation = Approximation::of(first, second)?;
    let towards_zero = -0.5 * approximation.distance().signum();
    let towards_zero = if approximation.distance() == 0.0 { 0.0 } else { towards_zero };
    Ok(RankSumTest {
        pairs_won: approximation.pairs_won,
        p_less: normal_lower_tail(approximation.z(0.5)),
        p_greater: normal_upper_tail(approximation.z(-0.5)),
        p_two_sided: (2.0 * normal_upper_tail(approximation.z(towards_zero).abs())).min(1.0),
    })
}

struct Approximation {
    pairs_won: f64,
    expected: f64,
    spread: f64,
}

impl Approximation {
    fn of(first: &Sample, second: &Sample) -> Result<Self, NotEstimable> {
        let (m, n) = (count(first.len()), count(second.len()));
        let total = m + n;
        let ranks = Ranks::of(first, second);
        let ties = ranks.tie_cubes / (total * (total - 1.0));
        let variance = m * n / 12.0 * (total + 1.0 - ties);
        if variance <= 0.0 {
            return Err(NotEstimable::NoVariation);
        }
        let pairs_won = ranks.first_doubled / 2.0 - m * (m + 1.0) / 2.0;
        Ok(Self { pairs_won, expected: m * n / 2.0, spread: variance.sqrt() })
    }

    fn distance(&self) -> f64 {
        self.pairs_won - self.expected
    }

    fn z(&self, correction: f64) -> f64 {
        (self.distance() + correction) / self.spread
    }
}

/// Ranks of both samples together; doubled, so that the mean of tied ranks is whole.
struct Ranks {
    /// Sum over the first sample.
    first_doubled: f64,
    /// Σ(t³ − t) over groups of tied values.
    tie_cubes: f64,
    /// Doubled rank of every value, ascending.
    doubled: Vec<usize>,
}

impl Ranks {
    fn of(first: &Sample, second: &Sample) -> Self {
        let (a, b) = (first.sorted(), second.sorted());
        let (mut i, mut j) = (0, 0);
        let mut ranks = Self { first_doubled: 0.0, tie_cubes: 0.0, doubled: Vec::new() };
        while i < a.len() || j < b.len() {
            let value = match (a.get(i), b.get(j)) {
                (Some(x), Some(y)) => x.min(*y),
                (Some(x), None) => *x,
                (_, y) => y.copied().unwrap_or_default(),
            };
            let from_first = a[i..].iter().take_while(|x| **x == value).count();
            let from_second = b[j..].iter().take_while(|y| **y == value).count();
            // Ranks i+j+1 to i+j+tied share their mean.
            let tied = from_first + from_second;
            let doubled = 2 * (i + j) + tied + 1;
            ranks.first_doubled += count(from_first) * count(doubled);
            ranks.tie_cubes += count(tied).powi(3) - count(tied);
            ranks.doubled.extend(std::iter::repeat_n(doubled, tied));
            i += from_first;
            j += from_second;
        }
        ranks
    }
}

/// Most steps of the exact count, about a second of work.
const MOST_STEPS: f64 = 3e8;

/// Exact rank-sum test: all ways to choose the first arm among the values as they are.
///
/// Formula: the sum of (tied) ranks of the first arm over all C(N, n1) choices; one-sided the
/// share at most (at least) the observed sum, two-sided the share at least as far from its mean.
/// Units: any unit, the same in both arms.
/// Edges: ties are ordinary; beyond some three hundred values use the approximation; when all
/// values are equal every p is 1.
/// Source: [lehmann1975].
/// Checked: tests/numbers/rank.csv.
pub fn rank_sum_exact_test(first: &Sample, second: &Sample) -> Result<RankSumTest, NotEstimable> {
    let ranks = Ranks::of(first, second);
    let (m, n) = (first.len(), second.len());
    let chances = sum_chances(&ranks.doubled, m)?;
    let observed = ranks.first_doubled as usize;
    // Twice the doubled mean rank sum: whole, so that "as far" is an exact comparison.
    let centre = 2 * m * (m + n + 1);
    let distance = |sum: usize| (2 * sum).abs_diff(centre);
    let share = |belongs: &dyn Fn(usize) -> bool| {
        let kept = chances.iter().enumerate().filter(|(sum, _)| belongs(*sum));
        kept.map(|(_, chance)| chance).sum::<f64>().min(1.0)
    };
    Ok(RankSumTest {
        pairs_won: ranks.first_doubled / 2.0 - count(m) * (count(m) + 1.0) / 2.0,
        p_less: share(&|sum| sum <= observed),
        p_greater: share(&|sum| sum >= observed),
        p_two_sided: share(&|sum| distance(sum) >= distance(observed)),
    })
}

/// Probability of every sum of `chosen` of the ranks, all choices alike.
pub(super) fn sum_chances(ranks: &[usize], chosen: usize) -> Result<Vec<f64>, NotEstimable> {
    let largest: usize = ranks.iter().rev().take(chosen).sum();
    let steps = count(ranks.len()) * count(chosen) * count(largest);
    if steps > MOST_STEPS {
        return Err(NotEstimable::TooManyArrangements { values: ranks.len() });
    }
    // ways[k][s]: choices of k ranks so far with sum s, as a share of C(seen, k) so that
    // nothing overflows: a new rank is among k chosen of `seen` with probability k/seen.
    let mut ways = vec![vec![0.0; largest + 1]; chosen + 1];
    ways[0][0] = 1.0;
    for (seen, &rank) in ranks.iter().enumerate() {
        let now = count(seen + 1);
        for k in (1..=chosen.min(seen + 1)).rev() {
            let with = count(k) / now;
            let (below, this) = ways.split_at_mut(k);
            let (previous, current) = (&below[k - 1], &mut this[0]);
            for sum in (0..=largest).rev() {
                let joined = if sum >= rank { previous[sum - rank] } else { 0.0 };
                current[sum] = with * joined + (1.0 - with) * current[sum];
            }
        }
    }
    Ok(ways.pop().unwrap_or_default())
}

/// Doubled ranks 1 to N without ties, for the null distribution of untied samples.
pub(super) fn untied_ranks(total: usize) -> Vec<usize> {
    (1..=total).map(|rank| 2 * rank).collect()
}

/// Whether any value of one sample equals any other value.
pub(super) fn ties(first: &Sample, second: &Sample) -> bool {
    Ranks::of(first, second).tie_cubes > 0.0
}
