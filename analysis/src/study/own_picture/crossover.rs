//! X-ray used where none was intended, and why.

use super::super::share::Share;
use super::{FEW, LEVEL, OwnCase};
use quietbeam_schema::vocabulary::{Coded, FluoroReason, Strategy};

/// How often one reason was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReasonCount {
    /// The reason.
    pub reason: FluoroReason,
    /// Cases that give it; one case may give several.
    pub cases: u32,
}

/// The cross-overs of a centre.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossOvers {
    /// Cases in which zero-fluoroscopy was intended.
    pub intended_zero: u32,
    /// Of these, with X-ray; `None` with too few cases to say.
    pub share: Option<Share>,
    /// Cross-overs because of a complication, suspected or proven: outcomes, not failures.
    pub for_a_complication: u32,
    /// Cross-overs without a stated reason.
    pub without_reason: u32,
    /// The reasons that were given, the commonest first.
    pub reasons: Vec<ReasonCount>,
    /// Cases in which X-ray was intended and none was used.
    pub none_after_all: u32,
}

impl CrossOvers {
    pub(super) fn of(cases: &[OwnCase]) -> Self {
        let with = |strategy| cases.iter().filter(move |case| case.row.intended == strategy);
        let intended_zero = with(Strategy::Zero).count() as u32;
        let crossed: Vec<&OwnCase> = with(Strategy::Zero).filter(|case| case.beam_on()).collect();
        let giving = |reason| crossed.iter().filter(|case| case.reasons.contains(&reason)).count() as u32;
        let mut reasons: Vec<ReasonCount> = FluoroReason::all()
            .iter()
            .map(|reason| ReasonCount { reason: *reason, cases: giving(*reason) })
            .filter(|count| count.cases > 0)
            .collect();
        reasons.sort_by_key(|count| std::cmp::Reverse(count.cases));
        let share = || Share::new(crossed.len() as u32, intended_zero, LEVEL);
        Self {
            intended_zero,
            share: (intended_zero >= FEW).then(share),
            for_a_complication: crossed.iter().filter(|case| case.for_a_complication()).count() as u32,
            without_reason: crossed.iter().filter(|case| case.reasons.is_empty()).count() as u32,
            reasons,
            none_after_all: with(Strategy::Conventional).filter(|case| !case.beam_on()).count() as u32,
        }
    }
}
