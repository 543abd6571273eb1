//! Turns bytes into valid input, and says what every answer must be: a number or a reason.
#![allow(clippy::unwrap_used)]

mod answers;
#[path = "../../src/intake_laws.rs"]
pub mod intake_laws;
#[path = "../../src/open_document.rs"]
pub mod open_document;
mod source;
mod workbook;

pub use answers::{interval, maybe, number, p_value, ratio, test};
pub use source::Source;
pub use workbook::{PARTS, workbook};
