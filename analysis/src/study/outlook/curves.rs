//! The chance of showing non-inferiority, and the width of the interval, by the number of cases.

use super::Assumed;
use crate::methods::difference::newcombe_interval;
use crate::methods::plan::{ArmSizes, WantedPower};
use crate::methods::precision::{RatioReach, expected_difference_half_width, expected_ratio_reach};
use crate::methods::ratio::miettinen_nurminen_ratio_interval;
use crate::study::plan::Alternative;
use std::num::NonZeroU32;

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
    pub precision: Precision,
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
    /// The same if zero-fluoroscopy is worse by a third of the margin.
    pub worse: f64,
}

/// How wide the interval on the scale of the margin is on average, if the arms are alike.
#[derive(Debug, Clone, PartialEq)]
pub enum Precision {
    /// Of the difference.
    Difference(Vec<WidthPoint>),
    /// Of the ratio of what nobody wants.
    Ratio(Vec<ReachPoint>),
}

/// The width with so many cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WidthPoint {
    /// Cases of each arm.
    pub each_arm: u32,
    /// Half the width of the interval of the difference on average, as a proportion.
    pub half_width: f64,
}

/// The reach with so many cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReachPoint {
    /// Cases of each arm.
    pub each_arm: u32,
    /// How far the interval of the ratio reaches on average.
    pub reach: RatioReach,
}

impl Curves {
    /// Draws them for what is assumed.
    pub fn new(assumed: Assumed) -> Self {
        let needed: Vec<Needed> = CHANCES.map(|chance| needed(assumed, chance)).into();
        let most = needed.iter().filter_map(|one| one.alike).max();
        let sizes: Vec<NonZeroU32> = most.map_or_else(Vec::new, |most| {
            let end = f64::from(most) * BEYOND;
            let step = round_up(end / POINTS);
            let sizes = (1..).map(|place| place * step).take_while(|size| f64::from(*size) < end);
            sizes.filter_map(NonZeroU32::new).collect()
        });
        let power = |size: &NonZeroU32| PowerPoint {
            each_arm: size.get(),
            alike: assumed.alike.power(*size),
            worse: assumed.worse.power(*size),
        };
        Self { needed, power: sizes.iter().map(power).collect(), precision: Precision::new(assumed, &sizes) }
    }
}

impl Precision {
    fn new(assumed: Assumed, sizes: &[NonZeroU32]) -> Self {
        let sizes = sizes.iter().map(|size| (size.get(), ArmSizes { first: *size, second: *size }));
        match assumed.alike {
            Alternative::Difference(alike) => {
                let half_width = |sizes| {
                    expected_difference_half_width(sizes, alike.proportions, assumed.level, newcombe_interval)
                };
                let point = |(each_arm, sizes)| WidthPoint { each_arm, half_width: half_width(sizes) };
                Self::Difference(sizes.map(point).collect())
            }
            Alternative::Ratio(alike) => {
                let interval = miettinen_nurminen_ratio_interval;
                let reach = |sizes| expected_ratio_reach(sizes, alike.proportions, assumed.level, interval);
                let point = |(each_arm, sizes)| ReachPoint { each_arm, reach: reach(sizes) };
                Self::Ratio(sizes.map(point).collect())
            }
        }
    }
}

fn needed(assumed: Assumed, chance: f64) -> Needed {
    let cases = |truth: Alternative| truth.cases(WantedPower::new(chance).ok()?).ok();
    Needed { chance, alike: cases(assumed.alike), worse: cases(assumed.worse) }
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
