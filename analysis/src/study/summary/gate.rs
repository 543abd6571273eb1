//! What of a summary may be shown: everything that was ever published, and the new summary with
//! it, is attacked as one release from every seat, until the attack learns too little.

use super::counted::{Count, Counted, Measure, Part};
use super::imagined::one_more;
use super::{SafetySummary, SummaryError};
use crate::methods::disclosure::{
    CellId, Known, Learnt, Profile, Release, Source, Values, attack, attack_to_hide, protect,
};
use crate::study::cohort::Cohort;
use crate::study::published::OneOrAll;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{Coded, ComplicationClass, HarmTier, Strategy};
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
    let mut series = Series::of(counted, earlier);
    let before = attack(&series.release, profile)?;
    let new = series.add(counted, "");
    series.link_to_earlier(counted, earlier, &new);
    let mut hidden = BTreeSet::new();
    let mut known: Option<Learnt> = None;
    loop {
        hidden = hide(counted, profile, hidden);
        let release = series.showing(counted, &new, &hidden);
        let mut learnt =
            attack_to_hide(&release, profile, Known { lost: &before, less_hidden: known.as_ref() })?;
        if learnt.passes() && known.is_some() {
            // Whoever attacks it later begins anew, and must find the same.
            learnt = attack(&release, profile)?.lost_before(&before);
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
    let mut series = Series::of(counted, earlier);
    let before = attack(&series.release, profile)?;
    let new = series.add(counted, "");
    series.link_to_earlier(counted, earlier, &new);
    let hidden = counted.everything().filter(|count| !shown.contains_key(count)).collect();
    let learnt = attack(&series.showing(counted, &new, &hidden), profile)?.lost_before(&before);
    if learnt.passes() { Ok(learnt) } else { Err(SummaryError::Refused(learnt)) }
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

/// Where the counts of one summary stand in the release.
type Cells = BTreeMap<Count, CellId>;

/// All summaries, as one release.
struct Series {
    release: Release,
    /// The centres of all of them.
    centres: Vec<CentreCode>,
    /// The cells of the summaries before, in their order.
    before: Vec<Cells>,
    /// For each cell the counts of the new summary that it is, or was before.
    speaks_of: BTreeMap<CellId, BTreeSet<Count>>,
    /// For each count of the new summary those that stand in one statement with it.
    beside: BTreeMap<Count, BTreeSet<Count>>,
}

impl Series {
    /// What was published before, with the centres of the new summary beside.
    fn of(counted: &Counted<'_>, earlier: &[Before<'_>]) -> Self {
        let all = earlier.iter().map(|before| &before.counted).chain([counted]);
        let centres: BTreeSet<CentreCode> = all.flat_map(|counted| counted.centres.iter().copied()).collect();
        let centres: Vec<CentreCode> = centres.into_iter().collect();
        let mut series = Self {
            release: Release::of_centres(centres.iter().map(ToString::to_string)),
            centres,
            before: Vec::new(),
            speaks_of: BTreeMap::new(),
            beside: BTreeMap::new(),
        };
        for before in earlier {
            let cells = series.add(&before.counted, before.name);
            for count in before.shown.keys() {
                cells.get(count).into_iter().for_each(|cell| series.release.was_shown(*cell));
                say_rank(&mut series.release, &before.counted, &cells, *count);
            }
            series.before.push(cells);
        }
        series.beside.clear();
        series.speaks_of.clear();
        series
    }

    /// Adds the counts of a summary and how they hold each other.
    fn add(&mut self, counted: &Counted<'_>, name: &str) -> Cells {
        let mut cells = Cells::new();
        for (count, by_centre) in &counted.counts {
            let by_centre = self.spread(&counted.centres, by_centre);
            let called = if name.is_empty() { count.name() } else { format!("{} ({name})", count.name()) };
            let cell = self.release.count(called, count.measure.meaning(), by_centre);
            if count.is_of_network() {
                self.release.of_network(cell);
            }
            self.speaks_of.entry(cell).or_default().insert(*count);
            cells.insert(*count, cell);
        }
        for quartile in counted.ranks.printed.keys() {
            let edges = counted.ranks.edges_of(*quartile);
            let edges = edges.into_iter().flat_map(|(below, up_to)| below.into_iter().chain([up_to]));
            for cell in edges.filter_map(|edge| cells.get(&edge)) {
                self.speaks_of.entry(*cell).or_default().insert(*quartile);
            }
        }
        let mut said = BTreeSet::new();
        said.extend(counted.ranks.nested().into_iter().map(|(part, whole)| Said::Part(part, whole)));
        said.extend(counted.ranks.totals().into_iter().map(|(whole, parts)| Said::Total(whole, parts)));
        for block in &counted.blocks {
            let grid = block.tables.grid();
            let (last_row, last_column) = (grid.height() - 1, grid.width() - 1);
            for (table, own) in block.tables.tables().iter().enumerate() {
                let at = |row: usize, column: usize| block.at(table, grid.place(row, column));
                for row in (0..grid.height()).filter(|_| block.is_by_strategy()) {
                    said.insert(Said::Total(
                        at(row, last_column),
                        (0..last_column).map(|column| at(row, column)).collect(),
                    ));
                }
                for column in (0..grid.width()).filter(|_| block.is_divided()) {
                    said.insert(Said::Total(
                        at(last_row, column),
                        (0..last_row).map(|row| at(row, column)).collect(),
                    ));
                }
                for whole in own.within() {
                    said.extend(
                        (0..grid.cells())
                            .map(|place| Said::Part(block.at(table, place), block.at(*whole, place))),
                    );
                }
            }
        }
        said.extend(inequalities(counted));
        said.iter().for_each(|said| self.say(said, &cells));
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

    /// Says which counts of earlier summaries counted the same in more or fewer cases.
    fn link_to_earlier(&mut self, counted: &Counted<'_>, earlier: &[Before<'_>], new: &Cells) {
        let mut now: BTreeMap<_, Vec<(Count, CellId)>> = BTreeMap::new();
        for (count, cell) in new {
            now.entry(what(*count)).or_default().push((*count, *cell));
        }
        for (before, cells) in earlier.iter().zip(std::mem::take(&mut self.before)) {
            for (count, cell) in cells {
                let then = years(count, &before.counted);
                for (same, of_same) in now.get(&what(count)).into_iter().flatten() {
                    let of_now = years(*same, counted);
                    if holds(of_now, then) {
                        self.release.earlier(cell, *of_same);
                    } else if holds(then, of_now) {
                        self.release.earlier(*of_same, cell);
                    } else {
                        continue;
                    }
                    let speaks_of = self.speaks_of.get(of_same).cloned().unwrap_or_default();
                    self.speaks_of.entry(cell).or_default().extend(speaks_of);
                }
            }
        }
    }

    /// The series with the new summary, as far as it is not hidden. Where not even the number of cases is
    /// told, there could be one more of any kind.
    fn showing(&self, counted: &Counted<'_>, new: &Cells, hidden: &BTreeSet<Count>) -> Release {
        let mut release = self.release.clone();
        let shown = new.iter().filter(|(count, _)| !hidden.contains(count));
        shown.for_each(|(_, cell)| release.show(*cell));
        for quartile in counted.ranks.printed.keys().filter(|quartile| !hidden.contains(quartile)) {
            say_rank(&mut release, counted, new, *quartile);
        }
        if hidden.contains(&Count::of_network(Measure::Cases)) {
            for raised in one_more(counted) {
                release.imagine(raised.iter().filter_map(|count| new.get(count)).copied());
            }
        }
        release
    }

    /// For each number that is held too narrowly the counts shown that say it, or other quartiles of the
    /// same doses, or the smallest of the nearest counts that are tied to it.
    fn more_to_withhold(
        &self,
        learnt: &Learnt,
        counted: &Counted<'_>,
        hidden: &BTreeSet<Count>,
    ) -> BTreeSet<Count> {
        let mut more = BTreeSet::new();
        for row in learnt.narrow_rows() {
            let own: BTreeSet<Count> =
                row.cells.iter().filter_map(|cell| self.speaks_of.get(cell)).flatten().copied().collect();
            let shown = |counts: &mut dyn Iterator<Item = Count>| -> Vec<Count> {
                counts.filter(|count| !hidden.contains(count)).collect()
            };
            let told = shown(&mut own.iter().copied());
            let quartiles = shown(&mut counted.ranks.beside(&own));
            // A quartile is less to lose than the number of doses.
            match (quartiles.is_empty(), told.is_empty()) {
                (false, _) => more.extend(quartiles),
                (true, false) => more.extend(told),
                (true, true) => more.extend(self.nearest_shown(own, counted, hidden)),
            }
        }
        more
    }

    /// The smallest of the nearest counts shown that are tied to some: of what they count themselves, or
    /// else of anything.
    fn nearest_shown(
        &self,
        own: BTreeSet<Count>,
        counted: &Counted<'_>,
        hidden: &BTreeSet<Count>,
    ) -> Option<Count> {
        let measures: BTreeSet<Measure> = own.iter().map(|count| count.measure).collect();
        let alike = |count: &Count| measures.contains(&count.measure);
        let search = |may: &dyn Fn(&Count) -> bool| self.nearest(own.clone(), counted, hidden, may);
        search(&alike).or_else(|| search(&|_| true))
    }

    fn nearest(
        &self,
        own: BTreeSet<Count>,
        counted: &Counted<'_>,
        hidden: &BTreeSet<Count>,
        may: &dyn Fn(&Count) -> bool,
    ) -> Option<Count> {
        let mut seen = own.clone();
        let mut ring: Vec<Count> = own.into_iter().collect();
        while !ring.is_empty() {
            let next = ring.iter().filter_map(|count| self.beside.get(count)).flatten();
            let next: BTreeSet<Count> =
                next.filter(|count| may(count) && !seen.contains(count)).copied().collect();
            let shown = next.iter().filter(|count| !hidden.contains(count));
            let value = |count: &Count| counted.value(*count).unwrap_or(0);
            // The cases themselves are what readers want most.
            let dear = |count: &Count| (count.measure == Measure::Cases, value(count) == 0, value(count));
            let cheapest = shown.min_by_key(|count| (dear(count), **count));
            if let Some(count) = cheapest {
                return Some(*count);
            }
            seen.extend(next.iter().copied());
            ring = next.into_iter().collect();
        }
        None
    }

    /// Puts what some centres contribute where they stand among all.
    fn spread(&self, centres: &[CentreCode], counts: &[u64]) -> Vec<u64> {
        let of = |centre: &CentreCode| {
            let found = centres.binary_search(centre).ok();
            found.and_then(|place| counts.get(place)).copied().unwrap_or(0)
        };
        self.centres.iter().map(of).collect()
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

/// How counts hold each other, as readers know it.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Said {
    Total(Count, Vec<Count>),
    Part(Count, Count),
    NeverBelowZero(Vec<(Count, i64)>),
}

impl Said {
    fn counts(&self) -> Vec<Count> {
        match self {
            Self::Total(whole, parts) => [*whole].iter().chain(parts).copied().collect(),
            Self::Part(part, whole) => vec![*part, *whole],
            Self::NeverBelowZero(terms) => terms.iter().map(|(count, _)| *count).collect(),
        }
    }
}

/// What readers know beside totals and parts: every complication has a class and was shown by
/// something, and a dose is reported of a case with X-ray only.
fn inequalities(counted: &Counted<'_>) -> Vec<Said> {
    let covered = |whole: Measure, parts: Vec<Measure>| {
        let terms = parts.into_iter().map(|part| (Count::of_network(part), 1));
        Said::NeverBelowZero(terms.chain([(Count::of_network(whole), -1)]).collect())
    };
    let tiers = [
        (HarmTier::Major, Measure::Major),
        (HarmTier::Minor, Measure::Minor),
        (HarmTier::ImagingOnly, Measure::ImagingOnly),
    ];
    let classes = tiers.into_iter().map(|(tier, whole)| {
        let parts = ComplicationClass::all().iter().map(|class| Measure::Class(*class, tier));
        covered(whole, parts.collect())
    });
    let routes = tiers.into_iter().map(|(tier, whole)| {
        covered(whole, super::counted::routes().map(|first| Measure::First(first, tier)).collect())
    });
    let doses = [Measure::AirKermaReported, Measure::KapReported].into_iter().flat_map(|reported| {
        let strategies = OneOrAll::<Strategy>::each();
        strategies.map(move |strategy| {
            let count = |measure| Count { measure, part: Part::All, strategy };
            Said::NeverBelowZero(vec![
                (count(Measure::Cases), 1),
                (count(Measure::NoXRay), -1),
                (count(reported), -1),
            ])
        })
    });
    let said = classes.chain(routes).chain(doses);
    said.filter(|said| said.counts().iter().all(|count| counted.counts.contains_key(count))).collect()
}

/// What a count counts whatever its years: a year is all cases of that year.
fn what(count: Count) -> (Measure, Part, OneOrAll<Strategy>) {
    let part = match count.part {
        Part::Year(_) => Part::All,
        part => part,
    };
    (count.measure, part, count.strategy)
}

/// The years of a count's cases, both ends in them.
fn years(count: Count, counted: &Counted<'_>) -> (u16, u16) {
    match count.part {
        Part::Year(year) => (year, year),
        _ => (counted.years.first.unwrap_or(0), counted.years.last.unwrap_or(u16::MAX)),
    }
}

fn holds(outer: (u16, u16), inner: (u16, u16)) -> bool {
    outer.0 <= inner.0 && inner.1 <= outer.1
}
