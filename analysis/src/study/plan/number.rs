//! Numbers of a plan, each with what is wrong where it cannot be one.

use super::Trouble;
use crate::methods::interval::Confidence;
use crate::methods::non_inferiority::MarginSize;

/// The two-sided level of every interval.
pub(in crate::study) fn level(level: f64) -> Result<Confidence, Trouble> {
    let read = (0.9..=0.999).contains(&level).then(|| Confidence::new(level).ok()).flatten();
    read.ok_or(Trouble::Level(level))
}

/// How much worse is still acceptable.
pub(in crate::study) fn margin(size: f64) -> Result<MarginSize, Trouble> {
    let read = (size < 0.5).then(|| MarginSize::new(size).ok()).flatten();
    read.ok_or(Trouble::Margin(size))
}

/// The proportion expected in the conventional arm.
pub(in crate::study) fn expected(proportion: f64) -> Result<f64, Trouble> {
    if proportion > 0.0 && proportion < 1.0 { Ok(proportion) } else { Err(Trouble::Expected(proportion)) }
}
