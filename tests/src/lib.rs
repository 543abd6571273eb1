//! What the test programs share.

pub mod sample;
