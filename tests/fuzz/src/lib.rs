//! Turns bytes into valid input, and says what every answer must be: a number or a reason.
#![allow(clippy::unwrap_used)]

mod answers;
mod source;

pub use answers::{interval, maybe, number, p_value, ratio, test};
pub use source::Source;
