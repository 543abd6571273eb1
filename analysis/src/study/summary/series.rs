//! Everything that was ever published and a new summary with it, as one release. Summaries of
//! different periods are cut into the stretches of time that their ends make of each other: a
//! reader subtracts one from another, and what is left is the counts of a stretch.

use super::SummaryError;
use super::counted::{Count, Counted, Measure};
use super::gate::Before;
use super::imagined::one_more;
use super::known::{Said, said};
use super::moved;
use super::part::Part;
use super::shares::Share;
use crate::methods::disclosure::{CellId, Release, Source, Values};
use crate::study::published::OneOrAll;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::{Period, Quarter};
use quietbeam_schema::vocabulary::Strategy;
use std::collections::{BTreeMap, BTreeSet};

mod withholding;

/// Where the counts of one summary stand in the release.
pub(super) type Cells = BTreeMap<Count, CellId>;

/// What a count counts whatever its time, and the quarters of its cases: a year is all cases of that
/// year.
type What = ((Measure, Part, OneOrAll<Strategy>), Period);

/// The counts of a summary in a part of its period, or in all of it.
pub(super) struct Stretch {
    period: Period,
    pub(super) cells: Cells,
}

/// How the cases of a count now and then hold each other, as everyone knows it.
#[derive(Clone, Copy)]
pub(super) enum Nested {
    /// There are the same or more now.
    NowHolds,
    /// The new summary is of a part of the time.
    ThenHolds,
    /// They are the same cases of the same cut.
    Alike,
}

/// A summary in the release.
pub(super) struct Entered<'s> {
    /// The hash of its cut.
    cut: Option<&'s str>,
    pub(super) whole: Stretch,
    /// The stretches that make up its period; none where no other summary cuts it.
    parts: Vec<Stretch>,
}

impl Entered<'_> {
    fn stretches(&self) -> impl Iterator<Item = &Stretch> {
        [&self.whole].into_iter().chain(&self.parts)
    }
}

/// All summaries, as one release.
pub(super) struct Series<'s> {
    pub(super) release: Release,
    /// The centres of all of them.
    centres: Vec<CentreCode>,
    /// Where one of them begins, or another just ended.
    ends: BTreeSet<Quarter>,
    before: Vec<Entered<'s>>,
    /// For each cell the counts of the new summary that it is, or was before.
    pub(super) speaks_of: BTreeMap<CellId, BTreeSet<Count>>,
    /// The same for the summaries before: what each cell counted in its own.
    spoke_of: BTreeMap<CellId, BTreeSet<Count>>,
    /// For each count those that stand in one statement with it in any summary.
    beside: BTreeMap<Count, BTreeSet<Count>>,
    /// Which counts were said to hold which: the earlier one first.
    linked: BTreeSet<(CellId, CellId)>,
}

