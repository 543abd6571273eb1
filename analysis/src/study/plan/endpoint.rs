//! An endpoint of a plan with its margin.

use super::PlannedMargin;
use crate::study::endpoint::Endpoint;

/// An endpoint with the margin, and why that margin.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedEndpoint {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// The margin on its scale and side.
    pub margin: PlannedMargin,
    /// Why so much worse would still be acceptable.
    pub reason: String,
    /// Where the reason comes from.
    pub source: String,
    /// The proportion expected in the conventional arm, for the number of cases.
    pub expected: f64,
}
