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

/// Hides counts until the attack on the summary and all before it passes. Tables that come last are
/// told only as far as they cost the others nothing.
pub(super) fn gate(
    counted: &Counted<'_>,
    profile: Profile,
    earlier: &[Before<'_>],
) -> Result<Gate, SummaryError> {
    let mut series = Series::of(counted, earlier)?;
    let new = series.go_on(counted, earlier)?;
    let before = before(&series, counted, &new, profile)?;
    let hiding = Hiding { series, new, before, counted, profile };
    let last: BTreeSet<Count> = counted.told_last().into_iter().flatten().collect();
    let [first, then] = [false, true].map(|of_last| Turn { of_last, last: &last });
    if last.is_empty() {
        return hiding.until_it_passes(last.clone(), first, Attacked::Anew);
    }
    let hidden = hiding.until_it_passes(last.clone(), first, Attacked::AsItWent)?.hidden;
    match hiding.until_it_passes(&hidden - &last, then, Attacked::Anew) {
        Err(SummaryError::Refused(_)) => hiding.until_it_passes(hidden, first, Attacked::Anew),
        with_all => with_all,
    }
}

/// Whose counts may be hidden: those of the tables that come last, or all others.
#[derive(Clone, Copy)]
pub(super) struct Turn<'t> {
    of_last: bool,
    last: &'t BTreeSet<Count>,
}

impl Turn<'_> {
    /// Whether a count may be hidden.
    pub(super) fn is_of(self, count: &Count) -> bool {
        self.last.contains(count) == self.of_last
    }
}

/// Which attack a hiding ends with.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Attacked {
    /// That by which it felt its way: more will be hidden.
    AsItWent,
    /// One that begins anew: whoever attacks it later does, and must find the same.
    Anew,
}

/// Everything that counts are hidden from.
struct Hiding<'g, 'c> {
    series: Series<'c>,
    new: Entered<'c>,
    before: Learnt,
    counted: &'g Counted<'c>,
    profile: Profile,
}

impl Hiding<'_, '_> {
    /// Hides more, of what may be hidden, until the attack passes. A summary that shows nothing passes: it
    /// says no more than all before it, even where the search was given up that could prove what they say.
    fn until_it_passes(
        &self,
        mut hidden: BTreeSet<Count>,
        turn: Turn<'_>,
        ends: Attacked,
    ) -> Result<Gate, SummaryError> {
        let Self { series, new, before, counted, profile } = self;
        let mut known: Option<Learnt> = None;
        loop {
            hidden = hide(counted, *profile, hidden, turn);
            let release = series.showing(counted, new, &hidden);
            let less_hidden = known.as_ref();
            let mut learnt = attack_to_hide(&release, *profile, Known { lost: before, less_hidden })?;
            let silent = counted.said_by(|count| !hidden.contains(count)).next().is_none();
            if ends == Attacked::Anew && (learnt.passes() || silent) {
                if known.is_some() || silent {
                    learnt = attack(&release, *profile)?.lost_before(before);
                }
                learnt = no_narrower(&release, *profile, learnt, before);
                learnt = if silent { learnt.all_lost_before() } else { learnt };
            }
            if learnt.passes() || silent {
                return Ok(Gate { hidden, learnt });
            }
            let more = series.more_to_withhold(&learnt, counted, (&hidden, turn));
            if more.is_empty() {
                return Err(SummaryError::Refused(learnt));
            }
            hidden.extend(more);
            known = Some(learnt);
        }
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
    let learnt = if shown.is_empty() { learnt.all_lost_before() } else { learnt };
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
fn hide(
    counted: &Counted<'_>,
    profile: Profile,
    mut hidden: BTreeSet<Count>,
    turn: Turn<'_>,
) -> BTreeSet<Count> {
    hidden.extend(&counted.behind);
    hidden.extend(counted.ranks.edges.keys());
    loop {
        let before = hidden.len();
        for block in counted.blocks.iter().filter(|block| block.comes_last == turn.of_last) {
            let of_block = block.everywhere().filter(|(_, count)| hidden.contains(count));
            let withheld: BTreeSet<(usize, usize)> = of_block.map(|(at, _)| at).collect();
            let mask = protect(&block.tables, profile, &withheld);
            let masked = block.everywhere().filter(|((table, place), _)| mask.hides(*table, *place));
            hidden.extend(masked.map(|(_, count)| count).filter(|count| turn.is_of(count)));
        }
        if hidden.len() == before {
            break;
        }
    }
    let denied: Vec<Count> =
        counted.shares.iter().filter(|(_, of)| hidden.contains(&of.known)).map(|(key, _)| *key).collect();
    hidden.extend(denied);
    let may_not = |quartile: &&Count| !counted.may_print(**quartile, &hidden, profile);
    let unprinted: Vec<Count> = counted.ranks.printed.keys().filter(may_not).copied().collect();
    hidden.extend(unprinted);
    hidden
}
