//! The tables that a design asks for, counted: several of them over the same parts of the cases and
//! the same strategies make a block.

use super::super::published::OneOrAll;
use super::arms;
use super::counted::{Asked, BASE, Count, Measure, answers, routes};
use super::part::Part;
use super::placed::{Logs, Placed};
use crate::methods::disclosure::{Grid, Table, TableError, Tables};
use crate::study::staff::badges;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Period;
use quietbeam_schema::vocabulary::{
    Coded, ComplicationClass, HarmTier, ProcedureGroup, Strategy, SummaryTable,
};
use std::collections::BTreeSet;

/// What is counted.
#[derive(Clone, Copy)]
pub(super) struct Given<'c> {
    pub(super) cases: &'c [Placed<'c>],
    pub(super) logs: &'c Logs,
    pub(super) period: Period,
    /// In their order.
    pub(super) centres: &'c [CentreCode],
}

/// Tables over the same parts of the cases and the same strategies.
pub(super) struct Block {
    parts: Vec<Part>,
    strategies: Vec<OneOrAll<Strategy>>,
    pub(super) measures: Vec<Measure>,
    pub(super) tables: Tables,
    pub(super) comes: Comes,
}

/// When a table may tell its numbers: a later one only as far as it costs none before it any.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Comes {
    First,
    Last,
    /// Behind them, and where it can tell nothing it is left out.
    AfterTheLast,
}

/// A block before anything is counted.
pub(super) struct Shape {
    /// Parts that make up all cases; nothing where these are not divided.
    parts: Vec<Part>,
    by_strategy: bool,
    measures: Vec<Measure>,
    comes: Comes,
}

/// For each measure and centre the count of each inner cell, row by row.
type Inner = Vec<Vec<Vec<u64>>>;

impl Block {
    pub(super) fn count(given: Given<'_>, shape: Shape) -> Result<Self, TableError> {
        let Shape { parts, by_strategy, measures, comes } = shape;
        let parts = if parts.is_empty() { vec![Part::All] } else { parts };
        let strategies: Vec<OneOrAll<Strategy>> = match by_strategy {
            true => Strategy::all().iter().copied().map(OneOrAll::One).collect(),
            false => vec![OneOrAll::All],
        };
        let grid = Grid::new(parts.len(), strategies.len());
        let counts = inner(given, (&parts, &strategies, &measures));
        let table = |measure: Measure, within, counts: &Vec<Vec<u64>>| {
            Table::of_centres(grid, measure.meaning(), within, counts.iter().map(Vec::as_slice))
        };
        let is_part = |part: &Vec<Vec<u64>>, whole: &Vec<Vec<u64>>| {
            part.iter().flatten().zip(whole.iter().flatten()).all(|(part, whole)| part <= whole)
        };
        let tables = measures.iter().zip(&counts).map(|(measure, own)| {
            let wholes = measure.within();
            let wholes = wholes.iter().filter_map(|whole| measures.iter().position(|other| other == whole));
            table(*measure, wholes.filter(|whole| is_part(own, &counts[*whole])).collect(), own)
        });
        let tables = Tables::new(grid, tables.collect())?;
        Ok(Self { parts, strategies, measures, tables, comes })
    }

    /// The count at a place of a table.
    pub(super) fn at(&self, table: usize, place: usize) -> Count {
        let (row, column) = self.tables.grid().row_and_column(place);
        Count {
            measure: self.measures[table],
            part: self.parts.get(row).copied().filter(|_| self.is_divided()).unwrap_or(Part::All),
            strategy: self.strategies.get(column).copied().unwrap_or(OneOrAll::All),
        }
    }

    /// Whether it divides the cases, so that its rows add up.
    pub(super) fn is_divided(&self) -> bool {
        self.parts != [Part::All]
    }

    /// Whether it divides them by strategy.
    pub(super) fn is_by_strategy(&self) -> bool {
        self.strategies != [OneOrAll::All]
    }

    /// Every table and place with its count.
    pub(super) fn everywhere(&self) -> impl Iterator<Item = ((usize, usize), Count)> {
        let cells = self.tables.grid().cells();
        (0..self.measures.len())
            .flat_map(move |table| (0..cells).map(move |place| (table, place)))
            .map(|(table, place)| ((table, place), self.at(table, place)))
    }
}

