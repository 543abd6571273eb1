//! The tables of a summary that can be shown, exported and printed without knowing what they are.

use super::super::numerals;
use super::super::published::{OneOrAll, Published, PublishedPart};
use super::counted::{BASE, Count, Counted, Measure};
use super::layouts::COMPARISON;
use super::{SafetySummary, SummaryLine};
use crate::methods::disclosure::Profile;
use quietbeam_schema::vocabulary::Coded;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// A table that explains itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NamedTable {
    /// Its name in files.
    pub key: String,
    /// What it shows.
    pub caption: String,
    /// What stands above the first column.
    pub stub: String,
    /// The columns after the first.
    pub columns: Vec<Heading>,
    /// The rows.
    pub rows: Vec<TableRow>,
}

/// The name of a column in files and in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Heading {
    /// In files.
    pub key: String,
    /// In words.
    pub label: String,
}

/// One row, a cell a column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TableRow {
    /// Its name in files.
    pub key: String,
    /// Its name in words.
    pub label: String,
    /// Its cells.
    pub cells: Vec<TableCell>,
}

/// What stands in a cell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TableCell {
    /// A count.
    Count(Published),
    /// A count with its share of the cases it is a part of.
    Part(PublishedPart),
    /// A quantity in the unit of its column, of two significant digits.
    Quantity(f64),
    /// Not shown; nothing tells why.
    Hidden,
    /// A quartile of no dose at all: nothing is kept back.
    OfNone,
}

impl TableCell {
    /// Whether it is not shown.
    pub fn is_hidden(&self) -> bool {
        let counted = |count: &Published| *count == Published::Hidden;
        match self {
            Self::Count(count) => counted(count),
            Self::Part(part) => counted(&part.count) && part.whole_percent.is_none(),
            Self::Quantity(_) | Self::OfNone => false,
            Self::Hidden => true,
        }
    }

    /// The count shown in it, if it is one.
    pub fn count(&self) -> Option<u64> {
        match self {
            Self::Count(Published::Shown(count))
            | Self::Part(PublishedPart { count: Published::Shown(count), .. }) => Some(*count),
            _ => None,
        }
    }

    /// As it is printed: 27 (2.1 %), 310, not shown.
    pub fn text(&self) -> String {
        match self {
            Self::Count(count) => count.to_string(),
            Self::Part(PublishedPart { count: Published::Hidden, whole_percent: Some(percent), .. }) => {
                format!("{percent} %")
            }
            Self::Part(part) => match part.percent().filter(|_| self.count() != Some(0)) {
                Some(percent) => format!("{} ({percent})", part.count),
                None => part.count.to_string(),
            },
            Self::Quantity(number) => numerals::measured(*number),
            Self::Hidden => Published::Hidden.to_string(),
            Self::OfNone => "–".to_owned(),
        }
    }
}

impl SafetySummary {
    /// Every table, the one of procedures and strategies first.
    pub fn all_tables(&self) -> Vec<NamedTable> {
        let mut tables = vec![self.outcomes()];
        tables.extend(self.tables.iter().cloned());
        tables
    }

    /// Whether no table of it tells any number above zero.
    pub fn shows_nothing(&self) -> bool {
        let says = |cell: &TableCell| match cell {
            TableCell::Quantity(_) => true,
            TableCell::OfNone => false,
            cell => !cell.is_hidden() && cell.count() != Some(0),
        };
        !self.all_tables().iter().flat_map(|table| &table.rows).flat_map(|row| &row.cells).any(says)
    }

    /// The table of procedures and strategies, which every summary has.
    pub fn outcomes(&self) -> NamedTable {
        outcomes(&self.lines)
    }

    /// The further tables that were chosen from the menu.
    pub fn chosen_tables(&self) -> impl Iterator<Item = &NamedTable> {
        self.tables.iter().filter(|table| !COMPARISON.contains(&table.key.as_str()))
    }

    /// The counts of the comparison that it publishes: as intended, then per protocol.
    pub fn comparison_tables(&self) -> impl Iterator<Item = &NamedTable> {
        self.tables.iter().filter(|table| COMPARISON.contains(&table.key.as_str()))
    }
}

/// The table that every summary has.
pub(super) fn outcomes(lines: &[SummaryLine]) -> NamedTable {
    let row = |line: &SummaryLine| {
        let SummaryLine { procedure_group, strategy_intended, .. } = line;
        let codes = [written(*procedure_group), written(*strategy_intended)];
        let labels = [procedure_group.label("All procedures"), strategy_intended.label("All strategies")];
        let parts = [
            line.no_x_ray,
            line.acute_success,
            line.major,
            line.minor,
            line.imaging_only,
            line.drained_effusion,
        ];
        let cells = [TableCell::Count(line.cases)].into_iter().chain(parts.map(TableCell::Part));
        TableRow { key: codes.join("."), label: labels.join(", "), cells: cells.collect() }
    };
    NamedTable {
        key: "outcomes".to_owned(),
        caption: "Outcomes within 30 days by procedure and intended strategy".to_owned(),
        stub: "Procedure and strategy".to_owned(),
        columns: BASE.map(heading).to_vec(),
        rows: lines.iter().map(row).collect(),
    }
}

pub(super) fn written<C: Coded>(one: OneOrAll<C>) -> &'static str {
    match one {
        OneOrAll::One(one) => one.code(),
        OneOrAll::All => "all",
    }
}

pub(super) fn named(key: &str, label: &str) -> Heading {
    Heading { key: key.to_owned(), label: label.to_owned() }
}

