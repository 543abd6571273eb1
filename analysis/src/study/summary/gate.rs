//! What of a summary may be shown: everything that was ever published, and the new summary with
//! it, is attacked as one release from every seat, until the attack learns too little.

use super::blocks::Comes;
use super::counted::{Count, Counted};
use super::series::{Entered, Series};
use super::{SafetySummary, SummaryError};
use crate::methods::disclosure::{
    Known, Learnt, Mask, Profile, attack, attack_to_hide, no_narrower, protect, surely_lost,
};
use crate::study::cohort::Cohort;
use std::cell::RefCell;
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
/// told only as far as they cost the others nothing, unless the differences of a
/// comparison are to be told first.
pub(super) fn gate(
    counted: &Counted<'_>,
    profile: Profile,
    earlier: &[Before<'_>],
) -> Result<Gate, SummaryError> {
    let hiding = Hiding::of(counted, profile, earlier)?;
    let gate = hiding.last_tables_last()?;
    let first = counted.told_first();
    if first.is_empty() { Ok(gate) } else { hiding.differences_first(gate, &first) }
}

/// The same of a summary that counts one table more, which may tell what costs none of the others a number;
/// nothing where it can tell nothing.
pub(super) fn gate_of_one_more(
    counted: &Counted<'_>,
    (hidden, profile): (&BTreeSet<Count>, Profile),
    earlier: &[Before<'_>],
) -> Result<Option<Gate>, SummaryError> {
    let own = counted.told_from(Comes::AfterTheLast);
    let turn = Turn { of: Comes::AfterTheLast, may_hide: &|count| own.contains(count) };
    let hiding = Hiding::of(counted, profile, earlier)?;
    match hiding.until_it_passes(hidden.clone(), turn, Attacked::Anew) {
        Err(SummaryError::Refused(_)) => Ok(None),
        gate => gate.map(|gate| Some(gate).filter(|gate| !own.is_subset(&gate.hidden))),
    }
}

/// What may be hidden to let the attack pass.
#[derive(Clone, Copy)]
pub(super) struct Turn<'t> {
    /// Which tables are looked at: those that come so and before.
    of: Comes,
    may_hide: &'t dyn Fn(&Count) -> bool,
}

impl Turn<'_> {
    /// Whether a count may be hidden.
    pub(super) fn is_of(self, count: &Count) -> bool {
        (self.may_hide)(count)
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
    masks: RefCell<Masks>,
}

/// What a table hides if some of it is withheld: asked again and again, while only other tables change.
type Masks = BTreeMap<(usize, BTreeSet<(usize, usize)>), Mask>;

impl<'g, 'c> Hiding<'g, 'c> {
    fn of(
        counted: &'g Counted<'c>,
        profile: Profile,
        earlier: &'c [Before<'_>],
    ) -> Result<Self, SummaryError> {
        let mut series = Series::of(counted, earlier)?;
        let new = series.go_on(counted, earlier)?;
        let before = before(&series, counted, &new, profile)?;
        Ok(Self { series, new, before, counted, profile, masks: RefCell::default() })
    }

    fn last_tables_last(&self) -> Result<Gate, SummaryError> {
        let last = self.counted.told_from(Comes::Last);
        let tables = Turn { of: Comes::First, may_hide: &|count| !last.contains(count) };
        let then = Turn { of: Comes::Last, may_hide: &|count| last.contains(count) };
        if last.is_empty() {
            return self.until_it_passes(last.clone(), tables, Attacked::Anew);
        }
        let hidden = self.until_it_passes(last.clone(), tables, Attacked::AsItWent)?.hidden;
        match self.until_it_passes(&hidden - &last, then, Attacked::Anew) {
            Err(SummaryError::Refused(_)) => self.until_it_passes(hidden, tables, Attacked::Anew),
            with_all => with_all,
        }
    }

    /// Tells what stands behind each difference that could be told if nothing else were, and hides what else
    /// must be for it.
    fn differences_first(&self, otherwise: Gate, behind: &[BTreeSet<Count>]) -> Result<Gate, SummaryError> {
        let or_none = |found: Result<Gate, SummaryError>| match found {
            Err(SummaryError::Refused(_)) => Ok(None),
            found => found.map(Some),
        };
        let arms: BTreeSet<Count> = behind.iter().flatten().copied().collect();
        let of_arms = Turn { of: Comes::Last, may_hide: &|count| arms.contains(count) };
        let all_but_arms = &self.counted.everything().collect() - &arms;
        let alone = or_none(self.until_it_passes(all_but_arms, of_arms, Attacked::AsItWent))?;
        let Some(alone) = alone else { return Ok(otherwise) };
        let told: BTreeSet<Count> =
            behind.iter().filter(|counts| counts.is_disjoint(&alone.hidden)).flatten().copied().collect();
        let freed = &otherwise.hidden & &told;
        if freed.is_empty() {
            return Ok(otherwise);
        }
        // Beside them the totals of the same would tell what is in neither arm. Without these the other
        // tables hide what they must, and keep the rest.
        let totals = self.counted.totals_of(freed.iter().map(|count| count.measure).collect());
        let others = Turn { of: Comes::Last, may_hide: &|count| !told.contains(count) };
        let hidden = &(&otherwise.hidden - &freed) | &totals;
        let found = or_none(self.until_it_passes(hidden, others, Attacked::Anew))?;
        Ok(found.unwrap_or(otherwise))
    }

    /// Hides more, of what may be hidden, until the attack passes. A summary that shows nothing passes: it
    /// says no more than all before it, even where the search was given up that could prove what they say.
    fn until_it_passes(
        &self,
        mut hidden: BTreeSet<Count>,
        turn: Turn<'_>,
        ends: Attacked,
    ) -> Result<Gate, SummaryError> {
        let Self { series, new, before, counted, profile, .. } = self;
        let mut known: Option<Learnt> = None;
        loop {
            hidden = self.hide(hidden, turn);
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

    /// What each table must hide for itself, until the tables agree about the counts they share.
    fn hide(&self, mut hidden: BTreeSet<Count>, turn: Turn<'_>) -> BTreeSet<Count> {
        let counted = self.counted;
        hidden.extend(&counted.behind);
        hidden.extend(counted.ranks.edges.keys());
        let mut masks = self.masks.borrow_mut();
        loop {
            let before = hidden.len();
            for (number, block) in
                counted.blocks.iter().enumerate().filter(|(_, block)| block.comes <= turn.of)
            {
                let of_block = block.everywhere().filter(|(_, count)| hidden.contains(count));
                let withheld: BTreeSet<(usize, usize)> = of_block.map(|(at, _)| at).collect();
                let mask = masks
                    .entry((number, withheld))
                    .or_insert_with_key(|(_, withheld)| protect(&block.tables, self.profile, withheld));
                let masked = block.everywhere().filter(|((table, place), _)| mask.hides(*table, *place));
                hidden.extend(masked.map(|(_, count)| count).filter(|count| turn.is_of(count)));
            }
            if hidden.len() == before {
                break;
            }
        }
        let denied = counted.shares.iter().filter(|(_, of)| hidden.contains(&of.known));
        let denied: Vec<Count> = denied.map(|(key, _)| *key).collect();
        hidden.extend(denied);
        let may_not = |quartile: &&Count| !counted.may_print(**quartile, &hidden, self.profile);
        let unprinted: Vec<Count> = counted.ranks.printed.keys().filter(may_not).copied().collect();
        hidden.extend(unprinted);
        hidden
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
