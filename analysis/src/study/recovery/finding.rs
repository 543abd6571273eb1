//! What the kept table says of an endpoint, so that a report quotes it and nothing else.

use super::{Estimator, Outcome, Visibility};
use crate::study::endpoint::Endpoint;
use crate::study::numerals::signed_points;
use serde::Serialize;

/// The table as `quietbeam simulate` wrote it.
pub const TABLE: &str = include_str!("../../../RECOVERY.md");

/// What adjustment recovers of a difference, by what was recorded: the planned kind of estimate
/// (standardised, CR2 by centre) in invented networks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Networks.
    pub networks: u32,
    /// With the operator's sense of complexity recorded nowhere.
    pub recorded_nowhere: Recovered,
    /// With half of it visible in a recorded field.
    pub half_visible: Recovered,
    /// With all of it recorded.
    pub fully_recorded: Recovered,
    /// The same in words.
    pub in_words: String,
}

/// One line of the table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Recovered {
    /// Estimate less truth, percentage points.
    pub bias_points: f64,
    /// 95 % intervals that held the truth, per cent.
    pub covered_percent: f64,
    /// Claims of non-inferiority with the truth at the margin, per cent.
    pub wrongly_shown_percent: f64,
}

/// The finding about an endpoint; absent if the table does not have its lines.
pub fn finding(endpoint: Endpoint) -> Option<Finding> {
    let outcome = match endpoint {
        Endpoint::AcuteSuccess => Outcome::Success,
        Endpoint::MajorWithin30Days | Endpoint::MajorBeforeDischarge => Outcome::Major,
    };
    let networks = TABLE.lines().find_map(|line| {
        let (number, of) = line.split_once(' ')?;
        of.starts_with("invented networks").then(|| number.parse().ok()).flatten()
    })?;
    let [nowhere, half, fully] = Visibility::ALL.map(|visibility| recovered(outcome, visibility));
    let (recorded_nowhere, half_visible, fully_recorded) = (nowhere?, half?, fully?);
    let said = |found: Recovered| {
        format!(
            "by {} points and held the truth in {:.1} % of them; with the truth exactly at the margin it was wrongly called non-inferior in {:.1} %",
            signed_points(found.bias_points / 100.0),
            found.covered_percent,
            found.wrongly_shown_percent
        )
    };
    let in_words = format!(
        "What a registry cannot recover: in {networks} invented networks in which the operator’s sense of how complex a case is stood in no field, adjustment missed the truth {}. With all of it recorded it missed {}. Which of the two holds here no analysis can tell.",
        said(recorded_nowhere),
        said(fully_recorded)
    );
    Some(Finding { networks, recorded_nowhere, half_visible, fully_recorded, in_words })
}

fn recovered(outcome: Outcome, visibility: Visibility) -> Option<Recovered> {
    let begin =
        format!("| {} | {} | {} |", outcome.label(), visibility.label(), Estimator::StandardisedCr2.label());
    let rest = TABLE.lines().find_map(|line| line.strip_prefix(&begin))?;
    let mut numbers = rest.split('|').map(|cell| cell.split('±').next().unwrap_or(cell).trim().parse().ok());
    Some(Recovered {
        bias_points: numbers.next()??,
        covered_percent: numbers.next()??,
        wrongly_shown_percent: numbers.next()??,
    })
}
