//! What of a summary may be shown: everything that was ever published, and the new summary with
//! it, is attacked as one release from every seat, until the attack learns too little.

use super::counted::{Count, Counted};
use super::series::{Entered, Series};
use super::{SafetySummary, SummaryError};
use crate::methods::disclosure::{
    Known, Learnt, Profile, attack, attack_to_hide, no_narrower, protect, surely_lost,
};
use crate::study::cohort::Cohort;
use std::collections::{BTreeMap, BTreeSet};

/// A summary that was published before, with the cases it was made from. A withdrawn one counts:
/// whoever read it knows it.
pub struct Earlier<'e> {
    /// What it is called.
    pub name: String,
    /// Its cases.
    pub cohort: &'e Cohort,
    /// What it said.
    pub summary: &'e SafetySummary,
}

/// An earlier summary counted again.
pub(super) struct Before<'e> {
    pub(super) name: &'e str,
    pub(super) counted: Counted<'e>,
    /// What it showed.
    pub(super) shown: BTreeMap<Count, u64>,
}

/// What may not be shown, and what every seat could learn from the rest.
pub(super) struct Gate {
    pub(super) hidden: BTreeSet<Count>,
    pub(super) learnt: Learnt,
}

/// Hides counts until the attack on the summary and all before it passes.
pub(super) fn gate(
    counted: &Counted<'_>,
    profile: Profile,
    earlier: &[Before<'_>],
) -> Result<Gate, SummaryError> {
    let mut series = Series::of(counted, earlier)?;
    let new = series.go_on(counted, earlier)?;
    let before = before(&series, counted, &new, profile)?;
    let mut hidden = BTreeSet::new();
    let mut known: Option<Learnt> = None;
    loop {
        hidden = hide(counted, profile, hidden);
        let release = series.showing(counted, &new, &hidden);
        let mut learnt =
            attack_to_hide(&release, profile, Known { lost: &before, less_hidden: known.as_ref() })?;
        if learnt.passes() {
            if known.is_some() {
                // Whoever attacks it later begins anew, and must find the same.
                learnt = attack(&release, profile)?.lost_before(&before);
            }
            learnt = no_narrower(&release, profile, learnt, &before);
        }
        if learnt.passes() {
            return Ok(Gate { hidden, learnt });
        }
        let more = series.more_to_withhold(&learnt, counted, &hidden);
        if more.is_empty() {
            return Err(SummaryError::Refused(learnt));
        }
        hidden.extend(more);
        known = Some(learnt);
    }
}

/// What every seat could learn from a summary that shows some counts, and all before it.
pub(super) fn judge(
    counted: &Counted<'_>,
    shown: &BTreeMap<Count, u64>,
    profile: Profile,
    earlier: &[Before<'_>],
) -> Result<Learnt, SummaryError> {
    let mut series = Series::of(counted, earlier)?;
    let new = series.go_on(counted, earlier)?;
    let before = before(&series, counted, &new, profile)?;
    let hidden = counted.everything().filter(|count| !shown.contains_key(count)).collect();
    let release = series.showing(counted, &new, &hidden);
    let learnt = attack(&release, profile)?.lost_before(&before);
    let learnt = no_narrower(&release, profile, learnt, &before);
    if learnt.passes() { Ok(learnt) } else { Err(SummaryError::Refused(learnt)) }
}

/// What every seat knows before a new summary shows anything: of a part of what was published, whoever
/// had the rest of it knows that it is small. A release is not blamed for it. Before the first nothing
/// was known.
fn before(
    series: &Series<'_>,
    counted: &Counted<'_>,
    new: &Entered<'_>,
    profile: Profile,
) -> Result<Learnt, SummaryError> {
    if series.is_first() {
        return Ok(Learnt { seats: Vec::new(), rows: Vec::new() });
    }
    let nothing = series.showing(counted, new, &counted.everything().collect());
    let found = attack(&nothing, profile)?;
    Ok(surely_lost(&nothing, profile, found))
}

/// What each table must hide for itself, until the tables agree about the counts they share.
fn hide(counted: &Counted<'_>, profile: Profile, mut hidden: BTreeSet<Count>) -> BTreeSet<Count> {
    loop {
        let before = hidden.len();
        for block in &counted.blocks {
            let of_block = block.everywhere().filter(|(_, count)| hidden.contains(count));
            let withheld: BTreeSet<(usize, usize)> = of_block.map(|(at, _)| at).collect();
            let mask = protect(&block.tables, profile, &withheld);
            hidden.extend(
                block
                    .everywhere()
                    .filter(|((table, place), _)| mask.hides(*table, *place))
                    .map(|(_, count)| count),
            );
        }
        if hidden.len() == before {
            break;
        }
    }
    hidden.extend(counted.ranks.edges.keys());
    let may_not = |quartile: &&Count| !counted.may_print(**quartile, &hidden, profile);
    let unprinted: Vec<Count> = counted.ranks.printed.keys().filter(may_not).copied().collect();
    hidden.extend(unprinted);
    hidden
}
