//! The free-text screen.
use thiserror::Error;
/// x
#[derive(Debug, Clone, PartialEq, Error)]
#[error("x")]
pub struct Identifying;
/// x
pub fn screen(_: &str) -> Result<(), Identifying> {
    Ok(())
}
/// x
pub fn is_full_date(_: &str) -> bool {
    false
}
