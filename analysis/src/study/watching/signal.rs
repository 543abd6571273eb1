//! What calls for a look: each with the rule that fired.

use super::{Course, Funnel, WatchCase};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::period::Quarter;

/// Two tamponades in so many zero-fluoroscopy cases in a row at a centre call for a look.
pub const TAMPONADE_WINDOW: usize = 30;

/// The rule that fired. Which harms call for a look one by one is our own choice; that they do is
/// common practice in safety monitoring, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// A patient died within 30 days, of whatever.
    Death,
    /// A fistula between atrium and oesophagus.
    Fistula,
    /// A stroke within 30 days.
    Stroke,
    /// Two tamponades in [`TAMPONADE_WINDOW`] zero-fluoroscopy cases in a row.
    TwoTamponades,
    /// The cumulative sum reached its line.
    LineReached,
    /// More harm than 1 centre in 500 on target would have.
    OutsideFunnel,
}

impl Rule {
    /// The rule in words.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Death => "A patient died within 30 days.",
            Self::Fistula => "A fistula between atrium and oesophagus was reported.",
            Self::Stroke => "A stroke within 30 days was reported.",
            Self::TwoTamponades => "Two tamponades in thirty zero-fluoroscopy cases in a row.",
            Self::LineReached => "The cumulative sum of major complications reached its line.",
            Self::OutsideFunnel => "More major complications than 1 in 500 centres on target would have.",
        }
    }
}

/// A signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signal {
    /// The rule that fired.
    pub rule: Rule,
    /// The quarter of the case with which it fired.
    pub period: Quarter,
    /// The case with which it fired; for a rule about all cases, the last one.
    pub case: CaseCode,
    /// Its place in the centre's order, from 1.
    pub at_case: usize,
}

/// The signals of one centre, from its cases in their order.
pub(super) fn of(cases: &[WatchCase], course: &Course, funnel: Option<&Funnel>) -> Vec<Signal> {
    let fired = |rule: Rule, at: usize| {
        cases.get(at).map(|case| Signal { rule, period: case.period, case: case.code, at_case: at + 1 })
    };
    let mut signals = Vec::new();
    for (at, case) in cases.iter().enumerate() {
        let grave = [(case.died, Rule::Death), (case.fistula, Rule::Fistula), (case.stroke, Rule::Stroke)];
        signals
            .extend(grave.iter().filter(|(happened, _)| *happened).filter_map(|(_, rule)| fired(*rule, at)));
    }
    signals.extend(pairs_of_tamponades(cases).into_iter().filter_map(|at| fired(Rule::TwoTamponades, at)));
    signals.extend(course.signals.iter().filter_map(|at| fired(Rule::LineReached, *at)));
    if funnel.is_some_and(Funnel::is_far_above) {
        signals.extend(cases.len().checked_sub(1).and_then(|last| fired(Rule::OutsideFunnel, last)));
    }
    signals
}

/// Where a tamponade follows another within the window. Three in a row are two pairs.
fn pairs_of_tamponades(cases: &[WatchCase]) -> Vec<usize> {
    let zero = cases.iter().enumerate().filter(|(_, case)| case.zero_intended);
    let (mut pairs, mut before) = (Vec::new(), None::<usize>);
    for (nth, (at, _)) in zero.enumerate().filter(|(_, (_, case))| case.tamponade) {
        if before.is_some_and(|before| nth - before < TAMPONADE_WINDOW) {
            pairs.push(at);
        }
        before = Some(nth);
    }
    pairs
}