/// The name of a column of the outcomes.
pub(super) fn heading(measure: Measure) -> Heading {
    match measure {
        Measure::NoXRay => named("no_x_ray", "No X-ray"),
        Measure::AcuteSuccess => named("acute_success", "Acute success"),
        Measure::Major => named("major", "Major complication"),
        Measure::Minor => named("minor", "Minor complication"),
        Measure::ImagingOnly => named("imaging_only", "On imaging only"),
        Measure::Drained => named("drained_effusion", "Drained effusion"),
        Measure::Eligible => named("eligible", "Eligible, by signed logs"),
        Measure::Logged => named("sent_in", "Of these, sent in"),
        Measure::NotSent => named("not_sent_in", "Not sent in"),
        Measure::Unlogged => named("without_log", "Of these, log not signed"),
        _ => named("cases", "Cases"),
    }
}

/// What will stand in a cell.
#[derive(Clone, Copy)]
pub(super) enum Slot {
    Count(Count),
    Part {
        count: Count,
        of: Count,
    },
    /// A count whose share may be told in whole per cent where it is not.
    Shared {
        count: Count,
        of: Count,
        share: Count,
    },
    Quartile(Count),
}

/// A table whose cells are not filled in.
pub(super) struct Layout {
    /// What the table is called.
    pub(super) key: &'static str,
    pub(super) caption: &'static str,
    pub(super) stub: &'static str,
    pub(super) columns: Vec<Heading>,
    pub(super) rows: Vec<(Heading, Vec<Slot>)>,
}

impl Layout {
    /// The table with everything that is not hidden.
    pub(super) fn filled(
        self,
        counted: &Counted<'_>,
        hidden: &BTreeSet<Count>,
        profile: Profile,
    ) -> NamedTable {
        let fill = Filling { counted, hidden, profile };
        let row = |(name, slots): (Heading, Vec<Slot>)| TableRow {
            key: name.key,
            label: name.label,
            cells: slots.into_iter().map(|slot| fill.cell(slot)).collect(),
        };
        NamedTable {
            key: self.key.to_owned(),
            caption: self.caption.to_owned(),
            stub: self.stub.to_owned(),
            columns: self.columns,
            rows: self.rows.into_iter().map(row).collect(),
        }
    }

    /// The counts that an earlier summary showed in its table of this layout; nothing where the
    /// table has another shape.
    pub(super) fn read(&self, table: &NamedTable) -> Option<BTreeMap<Count, u64>> {
        if table.rows.len() != self.rows.len() {
            return None;
        }
        let mut shown = BTreeMap::<Count, u64>::new();
        for ((name, slots), row) in self.rows.iter().zip(&table.rows) {
            if name.key != row.key || slots.len() != row.cells.len() {
                return None;
            }
            for (slot, cell) in slots.iter().zip(&row.cells) {
                if let (Slot::Shared { share, .. }, TableCell::Part(part)) = (slot, cell) {
                    shown.extend(part.whole_percent.map(|percent| (*share, percent.into())));
                }
                let said = match (slot, cell) {
                    (Slot::Count(count) | Slot::Part { count, .. } | Slot::Shared { count, .. }, cell) => {
                        Some(*count).zip(cell.count())
                    }
                    (Slot::Quartile(quartile), TableCell::Quantity(number)) => {
                        Some((*quartile, number.to_bits()))
                    }
                    (Slot::Quartile(_), _) => None,
                };
                shown.extend(said);
            }
        }
        Some(shown)
    }
}

/// Everything that cells are filled from.
struct Filling<'f> {
    counted: &'f Counted<'f>,
    hidden: &'f BTreeSet<Count>,
    profile: Profile,
}

impl Filling<'_> {
    fn published(&self, count: Count) -> Published {
        published(self.counted, self.hidden, count)
    }

    fn cell(&self, slot: Slot) -> TableCell {
        match slot {
            Slot::Count(count) => TableCell::Count(self.published(count)),
            Slot::Part { count, of } => {
                TableCell::Part(PublishedPart::new(self.published(count), self.published(of)))
            }
            Slot::Shared { count, of, share } => {
                let part = PublishedPart::new(self.published(count), self.published(of));
                let share = self.counted.shares.get(&share).filter(|_| !self.hidden.contains(&share));
                let told = share.filter(|_| part.count == Published::Hidden);
                TableCell::Part(PublishedPart { whole_percent: told.map(|share| share.percent), ..part })
            }
            Slot::Quartile(quartile) => {
                let may = !self.hidden.contains(&quartile)
                    && self.counted.may_print(quartile, self.hidden, self.profile);
                let printed = self.counted.ranks.printed.get(&quartile).filter(|_| may);
                let nothing = if self.is_of_none(quartile) { TableCell::OfNone } else { TableCell::Hidden };
                printed.map_or(nothing, |number| TableCell::Quantity(*number))
            }
        }
    }
}

impl Filling<'_> {
    /// Whether a quartile is of no dose, and that is shown beside it.
    fn is_of_none(&self, quartile: Count) -> bool {
        let Measure::Quartile(dose, _) = quartile.measure else { return false };
        self.published(Count { measure: dose.reported(), ..quartile }) == Published::Shown(0)
    }
}

/// A count, unless it is hidden.
pub(super) fn published(counted: &Counted<'_>, hidden: &BTreeSet<Count>, count: Count) -> Published {
    match counted.value(count) {
        Some(value) if !hidden.contains(&count) => Published::Shown(value),
        _ => Published::Hidden,
    }
}
