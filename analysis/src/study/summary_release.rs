//! A safety summary and all before it as one release to be attacked.

use super::cohort::Cohort;
use super::published::{OneOrAll, Published};
use super::summary::{Counted, SafetySummary, SummaryError};
use crate::methods::disclosure::{CellId, Grid, Learnt, Mask, Profile, Release, Tables, attack, protect};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{ProcedureGroup, Strategy};
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

/// What the tables of a summary count, in their order.
const COUNTED: [&str; 7] = [
    "cases",
    "cases without X-ray",
    "acute successes",
    "major complications",
    "minor complications",
    "findings on imaging only",
    "drained effusions",
];

/// What of the new summary may be shown, and what every seat could learn from it.
pub(super) struct Gate {
    pub(super) mask: Mask,
    pub(super) learnt: Learnt,
}

/// Hides counts until the attack on the summary and all before it passes.
pub(super) fn gate(
    counted: &Counted,
    profile: Profile,
    earlier: &[(&Earlier<'_>, Counted)],
) -> Result<Gate, SummaryError> {
    let series = Series::of(counted, earlier);
    let before = attack(&series.release, profile)?;
    let mut withheld = BTreeSet::new();
    loop {
        let mask = protect(&counted.tables, profile, &withheld);
        let (release, places) = series.with(counted, &mask);
        let learnt = attack(&release, profile)?.lost_before(&before);
        if learnt.passes() {
            return Ok(Gate { mask, learnt });
        }
        let more = more_to_withhold(&learnt, &places, &counted.tables, &mask);
        if more.is_empty() {
            return Err(SummaryError::Refused(learnt));
        }
        withheld.extend(more);
    }
}

/// Where the cells of a release stand in the tables of a summary.
type Places = BTreeMap<CellId, (usize, usize)>;

/// For each number that is held too narrowly the counts shown that say it, or one that stands in line
/// with it.
fn more_to_withhold(
    learnt: &Learnt,
    places: &Places,
    tables: &Tables,
    mask: &Mask,
) -> BTreeSet<(usize, usize)> {
    let grid = tables.grid();
    let is_shown = |(table, place): &(usize, usize)| !mask.hides(*table, *place);
    let mut more = BTreeSet::new();
    for row in learnt.narrow_rows() {
        let own: Vec<(usize, usize)> =
            row.cells.iter().filter_map(|cell| places.get(cell)).copied().collect();
        let told: Vec<(usize, usize)> = own.iter().copied().filter(is_shown).collect();
        if !told.is_empty() {
            more.extend(told);
            continue;
        }
        let in_line = own.iter().flat_map(|(table, place)| {
            let at = grid.row_and_column(*place);
            (0..grid.cells()).map(|other| (*table, other)).filter(move |(_, other)| {
                let other = grid.row_and_column(*other);
                other.0 == at.0 || other.1 == at.1
            })
        });
        let count = |(table, place): &(usize, usize)| tables.tables()[*table].count(*place);
        more.extend(in_line.filter(is_shown).min_by_key(|cell| (count(cell) == 0, count(cell), *cell)));
    }
    more
}

/// All summaries published before.
struct Series {
    release: Release,
    /// The centres of all of them and of the new one.
    centres: Vec<CentreCode>,
    places: Places,
    cells: Vec<Vec<Vec<CellId>>>,
}

impl Series {
    fn of(counted: &Counted, earlier: &[(&Earlier<'_>, Counted)]) -> Self {
        let all = earlier.iter().map(|(_, counted)| counted).chain([counted]);
        let centres: BTreeSet<CentreCode> = all.flat_map(|counted| counted.centres.iter().copied()).collect();
        let centres: Vec<CentreCode> = centres.into_iter().collect();
        let release = Release::of_centres(centres.iter().map(ToString::to_string));
        let mut series = Self { release, centres, places: Places::new(), cells: Vec::new() };
        for (one, counted) in earlier {
            let mut release = std::mem::take(&mut series.release);
            let cells = series.add(&mut release, counted, &one.name);
            for (place, line) in one.summary.lines.iter().enumerate() {
                for (table, published) in line.counts().into_iter().enumerate() {
                    if matches!(published, Published::Shown(_)) {
                        release.was_shown(cells[table][place]);
                    }
                }
            }
            series.release = release;
            series.keep(cells);
        }
        series
    }

    /// The series with a new summary, as far as a mask shows it.
    fn with(&self, counted: &Counted, mask: &Mask) -> (Release, Places) {
        let mut release = self.release.clone();
        let cells = self.add(&mut release, counted, "");
        let mut places = self.places.clone();
        for (table, own) in cells.iter().enumerate() {
            for (place, cell) in own.iter().enumerate() {
                places.insert(*cell, (table, place));
                if !mask.hides(table, place) {
                    release.show(*cell);
                }
                for before in &self.cells {
                    release.earlier(before[table][place], *cell);
                }
            }
        }
        (release, places)
    }

    fn keep(&mut self, cells: Vec<Vec<CellId>>) {
        for (table, own) in cells.iter().enumerate() {
            self.places.extend(own.iter().enumerate().map(|(place, cell)| (*cell, (table, place))));
        }
        self.cells.push(cells);
    }

    /// Adds the counts of a summary and how they hold each other.
    fn add(&self, release: &mut Release, counted: &Counted, name: &str) -> Vec<Vec<CellId>> {
        let grid = counted.tables.grid();
        let names = names(name);
        let mut cells: Vec<Vec<CellId>> = Vec::new();
        for (table, what) in counted.tables.tables().iter().zip(COUNTED) {
            let own: Vec<CellId> = (0..grid.cells())
                .map(|place| {
                    let by_centre = self.spread(&counted.centres, &table.by_centre(place));
                    release.count(format!("{what}, {}", names[place]), table.meaning(), by_centre)
                })
                .collect();
            for &whole in table.within() {
                let wholes = &cells[whole];
                own.iter().zip(wholes).for_each(|(part, whole)| release.part(*part, *whole));
            }
            own.last().into_iter().for_each(|cell| release.of_network(*cell));
            add_up(release, grid, &own);
            cells.push(own);
        }
        cells
    }

    /// Puts what some centres contribute where they stand among all.
    fn spread(&self, centres: &[CentreCode], counts: &[u64]) -> Vec<u64> {
        let of = |centre: &CentreCode| {
            let found = centres.iter().position(|other| other == centre);
            found.and_then(|place| counts.get(place)).copied().unwrap_or(0)
        };
        self.centres.iter().map(of).collect()
    }
}

/// What the places of a grid are called, row by row.
fn names(summary: &str) -> Vec<String> {
    let lines = OneOrAll::<ProcedureGroup>::each()
        .flat_map(|group| OneOrAll::<Strategy>::each().map(move |strategy| (group, strategy)));
    let name = |(group, strategy): (OneOrAll<ProcedureGroup>, OneOrAll<Strategy>)| {
        let line = format!("{}, {}", group.label("all procedures"), strategy.label("all strategies"));
        if summary.is_empty() { line } else { format!("{line} ({summary})") }
    };
    lines.map(name).collect()
}

/// Says that rows and columns add up to their totals.
fn add_up(release: &mut Release, grid: Grid, cells: &[CellId]) {
    let (last_row, last_column) = (grid.height() - 1, grid.width() - 1);
    let cell = |row: usize, column: usize| cells[grid.place(row, column)];
    for row in 0..grid.height() {
        release.total(cell(row, last_column), (0..last_column).map(|column| cell(row, column)));
    }
    for column in 0..grid.width() {
        release.total(cell(last_row, column), (0..last_row).map(|row| cell(row, column)));
    }
}