fn inner(
    given: Given<'_>,
    (parts, strategies, measures): (&[Part], &[OneOrAll<Strategy>], &[Measure]),
) -> Inner {
    let Given { cases, logs, period, centres } = given;
    let width = strategies.len();
    let by_strategy = strategies != [OneOrAll::All];
    let mut counts = vec![vec![vec![0_u64; parts.len() * width]; centres.len()]; measures.len()];
    for case in cases {
        let row = parts.iter().position(|part| part.holds(case));
        let column = if by_strategy { case.intended.position() } else { 0 };
        let centre = centres.binary_search(&case.centre).ok();
        let Some((row, centre)) = row.zip(centre) else { continue };
        for (measure, counts) in measures.iter().zip(&mut counts) {
            counts[centre][row * width + column] += u64::from(measure.counts(case));
        }
    }
    let place = |of: Measure| measures.iter().position(|measure| *measure == of);
    let Some((eligible, not_sent)) = place(Measure::Eligible).zip(place(Measure::NotSent)) else {
        return counts;
    };
    for (centre, group, of_line) in logs.lines(period) {
        let row = parts.iter().position(|part| *part == Part::Group(group));
        if let Some((row, centre)) = row.zip(centres.binary_search(&centre).ok()) {
            counts[eligible][centre][row * width] += of_line.eligible;
            counts[not_sent][centre][row * width] += of_line.eligible - of_line.sent_in;
        }
    }
    counts
}

/// The tables that a design asks for; the one that every summary has comes first.
pub(super) fn shapes(asked: Asked<'_>, cases: &[Placed<'_>]) -> Vec<Shape> {
    let base = Shape { parts: groups(), by_strategy: true, measures: BASE.to_vec(), comes: Comes::First };
    let chosen = SummaryTable::all().iter().filter(|table| asked.design.has(**table));
    let chosen = chosen.map(|table| shape(*table, cases));
    let compared = asked.planned().into_iter().flat_map(|(plan, scope)| {
        let per_protocol = asked.per_protocol.then(|| arms::parts_per_protocol(scope));
        let per_protocol = per_protocol.map(|parts| (parts, Comes::AfterTheLast));
        let measures = arms::measures(plan);
        let parts = [(arms::parts(scope), Comes::Last)].into_iter().chain(per_protocol);
        let shape =
            move |(parts, comes)| Shape { parts, by_strategy: false, measures: measures.clone(), comes };
        parts.map(shape)
    });
    [base].into_iter().chain(chosen).chain(compared).collect()
}

fn groups() -> Vec<Part> {
    ProcedureGroup::all().iter().copied().map(Part::Group).collect()
}

fn shape(table: SummaryTable, cases: &[Placed<'_>]) -> Shape {
    let tiers = HarmTier::all().iter().copied();
    let of_network = |parts: Vec<Measure>| {
        let wholes = [Measure::Cases, Measure::Major, Measure::Minor, Measure::ImagingOnly];
        let measures = wholes.into_iter().chain(parts).collect();
        Shape { parts: vec![], by_strategy: false, measures, comes: Comes::First }
    };
    let by_strategy = |measures: &[Measure]| Shape {
        parts: vec![],
        by_strategy: true,
        measures: [Measure::Cases].iter().chain(measures).copied().collect(),
        comes: Comes::First,
    };
    let divided = |parts: Vec<Part>, measures: &[Measure]| Shape {
        parts,
        by_strategy: false,
        measures: measures.to_vec(),
        comes: if table == SummaryTable::Capture { Comes::Last } else { Comes::First },
    };
    match table {
        SummaryTable::ComplicationClass => {
            let of = |tier| ComplicationClass::all().iter().map(move |class| Measure::Class(*class, tier));
            of_network(tiers.flat_map(of).collect())
        }
        SummaryTable::DetectionRoute => of_network(
            tiers.flat_map(|tier| routes().map(move |first| Measure::First(first, tier))).collect(),
        ),
        SummaryTable::Year => {
            let years = || cases.iter().map(|case| case.period.year());
            let all = years().min().zip(years().max()).map(|(first, last)| first..=last);
            divided(all.into_iter().flatten().map(Part::Year).collect(), &BASE[..6])
        }
        SummaryTable::Region => {
            let regions: BTreeSet<Part> = cases.iter().map(|case| Part::Region(case.region)).collect();
            divided(regions.into_iter().collect(), &BASE[..6])
        }
        SummaryTable::Dose => {
            by_strategy(&[Measure::NoXRay, Measure::AirKermaReported, Measure::KapReported])
        }
        SummaryTable::Staff => {
            let parts = answers().map(Part::Lead).collect();
            Shape { parts, by_strategy: true, measures: vec![Measure::Cases], comes: Comes::First }
        }
        SummaryTable::StaffDose => {
            let read = badges().map(|(role, position)| Measure::BadgeRead(role, position));
            let measures = [Measure::Cases, Measure::NoXRay].into_iter().chain(read).collect();
            Shape { parts: vec![], by_strategy: false, measures, comes: Comes::First }
        }
        SummaryTable::Completeness => by_strategy(&[Measure::OutcomeKnown, Measure::DeclaredBefore]),
        SummaryTable::Capture => divided(
            groups(),
            &[Measure::Cases, Measure::Eligible, Measure::Logged, Measure::NotSent, Measure::Unlogged],
        ),
    }
}