impl<'s> Series<'s> {
    /// What was published before, with the centres of the new summary beside.
    pub(super) fn of(counted: &Counted<'s>, earlier: &'s [Before<'_>]) -> Result<Self, SummaryError> {
        let all = || earlier.iter().map(|before| &before.counted).chain([counted]);
        let centres: BTreeSet<CentreCode> =
            all().flat_map(|counted| counted.centres.iter().copied()).collect();
        let centres: Vec<CentreCode> = centres.into_iter().collect();
        let ends = all().map(|counted| counted.period);
        let ends = ends.flat_map(|period| [period.first, period.last.map(Quarter::next)]).flatten();
        let mut series = Self {
            release: Release::of_centres(centres.iter().map(ToString::to_string)),
            centres,
            ends: ends.collect(),
            before: Vec::new(),
            speaks_of: BTreeMap::new(),
            spoke_of: BTreeMap::new(),
            beside: BTreeMap::new(),
            linked: BTreeSet::new(),
        };
        for before in earlier {
            let entered = series.enter(&before.counted, before.name)?;
            let cells = &entered.whole.cells;
            for count in before.shown.keys() {
                cells.get(count).into_iter().for_each(|cell| series.release.was_shown(*cell));
                say_rank(&mut series.release, &before.counted, cells, *count);
                say_share(&mut series.release, &before.counted, cells, *count);
            }
            let silent = before.counted.silent(|count| before.shown.contains_key(count));
            silent
                .iter()
                .filter_map(|count| cells.get(count))
                .for_each(|cell| series.release.never_told(*cell));
            series.link_stretches(&entered);
            series.before.push(entered);
        }
        series.spoke_of = std::mem::take(&mut series.speaks_of);
        Ok(series)
    }

    /// Whether nothing was published before.
    pub(super) fn is_first(&self) -> bool {
        self.spoke_of.is_empty()
    }

    /// Adds the new summary and says how it hangs on those before.
    pub(super) fn go_on(
        &mut self,
        counted: &Counted<'s>,
        earlier: &[Before<'_>],
    ) -> Result<Entered<'s>, SummaryError> {
        let new = self.enter(counted, "")?;
        self.link_wholes(&new);
        self.link_stretches(&new);
        self.speak_of_other_times(&new);
        for (before, cells) in earlier.iter().zip(std::mem::take(&mut self.before)) {
            moved::say(self, (&before.counted, &cells.whole.cells), (counted, &new.whole.cells));
        }
        Ok(new)
    }

    /// Adds the counts of a summary and those of the stretches that others cut it into.
    fn enter(&mut self, counted: &Counted<'s>, name: &str) -> Result<Entered<'s>, SummaryError> {
        let called = if name.is_empty() { String::new() } else { format!(" ({name})") };
        let whole = Stretch { period: counted.period, cells: self.add(counted, &called) };
        let pieces = counted.period.cut_before(self.ends.iter().copied());
        let mut parts = Vec::new();
        for period in pieces.iter().copied().filter(|_| pieces.len() > 1) {
            let part = counted.during(period)?;
            let cells = self.add(&part, &format!(", {period}{called}"));
            cells.values().for_each(|cell| self.release.never_told(*cell));
            parts.push(Stretch { period, cells });
        }
        for (count, cell) in &whole.cells {
            let of: Vec<CellId> =
                parts.iter().filter_map(|part: &Stretch| part.cells.get(count)).copied().collect();
            // Without a case in any of them nothing adds up to it.
            if !of.is_empty() {
                self.release.total(*cell, of);
            }
        }
        Ok(Entered { cut: counted.cut(), whole, parts })
    }

    /// Adds the counts of a summary and how they hold each other.
    fn add(&mut self, counted: &Counted<'_>, called: &str) -> Cells {
        let mut cells = Cells::new();
        for (count, by_centre) in &counted.counts {
            let by_centre = self.spread(&counted.centres, by_centre);
            let name = format!("{}{called}", counted.name(*count));
            let cell = self.release.count(name, count.measure.meaning(), by_centre);
            if count.is_of_network() {
                self.release.of_network(cell);
            }
            if counted.behind.contains(count) {
                self.release.never_told(cell);
            }
            let speaks_of = self.speaks_of.entry(cell).or_default();
            speaks_of.insert(*count);
            if count.measure == Measure::NotSent {
                // Beside the cases that were sent in, the eligible ones tell it.
                speaks_of.insert(Count { measure: Measure::Eligible, ..*count });
            }
            cells.insert(*count, cell);
        }
        for quartile in counted.ranks.printed.keys() {
            let edges = counted.ranks.edges_of(*quartile);
            let edges = edges.into_iter().flat_map(|(below, up_to)| below.into_iter().chain([up_to]));
            for cell in edges.filter_map(|edge| cells.get(&edge)) {
                self.speaks_of.entry(*cell).or_default().insert(*quartile);
            }
        }
        said(counted).iter().for_each(|said| self.say(said, &cells));
        cells
    }

    fn say(&mut self, said: &Said, cells: &Cells) {
        let cell = |count: &Count| cells.get(count).copied();
        match said {
            Said::Total(whole, parts) => {
                if let Some(whole) = cell(whole) {
                    self.release.total(whole, parts.iter().filter_map(cell));
                }
            }
            Said::Part(part, whole) => {
                if let Some((part, whole)) = cell(part).zip(cell(whole)) {
                    self.release.part(part, whole);
                }
            }
            Said::NeverBelowZero(terms) => {
                let terms: Option<Vec<_>> =
                    terms.iter().map(|(count, weight)| Some((cell(count)?, *weight))).collect();
                if let Some(terms) = terms.filter(|terms| self.release.is_never_below_zero(terms)) {
                    self.release.never_below_zero(terms);
                }
            }
        }
        let counts = said.counts();
        for count in &counts {
            self.beside.entry(*count).or_default().extend(counts.iter().filter(|other| *other != count));
        }
    }

    /// Says which counts of each earlier summary counted the same in more or fewer cases.
    fn link_wholes(&mut self, new: &Entered<'s>) {
        let mut now: BTreeMap<_, Vec<(Period, Part, CellId)>> = BTreeMap::new();
        for (count, cell) in &new.whole.cells {
            let (what, period) = what(count.of_any_scope(), new.whole.period);
            now.entry(what).or_default().push((period, count.part, *cell));
        }
        let mut pairs = Vec::new();
        for before in &self.before {
            for (count, cell) in &before.whole.cells {
                let (what, then) = what(count.of_any_scope(), before.whole.period);
                for (of_now, part, same) in now.get(&what).into_iter().flatten() {
                    let of_cut = before.cut.is_some() && before.cut == new.cut;
                    let alike = of_cut && count.part.scope() == part.scope();
                    let nested = match (of_now.encloses(then), then.encloses(*of_now)) {
                        (true, true) if alike => Nested::Alike,
                        (true, _) => Nested::NowHolds,
                        (false, true) => Nested::ThenHolds,
                        (false, false) => continue,
                    };
                    pairs.push(((*cell, *same), nested));
                }
            }
        }
        pairs.into_iter().for_each(|(pair, nested)| self.link(pair, nested));
    }

    /// Says which counts are of the same stretch as one of the summary published last before, whether
    /// its period or a piece of it, and last before of the same cut.
    fn link_stretches(&mut self, new: &Entered<'s>) {
        let mut latest: BTreeMap<(What, Option<&str>), CellId> = BTreeMap::new();
        for before in &self.before {
            for stretch in before.stretches() {
                for (count, cell) in &stretch.cells {
                    let what = what(*count, stretch.period);
                    latest.insert((what, None), *cell);
                    if before.cut.is_some() {
                        latest.insert((what, before.cut), *cell);
                    }
                }
            }
        }
        for stretch in new.stretches() {
            for (count, cell) in &stretch.cells {
                let what = what(*count, stretch.period);
                let of_cut = new.cut.and_then(|cut| latest.get(&(what, Some(cut))));
                let last = latest.get(&(what, None)).filter(|last| Some(*last) != of_cut);
                last.into_iter().for_each(|before| self.link((*before, *cell), Nested::NowHolds));
                of_cut.into_iter().for_each(|before| self.link((*before, *cell), Nested::Alike));
            }
        }
    }

    /// Counts of a time that the new summary does not hold are told by what it counts alike: both are
    /// parts of something that was published.
    fn speak_of_other_times(&mut self, new: &Entered<'s>) {
        let mut alike: BTreeMap<_, BTreeSet<Count>> = BTreeMap::new();
        for count in new.whole.cells.keys() {
            alike.entry(what(*count, new.whole.period).0).or_default().insert(*count);
        }
        for stretch in self.before.iter().flat_map(Entered::stretches) {
            for (count, cell) in &stretch.cells {
                let of_now = self.speaks_of.entry(*cell).or_default();
                if let Some(alike) = alike.get(&what(*count, stretch.period).0).filter(|_| of_now.is_empty())
                {
                    of_now.extend(alike);
                }
            }
        }
    }

    /// Says how a count of an earlier summary and one of the new hold each other. Where a correction
    /// turned it round, everyone could think so.
    pub(super) fn link(&mut self, (before, now): (CellId, CellId), nested: Nested) {
        let within =
            |part: CellId, whole: CellId| self.release.is_never_below_zero(&[(whole, 1), (part, -1)]);
        let [grew, shrank] = [within(before, now), within(now, before)];
        let (forth, back) = match nested {
            Nested::NowHolds => (grew || !shrank, !grew && shrank),
            Nested::ThenHolds => (!shrank && grew, shrank || !grew),
            Nested::Alike => (true, true),
        };
        for ((part, whole), _) in [((before, now), forth), ((now, before), back)].iter().filter(|(_, so)| *so)
        {
            if self.linked.insert((*part, *whole)) {
                self.release.earlier(*part, *whole);
            }
        }
        let speaks_of = self.speaks_of.get(&now).cloned().unwrap_or_default();
        self.speaks_of.entry(before).or_default().extend(speaks_of);
    }

    /// The series with the new summary, as far as it is not hidden. Where not even the number of cases is
    /// told, there could be one more of any kind.
    pub(super) fn showing(
        &self,
        counted: &Counted<'_>,
        new: &Entered<'_>,
        hidden: &BTreeSet<Count>,
    ) -> Release {
        let mut release = self.release.clone();
        let cells = &new.whole.cells;
        let shown = cells.iter().filter(|(count, _)| !hidden.contains(count));
        shown.for_each(|(_, cell)| release.show(*cell));
        let silent = counted.silent(|count| !hidden.contains(count));
        silent.iter().filter_map(|count| cells.get(count)).for_each(|cell| release.never_told(*cell));
        for quartile in counted.ranks.printed.keys().filter(|quartile| !hidden.contains(quartile)) {
            say_rank(&mut release, counted, cells, *quartile);
        }
        let rounded = |(share, of): &(&Count, &Share)| !hidden.contains(share) && hidden.contains(&of.had);
        for (share, _) in counted.shares.iter().filter(rounded) {
            say_share(&mut release, counted, cells, *share);
        }
        if hidden.contains(&Count::of_network(Measure::Cases)) {
            for raised in one_more(counted) {
                let all = raised.iter().filter_map(|count| cells.get(count));
                let has_all = |part: &&Stretch| raised.iter().all(|count| part.cells.contains_key(count));
                // It happened in one of the stretches.
                let part = new.parts.iter().find(has_all).into_iter();
                let of_part = part.flat_map(|part| raised.iter().filter_map(|count| part.cells.get(count)));
                release.imagine(all.chain(of_part).copied());
            }
        }
        release
    }

    /// Puts what some centres contribute where they stand among all.
    fn spread(&self, centres: &[CentreCode], counts: &[u64]) -> Vec<u64> {
        let of = |centre: &CentreCode| {
            let found = centres.binary_search(centre).ok();
            found.and_then(|place| counts.get(place)).copied().unwrap_or(0)
        };
        self.centres.iter().map(of).collect()
    }

    /// The same as far as they are some centres'.
    pub(super) fn spread_of(
        &self,
        (centres, counts): (&[CentreCode], &[u64]),
        is_of: impl Fn(CentreCode) -> bool,
    ) -> Vec<u64> {
        let spread = self.spread(centres, counts).into_iter().zip(&self.centres);
        spread.map(|(count, centre)| if is_of(*centre) { count } else { 0 }).collect()
    }
}

/// Says what a printed quartile tells of the doses below its edges.
fn say_rank(release: &mut Release, counted: &Counted<'_>, cells: &Cells, quartile: Count) {
    let Measure::Quartile(dose, place) = quartile.measure else { return };
    let reported = counted.value(Count { measure: dose.reported(), ..quartile });
    let Some((of, (below, up_to))) = reported.zip(counted.ranks.edges_of(quartile)) else { return };
    let (least, most) = place.ranks(i64::try_from(of).unwrap_or(i64::MAX));
    let edges = [(Some(up_to), Values::at_least(least)), (below, Values::at_most(most))];
    for (edge, allowed) in edges {
        if let Some(cell) = edge.and_then(|edge| cells.get(&edge)) {
            release.say(Source::Rank, vec![(*cell, 1)], allowed);
        }
    }
}

/// Says what a rounded share tells of the cases that had the outcome.
fn say_share(release: &mut Release, counted: &Counted<'_>, cells: &Cells, share: Count) {
    let Some(of) = counted.shares.get(&share) else { return };
    if let Some((known, cell)) = counted.value(of.known).zip(cells.get(&of.had)) {
        release.say(Source::Share, vec![(*cell, 1)], Values::of(of.alike(known)));
    }
}

/// What a count of a period counts, and when.
fn what(count: Count, period: Period) -> What {
    let (part, when) = match count.part {
        Part::Year(year) => (Part::All, Period::year(year).within(period)),
        part => (part, period),
    };
    ((count.measure, part, count.strategy), when)
}
