//! An invented network as the estimators meet it, with the risks of every case under both
//! strategies.

use crate::methods::non_inferiority::{Margin, MarginSize};
use quietbeam_schema::vocabulary::ProcedureGroup;

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Acute success.
    Success,
    /// A major complication within 30 days.
    Major,
    /// A drained effusion: felt and treated whoever looks.
    Drained,
    /// Any effusion that somebody found.
    FoundFluid,
}

impl Outcome {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Success, Self::Major, Self::Drained, Self::FoundFluid];

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::Success => "acute success",
            Self::Major => "major complications",
            Self::Drained => "drained effusions",
            Self::FoundFluid => "any effusion found",
        }
    }

    /// The margin of the demonstration, where there is one.
    pub fn margin(self) -> Option<Margin> {
        match self {
            Self::Success => MarginSize::new(0.03).ok().map(Margin::Benefit),
            Self::Major => MarginSize::new(0.01).ok().map(Margin::Harm),
            Self::Drained | Self::FoundFluid => None,
        }
    }
}

/// One outcome of a case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimulatedOutcome {
    /// Whether it happened.
    pub event: bool,
    /// Its risk if zero-fluoroscopy is intended. Of fluid it is the risk that it is there, found
    /// or not.
    pub zero_fluoroscopy: f64,
    /// Its risk if conventional guidance is intended.
    pub conventional: f64,
}

impl SimulatedOutcome {
    fn difference(&self) -> f64 {
        self.zero_fluoroscopy - self.conventional
    }
}

/// One case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimulatedCase {
    /// The centre, as a number.
    pub centre: u32,
    /// The procedure group, which is recorded.
    pub group: ProcedureGroup,
    /// Zero-fluoroscopy was intended.
    pub zero: bool,
    /// The chance that it would be.
    pub zero_chance: f64,
    /// The operator's sense of complexity; standard normal.
    pub complexity: f64,
    /// What blurs it where it is half visible; standard normal.
    pub noise: f64,
    /// Decides an outcome that is drawn again; uniform from 0 to 1.
    pub lot: f64,
    /// In the order of [`Outcome::ALL`].
    pub outcomes: [SimulatedOutcome; 4],
}

impl SimulatedCase {
    fn outcome(&self, outcome: Outcome) -> SimulatedOutcome {
        self.outcomes[outcome as usize]
    }
}

/// The cases with one outcome.
pub(super) struct Network<'c> {
    pub(super) cases: &'c [SimulatedCase],
    pub(super) events: Vec<bool>,
    /// The true difference over all cases.
    pub(super) truth: f64,
    /// The same over the patients whom either arm might have treated.
    pub(super) overlap_truth: f64,
}

/// The network as it was built.
pub(super) fn network(cases: &[SimulatedCase], outcome: Outcome) -> Network<'_> {
    let events = cases.iter().map(|case| case.outcome(outcome).event).collect();
    Network {
        cases,
        events,
        truth: mean(cases, outcome, |_| 1.0, 0.0),
        overlap_truth: mean(cases, outcome, overlap, 0.0),
    }
}

/// The network with the outcome drawn again after the odds under zero-fluoroscopy were moved
/// until the true difference over all cases is this one. For the patients whom either arm might
/// have treated it is then a little different, and a test at the margin a little off its level.
pub(super) fn moved_to(cases: &[SimulatedCase], outcome: Outcome, difference: f64) -> Network<'_> {
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if mean(cases, outcome, |_| 1.0, middle) < difference { low = middle } else { high = middle }
    }
    let moved = f64::midpoint(low, high);
    let event = |case: &SimulatedCase| {
        let risks = shifted(case.outcome(outcome), moved);
        case.lot < if case.zero { risks.zero_fluoroscopy } else { risks.conventional }
    };
    Network {
        cases,
        events: cases.iter().map(event).collect(),
        truth: mean(cases, outcome, |_| 1.0, moved),
        overlap_truth: mean(cases, outcome, overlap, moved),
    }
}

fn overlap(case: &SimulatedCase) -> f64 {
    case.zero_chance * (1.0 - case.zero_chance)
}

fn mean(cases: &[SimulatedCase], outcome: Outcome, weight: fn(&SimulatedCase) -> f64, moved: f64) -> f64 {
    let (mut sum, mut all) = (0.0, 0.0);
    for case in cases {
        sum += weight(case) * shifted(case.outcome(outcome), moved).difference();
        all += weight(case);
    }
    sum / all
}

fn shifted(outcome: SimulatedOutcome, moved: f64) -> SimulatedOutcome {
    if moved == 0.0 {
        return outcome;
    }
    let odds = outcome.zero_fluoroscopy / (1.0 - outcome.zero_fluoroscopy) * libm::exp(moved);
    SimulatedOutcome { zero_fluoroscopy: odds / (1.0 + odds), ..outcome }
}
