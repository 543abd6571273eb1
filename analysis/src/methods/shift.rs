//! Shift between two samples, and the median of one, by order statistics.

use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};
use super::rank::{sum_chances, ties, untied_ranks};
use super::sample::{Sample, count, median};
use super::unconditional::binomial;

/// Hodges–Lehmann shift with limits by the normal approximation.
///
/// Formula: the median of all differences x − y; limits are the ordered differences number k and
/// n1n2 + 1 − k, k = ⌊n1n2/2 − z√(n1n2(N+1)/12)⌋, at least 1.
/// Units: those of the values; first − second.
/// Edges: few values make k = 1, the widest interval, whose level may fall short.
/// Source: [hodges_lehmann1963].
/// Checked: tests/numbers/shift.csv.
pub fn hodges_lehmann_interval(first: &Sample, second: &Sample, level: Confidence) -> Interval {
    let (m, n) = (count(first.len()), count(second.len()));
    let reach = level.z() * (m * n * (m + n + 1.0) / 12.0).sqrt();
    let rank = (m * n / 2.0 - reach).floor().max(1.0) as u64;
    between(first, second, rank, level, IntervalMethod::HodgesLehmann)
}

/// Hodges–Lehmann shift with exact limits.
///
/// Formula: as the approximate one, k the smallest count of pairs with P(U ≤ k) ≥ α/2 in the
/// exact distribution, at least 1.
/// Units: those of the values; first − second.
/// Edges: tied values have another distribution and are refused; beyond some three hundred
/// values use the approximation.
/// Source: [hodges_lehmann1963].
/// Checked: tests/numbers/shift.csv.
pub fn hodges_lehmann_exact_interval(
    first: &Sample,
    second: &Sample,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    if ties(first, second) {
        return Err(NotEstimable::TiedValues);
    }
    let (m, n) = (first.len(), second.len());
    let chances = sum_chances(&untied_ranks(m + n), m)?;
    // The doubled rank sum of the first arm is m(m+1) + 2U.
    let least = m * (m + 1);
    let mut cumulative = 0.0;
    let mut rank = 0;
    for pairs in 0..=m * n {
        cumulative += chances[least + 2 * pairs];
        // A quantile reached up to rounding is reached.
        if cumulative >= level.tail() * (1.0 - 1e-12) {
            rank = pairs as u64;
            break;
        }
    }
    Ok(between(first, second, rank.max(1), level, IntervalMethod::HodgesLehmannExact))
}

fn between(
    first: &Sample,
    second: &Sample,
    rank: u64,
    level: Confidence,
    method: IntervalMethod,
) -> Interval {
    let pairs = first.len() as u64 * second.len() as u64;
    let at = |rank| ordered_difference(first.sorted(), second.sorted(), rank);
    let middle = (at(pairs.div_ceil(2)), at(pairs / 2 + 1));
    Interval {
        estimate: f64::midpoint(middle.0, middle.1),
        lower: at(rank),
        upper: at(pairs + 1 - rank),
        level,
        method,
    }
}

/// The difference x − y number `rank` (from 1) of all pairs, without listing them.
///
/// Halves the range of doubles, of which 64 steps are enough, and counts the pairs at or below.
fn ordered_difference(first: &[f64], second: &[f64], rank: u64) -> f64 {
    let (mut low, mut high) =
        (place(first[0] - second[second.len() - 1]), place(first[first.len() - 1] - second[0]));
    while low < high {
        let middle = low + (high - low) / 2;
        if pairs_at_or_below(first, second, number(middle)) >= rank {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    number(low)
}

fn pairs_at_or_below(first: &[f64], second: &[f64], limit: f64) -> u64 {
    let mut start = 0;
    let mut pairs = 0;
    for x in first {
        while start < second.len() && x - second[start] > limit {
            start += 1;
        }
        pairs += (second.len() - start) as u64;
    }
    pairs
}

/// Place of a number among all doubles in ascending order.
fn place(value: f64) -> i128 {
    let bits = i128::from((value + 0.0).to_bits() & !(1 << 63));
    if value < 0.0 { -bits } else { bits }
}

fn number(place: i128) -> f64 {
    let size = f64::from_bits(u64::try_from(place.unsigned_abs()).unwrap_or(u64::MAX));
    if place < 0 { -size } else { size }
}

/// Median with limits that are order statistics, and the coverage they have for certain.
///
/// Formula: limits are the ordered values number k and n + 1 − k, k the largest with
/// P(B ≤ k − 1) ≤ α/2, B binomial with n and ½; coverage 1 − 2P(B ≤ k − 1).
/// Units: those of the values; the coverage is a proportion, at least the level.
/// Edges: too few values for any k cannot be estimated (five or fewer at 95 %).
/// Source: [conover1999].
/// Checked: tests/numbers/median.csv.
pub fn median_interval(sample: &Sample, level: Confidence) -> Result<(Interval, f64), NotEstimable> {
    let n = sample.len();
    let size = u32::try_from(n).map_err(|_| NotEstimable::TooManyArrangements { values: n })?;
    let (mut below, mut rank) = (0.0, 0);
    for (successes, chance) in binomial(size, 0.5).into_iter().enumerate() {
        // A tail reached up to rounding is reached.
        if below + chance > level.tail() * (1.0 + 1e-12) {
            break;
        }
        below += chance;
        rank = successes + 1;
    }
    if rank == 0 {
        return Err(NotEstimable::TooFewForLevel { found: n });
    }
    let sorted = sample.sorted();
    let interval = Interval {
        estimate: median(sample),
        lower: sorted[rank - 1],
        upper: sorted[n - rank],
        level,
        method: IntervalMethod::MedianOrderStatistics,
    };
    Ok((interval, 1.0 - 2.0 * below))
}
