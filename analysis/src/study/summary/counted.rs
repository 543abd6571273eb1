//! What a summary counts, as one set: a count that stands in two tables is one count.

use super::super::cohort::{CaseRow, Cohort};
use super::super::published::OneOrAll;
use super::ranks::{Dose, Edge, Quartile, Ranks};
use crate::methods::disclosure::{Grid, Meaning, Profile, Table, TableError, Tables};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::summary_design::{SummaryDesign, Years};
use quietbeam_schema::vocabulary::{
    AcuteSuccess, Coded, ComplicationClass, DetectedBy, HarmTier, LeadWorn, ProcedureGroup, Strategy,
    SummaryTable,
};
use std::collections::{BTreeMap, BTreeSet};

/// Which of the cases are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Part {
    All,
    Group(ProcedureGroup),
    Year(u16),
    /// By who wore lead; nothing where it was not stated.
    Lead(Option<LeadWorn>),
}

/// What is counted of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Measure {
    Cases,
    NoXRay,
    AcuteSuccess,
    Major,
    Minor,
    ImagingOnly,
    Drained,
    Class(ComplicationClass, HarmTier),
    /// What showed a complication of a tier first; nothing where it was not stated.
    First(Option<DetectedBy>, HarmTier),
    OutcomeKnown,
    DeclaredBefore,
    AirKermaReported,
    KapReported,
    /// Doses below an edge of a printed quartile, or up to it; never shown itself.
    Edge(Dose, Edge),
    /// No count: the printed number of a quartile.
    Quartile(Dose, Quartile),
}

/// One count of a summary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Count {
    pub(super) measure: Measure,
    pub(super) part: Part,
    pub(super) strategy: OneOrAll<Strategy>,
}

impl Count {
    /// A count of the whole network, all strategies together.
    pub(super) fn of_network(measure: Measure) -> Self {
        Self { measure, part: Part::All, strategy: OneOrAll::All }
    }

    /// Whether it is one.
    pub(super) fn is_of_network(self) -> bool {
        self.part == Part::All && self.strategy == OneOrAll::All
    }

    /// In words, for whoever approves.
    pub(super) fn name(self) -> String {
        let part = match self.part {
            Part::All => "all cases".to_owned(),
            Part::Group(group) => group.label().to_owned(),
            Part::Year(year) => year.to_string(),
            Part::Lead(Some(worn)) => format!("lead worn: {}", worn.label()),
            Part::Lead(None) => "lead worn: not stated".to_owned(),
        };
        format!("{}, {part}, {}", self.measure.name(), self.strategy.label("all strategies"))
    }
}

impl Measure {
    fn name(self) -> String {
        let of_tier = |what: &str, tier: HarmTier| format!("{what} ({})", tier.label());
        match self {
            Self::Cases => "cases".to_owned(),
            Self::NoXRay => "cases without X-ray".to_owned(),
            Self::AcuteSuccess => "acute successes".to_owned(),
            Self::Major => "major complications".to_owned(),
            Self::Minor => "minor complications".to_owned(),
            Self::ImagingOnly => "findings on imaging only".to_owned(),
            Self::Drained => "drained effusions".to_owned(),
            Self::Class(class, tier) => of_tier(class.label(), tier),
            Self::First(Some(shown_by), tier) => of_tier(&format!("shown by {}", shown_by.label()), tier),
            Self::First(None, tier) => of_tier("not stated what showed it", tier),
            Self::OutcomeKnown => "outcomes known".to_owned(),
            Self::DeclaredBefore => "intentions declared beforehand".to_owned(),
            Self::AirKermaReported => "air kerma reported".to_owned(),
            Self::KapReported => "kerma-area product reported".to_owned(),
            Self::Edge(dose, edge) => format!("{} {}", dose.name(), edge.name()),
            Self::Quartile(dose, quartile) => format!("{} of {}", quartile.name(), dose.name()),
        }
    }

    pub(super) fn meaning(self) -> Meaning {
        match self {
            Self::Cases => Meaning::Cases,
            Self::AcuteSuccess => Meaning::Wanted,
            Self::Major | Self::Minor | Self::ImagingOnly | Self::Drained => Meaning::Adverse,
            // That all harm of a tier was of one kind, or shown by one thing, tells no harm of anyone.
            Self::Class(..)
            | Self::First(..)
            | Self::NoXRay
            | Self::OutcomeKnown
            | Self::DeclaredBefore
            | Self::AirKermaReported
            | Self::KapReported
            | Self::Edge(..)
            | Self::Quartile(..) => Meaning::Neutral,
        }
    }

    /// The dose of a case among those with X-ray, where this counts the reported ones.
    pub(super) fn dose(self, case: &CaseRow) -> Option<f64> {
        match self {
            Self::AirKermaReported if case.beam_on() => case.air_kerma_mgy,
            Self::KapReported if case.beam_on() => case.kap_gy_cm2,
            _ => None,
        }
    }

