//! The tables of a summary that can be shown, exported and printed without knowing what they are.

use super::super::numerals;
use super::super::published::{OneOrAll, Published, PublishedPart};
use super::counted::{BASE, Count, Counted, Measure, Part, answers, routes};
use super::ranks::{Dose, Quartile, quartile_at};
use super::{SafetySummary, SummaryLine};
use crate::methods::disclosure::Profile;
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{Coded, ComplicationClass, HarmTier, Strategy, SummaryTable};
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
}

impl TableCell {
    /// Whether it is not shown.
    pub fn is_hidden(&self) -> bool {
        let counted = |count: &Published| *count == Published::Hidden;
        match self {
            Self::Count(count) | Self::Part(PublishedPart { count, .. }) => counted(count),
            Self::Quantity(_) => false,
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
            Self::Part(part) => match part.percent().filter(|_| self.count() != Some(0)) {
                Some(percent) => format!("{} ({percent})", part.count),
                None => part.count.to_string(),
            },
            Self::Quantity(number) => numerals::measured(*number),
            Self::Hidden => Published::Hidden.to_string(),
        }
    }
}

impl SafetySummary {
    /// Every table, the one of procedures and strategies first.
    pub fn all_tables(&self) -> Vec<NamedTable> {
        let mut tables = vec![outcomes(&self.lines)];
        tables.extend(self.tables.iter().cloned());
        tables
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

fn written<C: Coded>(one: OneOrAll<C>) -> &'static str {
    match one {
        OneOrAll::One(one) => one.code(),
        OneOrAll::All => "all",
    }
}

fn named(key: &str, label: &str) -> Heading {
    Heading { key: key.to_owned(), label: label.to_owned() }
}

/// The name of a column of the outcomes.
fn heading(measure: Measure) -> Heading {
    match measure {
        Measure::NoXRay => named("no_x_ray", "No X-ray"),
        Measure::AcuteSuccess => named("acute_success", "Acute success"),
        Measure::Major => named("major", "Major complication"),
        Measure::Minor => named("minor", "Minor complication"),
        Measure::ImagingOnly => named("imaging_only", "On imaging only"),
        Measure::Drained => named("drained_effusion", "Drained effusion"),
        _ => named("cases", "Cases"),
    }
}

/// What will stand in a cell.
#[derive(Clone, Copy)]
enum Slot {
    Count(Count),
    Part { count: Count, of: Count },
    Quartile(Count),
}

/// A table whose cells are not filled in.
pub(super) struct Layout {
    key: SummaryTable,
    caption: &'static str,
    stub: &'static str,
    columns: Vec<Heading>,
    rows: Vec<(Heading, Vec<Slot>)>,
}

/// The tables that a design asks for.
pub(super) fn layouts(design: &SummaryDesign, counted: &Counted<'_>) -> Vec<Layout> {
    let chosen = SummaryTable::all().iter().filter(|table| design.has(**table));
    chosen.map(|table| layout(*table, counted)).collect()
}

fn layout(table: SummaryTable, counted: &Counted<'_>) -> Layout {
    match table {
        SummaryTable::ComplicationClass => classes(),
        SummaryTable::DetectionRoute => detection(),
        SummaryTable::Year => by_year(counted.calendar()),
        SummaryTable::Dose => dose(),
        SummaryTable::Staff => staff(),
        SummaryTable::Completeness => completeness(),
    }
}

/// The tiers as columns.
fn tiers() -> Vec<Heading> {
    [Measure::Major, Measure::Minor, Measure::ImagingOnly].map(heading).to_vec()
}

/// A row of the whole network with a cell a tier.
fn of_tiers(name: Heading, measure: impl Fn(HarmTier) -> Measure) -> (Heading, Vec<Slot>) {
    let cases = Count::of_network(Measure::Cases);
    let slot = |tier: &HarmTier| Slot::Part { count: Count::of_network(measure(*tier)), of: cases };
    (name, HarmTier::all().iter().map(slot).collect())
}

/// Cases with any complication of a tier.
fn any_of_tiers(label: &str) -> (Heading, Vec<Slot>) {
    of_tiers(named("any", label), |tier| match tier {
        HarmTier::Major => Measure::Major,
        HarmTier::Minor => Measure::Minor,
        HarmTier::ImagingOnly => Measure::ImagingOnly,
    })
}

fn classes() -> Layout {
    let row = |class: &ComplicationClass| {
        of_tiers(named(class.code(), class.label()), |tier| Measure::Class(*class, tier))
    };
    Layout {
        key: SummaryTable::ComplicationClass,
        caption: "Cases with a complication of each kind within 30 days, whole network",
        stub: "Kind",
        columns: tiers(),
        rows: ComplicationClass::all().iter().map(row).chain([any_of_tiers("Any kind")]).collect(),
    }
}

fn detection() -> Layout {
    let row = |first| {
        let name = match first {
            Some(shown_by) => named(Coded::code(shown_by), Coded::label(shown_by)),
            None => named("not_stated", "Not stated"),
        };
        of_tiers(name, move |tier| Measure::First(first, tier))
    };
    Layout {
        key: SummaryTable::DetectionRoute,
        caption: "Cases with a complication within 30 days by what showed it first, whole network",
        stub: "Shown first by",
        columns: tiers(),
        rows: routes().map(row).chain([any_of_tiers("Anything")]).collect(),
    }
}

fn by_year(calendar: Option<(u16, u16)>) -> Layout {
    let row = |name: Heading, part: Part| {
        let count = |measure| Count { measure, part, strategy: OneOrAll::All };
        let of = count(Measure::Cases);
        let slot = |measure: &Measure| match measure {
            Measure::Cases => Slot::Count(of),
            measure => Slot::Part { count: count(*measure), of },
        };
        (name, BASE[..6].iter().map(slot).collect())
    };
    let years = calendar.into_iter().flat_map(|(first, last)| first..=last);
    let years = years.map(|year| row(named(&year.to_string(), &year.to_string()), Part::Year(year)));
    Layout {
        key: SummaryTable::Year,
        caption: "Outcomes within 30 days by year of the procedure, all strategies together",
        stub: "Year",
        columns: BASE[..6].iter().map(|measure| heading(*measure)).collect(),
        rows: years.chain([row(named("all", "All years"), Part::All)]).collect(),
    }
}

/// The strategies as rows or columns, all of them last.
fn strategies() -> impl Iterator<Item = (Heading, OneOrAll<Strategy>)> {
    OneOrAll::each().map(|strategy| (named(written(strategy), strategy.label("All strategies")), strategy))
}

fn dose() -> Layout {
    let quantities = [
        (Dose::AirKerma, "air_kerma_mgy", "Air kerma, mGy"),
        (Dose::Kap, "kap_gy_cm2", "Kerma-area product, Gy·cm²"),
    ];
    let rows = quantities.into_iter().flat_map(|(dose, key, label)| {
        strategies().map(move |(name, strategy)| {
            let reported = Count { measure: dose.reported(), part: Part::All, strategy };
            let quartiles =
                Quartile::ALL.map(|quartile| Slot::Quartile(quartile_at(dose, quartile, strategy)));
            let slots = [Slot::Count(reported)].into_iter().chain(quartiles).collect();
            (named(&format!("{key}.{}", name.key), &format!("{label}: {}", name.label)), slots)
        })
    });
    Layout {
        key: SummaryTable::Dose,
        caption: "Dose to patients among the cases with X-ray whose dose was reported",
        stub: "Quantity and intended strategy",
        columns: vec![
            named("cases", "Cases"),
            named("lower_quartile", "Lower quartile"),
            named("median", "Median"),
            named("upper_quartile", "Upper quartile"),
        ],
        rows: rows.collect(),
    }
}

/// A table with a column a strategy.
fn by_strategy(
    key: SummaryTable,
    (caption, stub): (&'static str, &'static str),
    rows: impl IntoIterator<Item = (Heading, Measure, Part)>,
) -> Layout {
    let row = |(name, measure, part): (Heading, Measure, Part)| {
        let slot = |(_, strategy)| {
            let of = Count { measure: Measure::Cases, part: Part::All, strategy };
            let count = Count { measure, part, strategy };
            if count == of { Slot::Count(count) } else { Slot::Part { count, of } }
        };
        (name, strategies().map(slot).collect())
    };
    let rows = rows.into_iter().map(row).collect();
    Layout { key, caption, stub, columns: strategies().map(|(name, _)| name).collect(), rows }
}

fn staff() -> Layout {
    let cases = (named("cases", "Cases"), Measure::Cases, Part::All);
    let no_x_ray = (named("no_x_ray", "Beam never on"), Measure::NoXRay, Part::All);
    let lead = answers().map(|worn| {
        let name = match worn {
            Some(worn) => named(worn.code(), &format!("Lead worn: {}", worn.label())),
            None => named("not_stated", "Lead worn: not stated"),
        };
        (name, Measure::Cases, Part::Lead(worn))
    });
    let words = ("Protection of staff by intended strategy", "Cases");
    by_strategy(SummaryTable::Staff, words, [cases, no_x_ray].into_iter().chain(lead))
}

fn completeness() -> Layout {
    let rows = [
        (named("cases", "Cases"), Measure::Cases),
        (named("outcome_known", "Outcome at 30 days known"), Measure::OutcomeKnown),
        (named("declared_before", "Strategy written down beforehand"), Measure::DeclaredBefore),
    ];
    let words = ("What is known, by intended strategy", "Cases");
    let rows = rows.into_iter().map(|(name, measure)| (name, measure, Part::All));
    by_strategy(SummaryTable::Completeness, words, rows)
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
            key: self.key.code().to_owned(),
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
        let mut shown = BTreeMap::new();
        for ((name, slots), row) in self.rows.iter().zip(&table.rows) {
            if name.key != row.key || slots.len() != row.cells.len() {
                return None;
            }
            for (slot, cell) in slots.iter().zip(&row.cells) {
                let said = match (slot, cell) {
                    (Slot::Count(count) | Slot::Part { count, .. }, cell) => Some(*count).zip(cell.count()),
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

    /// What the table is called.
    pub(super) fn key(&self) -> &'static str {
        self.key.code()
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
            Slot::Quartile(quartile) => {
                let may = !self.hidden.contains(&quartile)
                    && self.counted.may_print(quartile, self.hidden, self.profile);
                let printed = self.counted.ranks.printed.get(&quartile).filter(|_| may);
                printed.map_or(TableCell::Hidden, |number| TableCell::Quantity(*number))
            }
        }
    }
}

/// A count, unless it is hidden.
pub(super) fn published(counted: &Counted<'_>, hidden: &BTreeSet<Count>, count: Count) -> Published {
    match counted.value(count) {
        Some(value) if !hidden.contains(&count) => Published::Shown(value),
        _ => Published::Hidden,
    }
}
