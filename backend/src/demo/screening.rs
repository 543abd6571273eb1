//! The screening log: what was performed, eligible and sent in, by quarter and
//! procedure group, without which nobody can tell whether only good cases came.

use super::case::Case;
use super::chance::Chance;
use super::network::{Habits, quarter};
use quietbeam_schema::centre::{EnteredCounts, ScreeningCounts};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{ExclusionReason, ProcedureGroup};
use std::collections::BTreeMap;

/// One line of a centre's screening log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScreeningLine {
    /// The quarter.
    pub period: Quarter,
    /// The group of procedures.
    pub group: ProcedureGroup,
    /// The counts.
    pub counts: ScreeningCounts,
}

/// The log of one centre. A case entered twice was performed once.
pub(super) fn log(chance: &mut Chance, centre: &Habits, cases: &[Case]) -> Vec<ScreeningLine> {
    let mut sent: BTreeMap<(usize, ProcedureGroup), u32> = BTreeMap::new();
    for case in cases.iter().filter(|case| !case.entry.entered_before) {
        *sent.entry((case.quarter, case.model.kind.group())).or_default() += 1;
    }
    let mut submitted_so_far = 0.0;
    let mut eligible_so_far = 0;
    let mut lines = Vec::new();
    for ((at, group), submitted) in sent {
        // The sum keeps the centre's ratio although every line is whole.
        submitted_so_far += f64::from(submitted);
        let due = (submitted_so_far / centre.slips.submitted).round() as u32;
        let eligible = due.saturating_sub(eligible_so_far).max(submitted);
        let eligible = if centre.slips.submitted < 0.9 { eligible } else { eligible.min(submitted * 10 / 9) };
        eligible_so_far += eligible;
        let mut excluded = exclusions(chance, eligible);
        let performed = eligible + excluded.values().sum::<u32>();
        if eligible > submitted {
            *excluded.entry(ExclusionReason::Staff).or_default() += eligible - submitted;
        }
        let entered = EnteredCounts { performed, eligible, submitted, excluded };
        // Refused only where a centre would have performed more than any can.
        if let Ok(counts) = entered.try_into() {
            lines.push(ScreeningLine { period: quarter(at), group, counts });
        }
    }
    lines
}

/// Procedures that did not meet the protocol, about one for every twelve that did.
fn exclusions(chance: &mut Chance, eligible: u32) -> BTreeMap<ExclusionReason, u32> {
    let mut excluded = BTreeMap::new();
    for _ in 0..eligible {
        if chance.happens(0.08) {
            let reason = chance.one_of(&[
                (ExclusionReason::DiagnosticOnly, 0.55),
                (ExclusionReason::ConsentNo, 0.20),
                (ExclusionReason::Emergency, 0.15),
                (ExclusionReason::Other, 0.10),
            ]);
            *excluded.entry(reason).or_default() += 1;
        }
    }
    excluded
}