    fn counts(self, case: &CaseRow) -> bool {
        match self {
            Self::Cases => true,
            Self::NoXRay => !case.beam_on(),
            Self::AcuteSuccess => case.acute_success == Some(AcuteSuccess::Yes),
            Self::Major => case.major_within_30_days == Some(true),
            Self::Minor => case.harms.minor > 0,
            Self::ImagingOnly => case.harms.imaging_only > 0,
            Self::Drained => case.effusion.is_some_and(|seen| seen.drained),
            Self::Class(class, tier) => case.seen.class(class, tier),
            Self::First(shown_by, tier) => case.seen.first(shown_by, tier),
            Self::OutcomeKnown => case.major_within_30_days.is_some(),
            Self::DeclaredBefore => case.declared_before(),
            Self::AirKermaReported | Self::KapReported => self.dose(case).is_some(),
            // They are counted beside the tables.
            Self::Edge(..) | Self::Quartile(..) => false,
        }
    }

    /// The counts it is a part of, if at every centre it is one: a drained effusion is major unless
    /// a centre gave a reason why not, and readers will assume it is.
    fn within(self) -> Vec<Self> {
        let tier = |tier: HarmTier| match tier {
            HarmTier::Major => Self::Major,
            HarmTier::Minor => Self::Minor,
            HarmTier::ImagingOnly => Self::ImagingOnly,
        };
        match self {
            Self::Cases => vec![],
            Self::Drained => vec![Self::Cases, Self::Major],
            Self::Class(_, of) | Self::First(_, of) => vec![Self::Cases, tier(of)],
            _ => vec![Self::Cases],
        }
    }
}

/// The counts of the table that every summary has, in the order of its columns.
pub(super) const BASE: [Measure; 7] = [
    Measure::Cases,
    Measure::NoXRay,
    Measure::AcuteSuccess,
    Measure::Major,
    Measure::Minor,
    Measure::ImagingOnly,
    Measure::Drained,
];

/// Tables over the same parts of the cases and the same strategies.
pub(super) struct Block {
    parts: Vec<Part>,
    strategies: Vec<OneOrAll<Strategy>>,
    pub(super) measures: Vec<Measure>,
    pub(super) tables: Tables,
}

/// A block before anything is counted.
struct Shape {
    /// Parts that make up all cases; nothing where these are not divided.
    parts: Vec<Part>,
    by_strategy: bool,
    measures: Vec<Measure>,
}

impl Block {
    fn count(cohort: &[&CaseRow], shape: Shape, centres: &[CentreCode]) -> Result<Self, TableError> {
        let Shape { parts, by_strategy, measures } = shape;
        let parts = if parts.is_empty() { vec![Part::All] } else { parts };
        let strategies: Vec<OneOrAll<Strategy>> = match by_strategy {
            true => Strategy::all().iter().copied().map(OneOrAll::One).collect(),
            false => vec![OneOrAll::All],
        };
        let grid = Grid::new(parts.len(), strategies.len());
        let mut counts =
            vec![vec![vec![0_u64; parts.len() * strategies.len()]; centres.len()]; measures.len()];
        for case in cohort {
            let row = parts.iter().position(|part| part.holds(case));
            let column = strategies.iter().position(|strategy| *strategy != OneOrAll::All);
            let column = column.map_or(0, |_| case.intended.position());
            let centre = centres.binary_search(&case.centre).ok();
            let Some((row, centre)) = row.zip(centre) else { continue };
            for (measure, counts) in measures.iter().zip(&mut counts) {
                counts[centre][row * strategies.len() + column] += u64::from(measure.counts(case));
            }
        }
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
        Ok(Self { parts, strategies, measures, tables })
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

impl Part {
    fn holds(self, case: &CaseRow) -> bool {
        match self {
            Self::All => true,
            Self::Group(group) => case.procedure.group() == group,
            Self::Year(year) => case.period.year() == year,
            Self::Lead(worn) => case.lead_worn == worn,
        }
    }
}

/// Everything a summary counts, and whose cases they are.
pub(super) struct Counted<'c> {
    /// The cases of its years.
    pub(super) cases: Vec<&'c CaseRow>,
    pub(super) years: Years,
    pub(super) centres: Vec<CentreCode>,
    pub(super) blocks: Vec<Block>,
    /// Each count, with what each centre contributes.
    pub(super) counts: BTreeMap<Count, Vec<u64>>,
    /// The quartiles of its doses; their edges are among the counts.
    pub(super) ranks: Ranks,
}

impl<'c> Counted<'c> {
    pub(super) fn new(cohort: &'c Cohort, design: &SummaryDesign) -> Result<Self, TableError> {
        let years = design.years();
        let cases: Vec<&CaseRow> =
            cohort.rows().iter().filter(|case| years.hold(case.period.year())).collect();
        let mut centres: Vec<CentreCode> = cases.iter().map(|case| case.centre).collect();
        centres.sort_unstable();
        centres.dedup();
        let shapes = shapes(design, &cases);
        let blocks: Vec<Block> = shapes
            .into_iter()
            .map(|shape| Block::count(&cases, shape, &centres))
            .collect::<Result<_, _>>()?;
        let mut counts = BTreeMap::new();
        for block in &blocks {
            for ((table, place), count) in block.everywhere() {
                counts.entry(count).or_insert_with(|| block.tables.tables()[table].by_centre(place));
            }
        }
        let centre = |case: &CaseRow| centres.binary_search(&case.centre).ok();
        let ranks = match design.has(SummaryTable::Dose) {
            true => Ranks::of(&cases, (centres.len(), centre)),
            false => Ranks::default(),
        };
        counts.extend(ranks.edges.clone());
        Ok(Self { cases, years, centres, blocks, counts, ranks })
    }

