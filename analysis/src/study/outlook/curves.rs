//! The chance of showing non-inferiority, and the width of the interval, by the number of cases.

use super::Assumed;
use crate::methods::difference::newcombe_interval;
use crate::methods::plan::{Allocation, ArmSizes, Goal, WantedPower};
use crate::methods::power::farrington_manning_power;
use crate::methods::precision::expected_difference_half_width;
use crate::methods::sample_size::farrington_manning_sample_size;
use std::num::NonZeroU32;

/// How much of the margin zero-fluoroscopy is truly worse in the second curve: what is shown
/// easily for arms alike is shown rarely where they are not.
const WORSE_BY: f64 = 1.0 / 3.0;

/// Chances for which the cases are told (common practice, no source).
const CHANCES: [f64; 4] = [0.5, 0.8, 0.9, 0.95];

/// Points of a curve, at the most.
const POINTS: f64 = 24.0;

/// How far a curve goes on beyond the largest number of cases that is told.
const BEYOND: f64 = 1.15;

/// Both curves, and the cases for a few chances.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    /// The cases for a few chances of showing non-inferiority.
    pub needed: Vec<Needed>,
    /// The chance by the number of cases; empty where no number is enough.
    pub power: Vec<PowerPoint>,
    /// The width of the interval by the number of cases; empty likewise.
    pub precision: Vec<PrecisionPoint>,
}

/// Cases of each arm for a chance.
#[derive(Debug, Clone, PartialEq)]
pub struct Needed {
    /// The chance.
    pub chance: f64,
    /// Cases of each arm if the arms are alike.
    pub alike: Option<u32>,
    /// The same if zero-fluoroscopy is worse by a third of the margin.
    pub worse: Option<u32>,
}

/// The chance with so many cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerPoint {
    /// Cases of each arm.
    pub each_arm: u32,
    /// Chance of showing non-inferiority if the arms are alike.
    pub alike: f64,
    /// The same if zero-fluoroscopy is worse by a third of the margin; absent where it cannot be.
    pub worse: Option<f64>,
}

/// The width with so many cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrecisionPoint {
    /// Cases of each arm.
    pub each_arm: u32,
    /// Half the width of the interval of the difference on average, as a proportion.
    pub half_width: f64,
}

impl Curves {
    /// Draws them for what is assumed.
    pub fn new(assumed: Assumed) -> Self {
        let needed: Vec<Needed> = CHANCES.map(|chance| needed(assumed, chance)).into();
        let most = needed.iter().filter_map(|one| one.alike).max();
        let sizes: Vec<u32> = most.map_or_else(Vec::new, |most| {
            let end = f64::from(most) * BEYOND;
            let step = round_up(end / POINTS);
            (1..).map(|place| place * step).take_while(|size| f64::from(*size) < end).collect()
        });
        Self {
            needed,
            power: sizes.iter().filter_map(|size| power_point(assumed, *size)).collect(),
            precision: sizes.iter().filter_map(|size| precision_point(assumed, *size)).collect(),
        }
    }
}

/// The chance of showing non-inferiority with so many cases in each arm; absent where the
/// assumption cannot be.
pub(super) fn chance(assumed: Assumed, share: f64, each_arm: u32) -> Option<f64> {
    let size = NonZeroU32::new(each_arm)?;
    Some(farrington_manning_power(&assumed.planned(share).ok()?, ArmSizes { first: size, second: size }))
}

fn needed(assumed: Assumed, chance: f64) -> Needed {
    let cases = |share: f64| {
        let goal = Goal { power: WantedPower::new(chance).ok()?, allocation: Allocation::EQUAL };
        let size = farrington_manning_sample_size(&assumed.planned(share).ok()?, goal).ok()?;
        Some(size.first.max(size.second))
    };
    Needed { chance, alike: cases(0.0), worse: cases(WORSE_BY) }
}

fn power_point(assumed: Assumed, each_arm: u32) -> Option<PowerPoint> {
    let alike = chance(assumed, 0.0, each_arm)?;
    Some(PowerPoint { each_arm, alike, worse: chance(assumed, WORSE_BY, each_arm) })
}

fn precision_point(assumed: Assumed, each_arm: u32) -> Option<PrecisionPoint> {
    let (size, planned) = (NonZeroU32::new(each_arm)?, assumed.planned(0.0).ok()?);
    let sizes = ArmSizes { first: size, second: size };
    let half_width =
        expected_difference_half_width(sizes, planned.proportions, assumed.level, newcombe_interval);
    Some(PrecisionPoint { each_arm, half_width })
}

/// The next number of the shape 1, 2 or 5 times a power of ten, so that an axis has round ticks.
fn round_up(value: f64) -> u32 {
    let tens = 10_f64.powf(value.max(1.0).log10().floor());
    let round = [1.0, 2.0, 5.0, 10.0].into_iter().map(|times| times * tens).find(|round| *round >= value);
    round.unwrap_or(tens * 10.0) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        for (value, expected) in [(0.3, 1), (1.0, 1), (1.2, 2), (36.0, 50), (55.4, 100), (2_001.0, 5_000)] {
            assert_eq!(round_up(value), expected, "{value}");
        }
    }
}
