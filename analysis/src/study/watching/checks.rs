//! Central statistical checks: what looks unlike data from a ward. Each asks, none accuses.

use super::{Funnel, WatchCase};
use crate::study::own_picture::{DigitQuantity, digit_lines};
use quietbeam_schema::period::Quarter;

/// So many cases in a row without anything reported, not even a bruise, make one ask.
pub const SILENT_CASES: usize = 100;

/// With fewer doses than this their spread says nothing. Our own choice.
const LEAST_DOSES: usize = 30;

/// Doses of one room spread over a factor of two and more between the quarters of their
/// distribution; logarithms closer than this look copied. Our own choice, no source.
const LEAST_SPREAD: f64 = 0.15;

/// What looks unlike data from a ward.
#[derive(Debug, Clone, PartialEq)]
pub enum Check {
    /// Nothing was reported in so many cases in a row, up to the latest.
    Silent {
        /// The cases.
        cases: usize,
        /// The quarter in which the silence began.
        since: Quarter,
    },
    /// Doses hardly differ: the standard deviation of their natural logarithm.
    EvenDoses {
        /// How many doses.
        doses: usize,
        /// Their spread.
        spread: f64,
    },
    /// Numbers end on some digits far more often than a display would show them.
    Digits {
        /// What was typed.
        quantity: DigitQuantity,
        /// How many numbers.
        numbers: u32,
        /// The digits that stand out.
        heaped: Vec<u8>,
    },
    /// Fewer major complications than 1 in 500 centres on target would have.
    FewerThanExpected,
}

impl Check {
    /// The check in words.
    pub fn sentence(&self) -> String {
        match self {
            Self::Silent { cases, since } => {
                format!("Nothing at all was reported in the last {cases} cases, since {since}.")
            }
            Self::EvenDoses { doses, spread } => format!(
                "{doses} doses hardly differ: the standard deviation of their logarithm is {spread:.2}."
            ),
            Self::Digits { quantity, numbers, heaped } => {
                let digits: Vec<String> = heaped.iter().map(ToString::to_string).collect();
                format!(
                    "{numbers} numbers of {} end on {} more often than a display would: rounded or guessed.",
                    quantity.name(),
                    digits.join(" and ")
                )
            }
            Self::FewerThanExpected => {
                "Fewer major complications than 1 in 500 centres on target would have: better, or not all reported.".to_owned()
            }
        }
    }
}

/// The checks of one centre, from its cases in their order.
pub(super) fn of(cases: &[WatchCase], funnel: Option<&Funnel>) -> Vec<Check> {
    let few = funnel.filter(|funnel| funnel.is_far_below()).map(|_| Check::FewerThanExpected);
    [silent(cases), even_doses(cases), few].into_iter().flatten().chain(digits(cases)).collect()
}

/// By the same rule as a centre's own picture.
fn digits(cases: &[WatchCase]) -> impl Iterator<Item = Check> {
    let lines = digit_lines(cases.iter().map(|case| case.last_digits)).into_iter();
    lines.filter_map(|line| {
        let heaped = line.heaped()?;
        Some(Check::Digits { quantity: line.quantity, numbers: line.numbers, heaped })
    })
}

fn silent(cases: &[WatchCase]) -> Option<Check> {
    let quiet = cases.iter().rev().take_while(|case| !case.anything).count();
    let since = cases.get(cases.len() - quiet)?.period;
    (quiet > SILENT_CASES).then_some(Check::Silent { cases: quiet, since })
}

fn even_doses(cases: &[WatchCase]) -> Option<Check> {
    let logs: Vec<f64> = cases.iter().filter_map(|case| case.air_kerma_mgy).map(f64::ln).collect();
    if logs.len() < LEAST_DOSES {
        return None;
    }
    let mean = logs.iter().sum::<f64>() / logs.len() as f64;
    let squares: f64 = logs.iter().map(|log| (log - mean).powi(2)).sum();
    let spread = (squares / (logs.len() - 1) as f64).sqrt();
    (spread < LEAST_SPREAD).then_some(Check::EvenDoses { doses: logs.len(), spread })
}