    /// How many a count counts.
    pub(super) fn value(&self, count: Count) -> Option<u64> {
        self.counts.get(&count).map(|by_centre| by_centre.iter().sum())
    }

    /// What a summary says of it: the count, or the printed number of a quartile, bit by bit.
    pub(super) fn said(&self, count: Count) -> Option<u64> {
        self.ranks.printed.get(&count).map(|printed| printed.to_bits()).or_else(|| self.value(count))
    }

    /// Everything that a summary can show or hide.
    pub(super) fn everything(&self) -> impl Iterator<Item = Count> {
        self.counts.keys().chain(self.ranks.printed.keys()).copied()
    }

    /// Whether a quartile is of enough doses of enough centres, and their number is shown too.
    pub(super) fn may_print(&self, quartile: Count, hidden: &BTreeSet<Count>, profile: Profile) -> bool {
        let Measure::Quartile(dose, _) = quartile.measure else { return false };
        let reported = Count { measure: dose.reported(), ..quartile };
        let by_centre = self.counts.get(&reported).map_or(&[][..], Vec::as_slice);
        let centres = by_centre.iter().filter(|count| **count > 0).count();
        !hidden.contains(&reported)
            && by_centre.iter().sum::<u64>() >= profile.threshold
            && centres >= profile.least_centres as usize
    }

    /// The years with cases, from the first to the last.
    pub(super) fn calendar(&self) -> Option<(u16, u16)> {
        let years = || self.cases.iter().map(|case| case.period.year());
        years().min().zip(years().max())
    }
}

/// The tables that a design asks for; the one that every summary has comes first.
fn shapes(design: &SummaryDesign, cases: &[&CaseRow]) -> Vec<Shape> {
    let groups = ProcedureGroup::all().iter().copied().map(Part::Group).collect();
    let mut shapes = vec![Shape { parts: groups, by_strategy: true, measures: BASE.to_vec() }];
    for table in SummaryTable::all().iter().filter(|table| design.has(**table)) {
        shapes.push(shape(*table, cases));
    }
    shapes
}

fn shape(table: SummaryTable, cases: &[&CaseRow]) -> Shape {
    let tiers = HarmTier::all().iter().copied();
    let of_network = |parts: Vec<Measure>| {
        let wholes = [Measure::Cases, Measure::Major, Measure::Minor, Measure::ImagingOnly];
        let measures = wholes.into_iter().chain(parts).collect();
        Shape { parts: vec![], by_strategy: false, measures }
    };
    let by_strategy = |measures: &[Measure]| Shape {
        parts: vec![],
        by_strategy: true,
        measures: [Measure::Cases].iter().chain(measures).copied().collect(),
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
            let parts = all.into_iter().flatten().map(Part::Year).collect();
            Shape { parts, by_strategy: false, measures: BASE[..6].to_vec() }
        }
        SummaryTable::Dose => {
            by_strategy(&[Measure::NoXRay, Measure::AirKermaReported, Measure::KapReported])
        }
        SummaryTable::Staff => {
            let parts = answers().map(Part::Lead).collect();
            Shape { parts, by_strategy: true, measures: vec![Measure::Cases] }
        }
        SummaryTable::Completeness => by_strategy(&[Measure::OutcomeKnown, Measure::DeclaredBefore]),
    }
}

/// Everything that may show a complication first, what was not stated last.
pub(super) fn routes() -> impl Iterator<Item = Option<DetectedBy>> + Clone {
    DetectedBy::all().iter().copied().map(Some).chain([None])
}

/// Every answer to who wore lead, none last.
pub(super) fn answers() -> impl Iterator<Item = Option<LeadWorn>> {
    LeadWorn::all().iter().copied().map(Some).chain([None])
}
