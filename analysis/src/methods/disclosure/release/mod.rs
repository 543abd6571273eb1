//! Everything that was ever published, as one system: counts that nobody outside
//! knows, and what the published numbers say of them.

mod printed;
mod values;

pub use printed::{percent, wilson};
pub use values::Values;

use super::table::Meaning;
use std::collections::BTreeSet;

/// A count of a release, by its position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CellId(pub(super) usize);

/// A count, with what each centre contributes to it.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) name: String,
    pub(super) meaning: Meaning,
    pub(super) by_centre: Vec<u64>,
    /// The centre whose own column this is.
    pub(super) column_of: Option<usize>,
    /// The whole network, all kinds of everything together.
    pub(super) of_network: bool,
    /// An earlier release showed it; that cannot be taken back.
    pub(super) was_shown: bool,
    /// No release would ever show it: it is guarded where it is a secret, and narrow for nobody's sake.
    pub(super) never_told: bool,
}

impl Cell {
    pub(super) fn count(&self) -> u64 {
        self.by_centre.iter().sum()
    }
}

/// Why one count holds another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Within {
    /// The part counts cases of a group.
    Group,
    /// The part counted the same before, when there were fewer cases.
    Earlier,
}

/// One count that is part of another, at each centre.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) part: CellId,
    pub(super) whole: CellId,
    pub(super) within: Within,
}

/// Where a statement stands, for the words of a refusal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// A count is shown.
    Count,
    /// Counts add up to a total.
    Total,
    /// A share, rounded.
    Share,
    /// An interval around a share.
    Interval,
    /// A median or another rank.
    Rank,
    /// A number in a sentence.
    Text,
}

impl Source {
    /// The source in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Count => "a count that is shown",
            Self::Total => "the totals",
            Self::Share => "a rounded share",
            Self::Interval => "an interval around a share",
            Self::Rank => "a median or another rank",
            Self::Text => "a number in the text",
        }
    }
}

/// A whole and the counts of its part that agree with what was printed.
pub type Way = (i64, Values);

/// What a published number says.
#[derive(Clone, Debug)]
pub(super) enum Says {
    /// A weighted sum of counts is one of some numbers.
    Sum { terms: Vec<(CellId, i64)>, allowed: Values },
    /// A part and its whole are one of some pairs, in order of the whole.
    Ways { part: CellId, whole: CellId, ways: Vec<Way> },
}

/// A statement with its source.
#[derive(Clone, Debug)]
pub(super) struct Statement {
    pub(super) source: Source,
    pub(super) says: Says,
}

impl Statement {
    /// The count that it shows, if it does.
    pub(super) fn shows(&self) -> Option<CellId> {
        match &self.says {
            Says::Sum { terms, .. } if self.source == Source::Count => terms.first().map(|(cell, _)| *cell),
            Says::Sum { .. } | Says::Ways { .. } => None,
        }
    }

    fn speaks_of(&self, cell: CellId) -> bool {
        match &self.says {
            Says::Sum { terms, .. } => terms.iter().any(|(term, _)| *term == cell),
            Says::Ways { part, whole, .. } => *part == cell || *whole == cell,
        }
    }
}

/// A release together with all before it: counts, how they hold each other, and
/// what is published of them.
#[derive(Clone, Debug, Default)]
pub struct Release {
    pub(super) centres: Vec<String>,
    pub(super) cells: Vec<Cell>,
    pub(super) links: Vec<Link>,
    pub(super) statements: Vec<Statement>,
    /// Weighted sums that are not below zero, at each centre.
    pub(super) never_below: Vec<Vec<(CellId, i64)>>,
    /// Counts that one case more would raise together.
    pub(super) imagined: Vec<BTreeSet<CellId>>,
}

impl Release {
    /// Nothing yet, of some centres.
    pub fn of_centres(names: impl IntoIterator<Item = impl Into<String>>) -> Self {
        Self { centres: names.into_iter().map(Into::into).collect(), ..Self::default() }
    }

    /// Adds a count to which each centre, in order, contributes.
    pub fn count(&mut self, name: impl Into<String>, meaning: Meaning, by_centre: Vec<u64>) -> CellId {
        let cell = Cell {
            name: name.into(),
            meaning,
            by_centre,
            column_of: None,
            of_network: false,
            was_shown: false,
            never_told: false,
        };
        self.cells.push(cell);
        CellId(self.cells.len() - 1)
    }

    /// Adds a count of one centre alone, and everyone knows which.
    pub fn column(&mut self, name: impl Into<String>, meaning: Meaning, centre: usize, count: u64) -> CellId {
        let by_centre = (0..self.centres.len()).map(|own| if own == centre { count } else { 0 }).collect();
        let cell = self.count(name, meaning, by_centre);
        self.cells[cell.0].column_of = Some(centre);
        cell
    }

    /// Marks a count as one of the whole network.
    pub fn of_network(&mut self, cell: CellId) {
        self.cells[cell.0].of_network = true;
    }

    /// Says that no release would ever show a count, so that hiding it tells nothing.
    pub fn never_told(&mut self, cell: CellId) {
        self.cells[cell.0].never_told = true;
    }

    /// Says that a count is part of a group.
    pub fn part(&mut self, part: CellId, whole: CellId) {
        self.links.push(Link { part, whole, within: Within::Group });
    }

    /// Says that a count of an earlier release counted the same. Where no centre
    /// has fewer than before, everyone knows that the earlier is part of the later.
    pub fn earlier(&mut self, before: CellId, now: CellId) {
        self.links.push(Link { part: before, whole: now, within: Within::Earlier });
    }

    /// Says that counts add up to a total, at each centre.
    pub fn total(&mut self, whole: CellId, parts: impl IntoIterator<Item = CellId>) {
        let terms = parts.into_iter().map(|part| (part, 1)).chain([(whole, -1)]).collect();
        self.say(Source::Total, terms, Values::exactly(0));
    }

    /// Says that a weighted sum of counts is not below zero, at each centre.
    pub fn never_below_zero(&mut self, terms: Vec<(CellId, i64)>) {
        self.never_below.push(terms);
    }

    /// Says which counts one case more would raise together. It tells readers nothing: it helps the
    /// attack to a world, which is checked like every other.
    pub fn imagine(&mut self, raised: impl IntoIterator<Item = CellId>) {
        self.imagined.push(raised.into_iter().collect());
    }

    /// Shows a count.
    pub fn show(&mut self, cell: CellId) {
        let count = Values::exactly(self.truth(cell));
        self.say(Source::Count, vec![(cell, 1)], count);
    }

    /// Shows a count as an earlier release did.
    pub fn was_shown(&mut self, cell: CellId) {
        self.cells[cell.0].was_shown = true;
        self.show(cell);
    }

    /// Says that a weighted sum of counts is one of some numbers.
    pub fn say(&mut self, source: Source, terms: Vec<(CellId, i64)>, allowed: Values) {
        self.statements.push(Statement { source, says: Says::Sum { terms, allowed } });
    }

    /// Prints something of a part and its whole, from which readers learn every pair that prints alike.
    /// They know the whole to be one of `wholes`.
    pub fn print(
        &mut self,
        source: Source,
        (part, whole): (CellId, CellId),
        wholes: impl IntoIterator<Item = u64>,
        prints: impl Fn(u64, u64) -> String,
    ) {
        let printed = prints(self.cells[part.0].count(), self.cells[whole.0].count());
        let ways = printed::ways(&printed, wholes, prints);
        self.statements.push(Statement { source, says: Says::Ways { part, whole, ways } });
    }

    /// Says that a value stands at a rank: of a group's cases at least `share` in `of` lie at or
    /// below it, and no more than that below it.
    pub fn rank(&mut self, whole: CellId, (below, at_or_below): (CellId, CellId), (share, of): (i64, i64)) {
        self.say(Source::Rank, vec![(at_or_below, of), (whole, -share)], Values::at_least(0));
        self.say(Source::Rank, vec![(below, of), (whole, -share)], Values::at_most(0));
    }

    /// What a count is.
    pub(super) fn truth(&self, cell: CellId) -> i64 {
        i64::try_from(self.cells[cell.0].count()).unwrap_or(i64::MAX)
    }

    /// Whether no centre has fewer in the whole than in the part, so that the part is one.
    pub(super) fn holds_everywhere(&self, link: Link) -> bool {
        let (part, whole) = (&self.cells[link.part.0].by_centre, &self.cells[link.whole.0].by_centre);
        part.iter().zip(whole).all(|(part, whole)| part <= whole)
    }

    /// Whether a weighted sum of counts is not below zero at any centre.
    pub fn is_never_below_zero(&self, terms: &[(CellId, i64)]) -> bool {
        let count =
            |cell: CellId, centre: usize| self.cells[cell.0].by_centre.get(centre).copied().unwrap_or(0);
        let as_count = |count: u64| i64::try_from(count).unwrap_or(i64::MAX);
        (0..self.centres.len()).all(|centre| {
            terms.iter().map(|(cell, weight)| weight * as_count(count(*cell, centre))).sum::<i64>() >= 0
        })
    }

    /// What is published that speaks of some counts, in words.
    pub(super) fn told_by(&self, cells: &[CellId]) -> Vec<String> {
        let speaks = |statement: &&Statement| cells.iter().any(|cell| statement.speaks_of(*cell));
        let sources: BTreeSet<Source> =
            self.statements.iter().filter(speaks).map(|statement| statement.source).collect();
        sources.into_iter().map(|source| source.words().to_owned()).collect()
    }

    /// The first statement or link that is not true of the counts.
    pub(super) fn untrue(&self) -> Option<String> {
        let truth = |cell: CellId| self.truth(cell);
        let statement = self.statements.iter().find(|statement| match &statement.says {
            Says::Sum { terms, allowed } => {
                !allowed.contains(terms.iter().map(|(cell, weight)| weight * truth(*cell)).sum())
            }
            Says::Ways { part, whole, ways } => {
                let way = ways.iter().find(|(number, _)| *number == truth(*whole));
                way.is_none_or(|(_, parts)| !parts.contains(truth(*part)))
            }
        });
        let group = |link: &&Link| link.within == Within::Group && !self.holds_everywhere(**link);
        let link = self.links.iter().find(group).map(|link| link.part);
        let below = self.never_below.iter().find(|terms| !self.is_never_below_zero(terms));
        let cell = link.or_else(|| below?.first().map(|(cell, _)| *cell));
        statement
            .map(|statement| statement.source.words().to_owned())
            .or_else(|| cell.map(|cell| self.cells[cell.0].name.clone()))
    }
}
