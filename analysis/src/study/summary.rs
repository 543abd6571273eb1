//! The society's safety summary: counts for everyone, in which no small group
//! can be found.

use super::cohort::{CaseRow, Cohort};
use super::published::{OneOrAll, Published, PublishedPart};
pub use super::summary_release::Earlier;
use super::summary_release::{Gate, gate};
use crate::methods::disclosure::{
    AttackError, Grid, Learnt, Mask, Meaning, NetworkTier, Profile, ProfileError, Table, TableError, Tables,
};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{AcuteSuccess, Coded, ProcedureGroup, Strategy};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What every summary says about its numbers.
const NOTES: [&str; 7] = [
    "Counts are of cases, diagnostic studies included. Complications are those that began within 30 days; a case counts once in each column that fits it.",
    "Shares are of all cases entered: a case whose outcome nobody learnt counts as not having it.",
    "Imaging only: fluid or another finding seen because someone looked, without symptom or treatment. Where more is looked, more is found.",
    "Cases were not randomised: the columns of a strategy do not show what the strategy does.",
    "For research. Not for decisions about an individual patient.",
    "Fluoroscopy stays available in every room, and using it is never a failure.",
    "The local medical physicist, ethics board and law decide what applies locally.",
];

/// One procedure group, or all, under one intended strategy, or all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SummaryLine {
    /// The group.
    pub procedure_group: OneOrAll<ProcedureGroup>,
    /// The strategy intended beforehand.
    pub strategy_intended: OneOrAll<Strategy>,
    /// Cases.
    pub cases: Published,
    /// Cases in which the beam was never on.
    pub no_x_ray: PublishedPart,
    /// Cases whose endpoint was shown in full.
    pub acute_success: PublishedPart,
    /// Cases with a major complication or death.
    pub major: PublishedPart,
    /// Cases with a minor complication.
    pub minor: PublishedPart,
    /// Cases with a finding that only looking showed.
    pub imaging_only: PublishedPart,
    /// Cases whose pericardial effusion was drained.
    pub drained_effusion: PublishedPart,
}

impl SummaryLine {
    /// The counts in the order of the columns.
    pub fn counts(&self) -> [Published; 7] {
        [
            self.cases,
            self.no_x_ray.count,
            self.acute_success.count,
            self.major.count,
            self.minor.count,
            self.imaging_only.count,
            self.drained_effusion.count,
        ]
    }
}

/// The rules by which counts were hidden.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DisclosureRules {
    /// The profile's name.
    pub profile: String,
    /// The smallest count above zero that may be shown.
    pub threshold: u64,
    /// The fewest centres behind a count above zero.
    pub least_centres: u32,
    /// The narrowest range in which a hidden count may be held.
    pub least_width: u64,
    /// How near, in per cent, one centre may come to the largest one's count; 0 where it was not asked.
    #[serde(default)]
    pub dominance: u64,
    /// The most centres that were taken to put together what they know.
    #[serde(default)]
    pub coalition: u32,
    /// From what size on small counts of the whole network are shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub network_tier: Option<NetworkTier>,
    /// The same in words.
    pub rules: Vec<String>,
}

impl DisclosureRules {
    fn of(profile: Profile) -> Self {
        let Profile { threshold, least_centres, least_width, dominance, coalition, network_tier } = profile;
        let most = threshold - 1;
        let mut rules = vec![
            format!("Counts from 1 to {most} are not shown. Zero may be."),
            format!("A count is not shown either if it leaves 1 to {most} of its group's cases."),
            "A complication that every case of a group had is not shown, nor a success that none had."
                .to_owned(),
            format!("Counts of cases of fewer than {least_centres} centres are not shown."),
        ];
        if dominance > 0 {
            rules.push(format!(
                "A count is not shown if the second largest centre would know the largest one's to within {dominance} per cent."
            ));
        }
        if let Some(NetworkTier { least_cases, least_centres }) = network_tier {
            rules.push(format!(
                "Small counts of the whole network are shown where it has at least {least_cases} cases of at least {least_centres} centres."
            ));
        }
        rules.push("A share is shown only where both its counts are.".to_owned());
        let seats = match coalition {
            0 => "nobody outside",
            1 => "neither anybody outside nor a centre that knows its own cases",
            _ => "neither anybody outside nor any two centres that put together their own cases",
        };
        rules.push(format!(
            "Whatever would give one of these away is not shown. From this summary and all before it {seats} can tell a hidden count: it could be {threshold} or more, and its highest and lowest possible values are at least {least_width} apart."
        ));
        rules.push("Nothing tells for which of these reasons a count is not shown.".to_owned());
        let name = if network_tier.is_some() { "two_tier" } else { "strict" };
        let profile = name.to_owned();
        Self { profile, threshold, least_centres, least_width, dominance, coalition, network_tier, rules }
    }
}

/// A safety summary without its number and date, which the registry adds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SafetySummary {
    /// How counts were hidden.
    pub disclosure: DisclosureRules,
    /// The year of the first case; absent without cases.
    pub first_year: Option<u16>,
    /// The year of the last case; absent without cases.
    pub last_year: Option<u16>,
    /// Centres with cases.
    pub centres: Published,
    /// Every group under every strategy, each group's total after its strategies, all groups last.
    pub lines: Vec<SummaryLine>,
    /// How to read the numbers.
    pub notes: Vec<String>,
}

impl SafetySummary {
    /// The line of a group and a strategy.
    pub fn line(
        &self,
        group: OneOrAll<ProcedureGroup>,
        strategy: OneOrAll<Strategy>,
    ) -> Option<&SummaryLine> {
        self.lines.iter().find(|line| line.procedure_group == group && line.strategy_intended == strategy)
    }
}

/// What a column means and which cases it counts.
type Column = (Meaning, fn(&CaseRow) -> bool);

/// Columns of the summary after the cases.
const PARTS: [Column; 6] = [
    (Meaning::Neutral, |case| !case.beam_on()),
    (Meaning::Wanted, |case| case.acute_success == Some(AcuteSuccess::Yes)),
    (Meaning::Adverse, |case| case.major_within_30_days == Some(true)),
    (Meaning::Adverse, |case| case.harms.minor > 0),
    (Meaning::Adverse, |case| case.harms.imaging_only > 0),
    (Meaning::Adverse, |case| case.effusion.is_some_and(|seen| seen.drained)),
];

/// The tables of major complications and of drained effusions, counted from the cases' table.
const MAJOR: usize = 3;
const DRAINED: usize = 6;

/// A summary with what every seat could learn from it and all before it.
#[derive(Debug, Clone, PartialEq)]
pub struct Composed {
    /// What will be published.
    pub summary: SafetySummary,
    /// What was asked of it; never published.
    pub learnt: Learnt,
}

/// Why no summary can be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SummaryError {
    /// A profile that does not protect.
    #[error(transparent)]
    Profile(#[from] ProfileError),
    /// Counts that do not belong together.
    #[error(transparent)]
    Tables(#[from] TableError),
    /// An earlier summary says what its cases do not.
    #[error(transparent)]
    Attack(#[from] AttackError),
    /// However much is hidden, with what was published before somebody could work out a number.
    #[error("{}", refusal(.0))]
    Refused(Learnt),
}

/// The first refusal in words; it names the number and who could, and no count.
fn refusal(learnt: &Learnt) -> String {
    let first = learnt.refused().next();
    first.map_or_else(|| "nothing is refused".to_owned(), |refused| refused.to_string())
}

/// Makes the summary of a cohort, hidden as a profile demands and attacked together with all before it.
///
/// # Errors
/// A profile that does not protect, or a release in which somebody could work out too much however
/// much is hidden. A part that exceeds its whole is refused, not published.
pub fn summarise(
    cohort: &Cohort,
    profile: Profile,
    earlier: &[Earlier<'_>],
) -> Result<Composed, SummaryError> {
    let profile = profile.checked()?;
    let counted = count(cohort)?;
    let earlier: Vec<(&Earlier<'_>, Counted)> =
        earlier.iter().map(|one| Ok((one, count(one.cohort)?))).collect::<Result<_, TableError>>()?;
    let Gate { mask, learnt } = gate(&counted, profile, &earlier)?;
    let centres = counted.centres.len();
    let years = || cohort.rows().iter().map(|case| case.period.year());
    let few = centres > 0 && (centres as u64) < u64::from(profile.least_centres);
    let summary = SafetySummary {
        disclosure: DisclosureRules::of(profile),
        first_year: years().min(),
        last_year: years().max(),
        centres: if few { Published::Hidden } else { Published::Shown(centres as u64) },
        lines: lines(&counted.tables, &mask),
        notes: NOTES.map(str::to_owned).to_vec(),
    };
    Ok(Composed { summary, learnt })
}

/// The counts of a cohort, and whose they are.
pub(super) struct Counted {
    pub(super) tables: Tables,
    pub(super) centres: Vec<CentreCode>,
}

fn grid() -> Grid {
    Grid::new(ProcedureGroup::all().len(), Strategy::all().len())
}

/// Counts every column by group and strategy, centre by centre.
fn count(cohort: &Cohort) -> Result<Counted, TableError> {
    let (groups, strategies) = (ProcedureGroup::all().len(), Strategy::all().len());
    let empty = || vec![vec![0_u64; groups * strategies]; 1 + PARTS.len()];
    let mut centres = BTreeMap::<CentreCode, Vec<Vec<u64>>>::new();
    for case in cohort.rows() {
        let own = centres.entry(case.centre).or_insert_with(empty);
        let place = case.procedure.group().position() * strategies + case.intended.position();
        own[0][place] += 1;
        for (column, (_, counts)) in PARTS.iter().enumerate() {
            own[1 + column][place] += u64::from(counts(case));
        }
    }
    let of = |number: usize, meaning, within| {
        Table::of_centres(grid(), meaning, within, centres.values().map(|own| own[number].as_slice()))
    };
    let mut tables = vec![of(0, Meaning::Cases, vec![])];
    for (column, (meaning, _)) in PARTS.iter().enumerate() {
        tables.push(of(1 + column, *meaning, vec![0]));
    }
    // A drained effusion is major unless a centre gave a reason why not; readers will assume it is.
    let every_drained_is_major =
        (0..grid().cells()).all(|place| tables[DRAINED].count(place) <= tables[MAJOR].count(place));
    if every_drained_is_major {
        tables[DRAINED] = of(DRAINED, Meaning::Adverse, vec![0, MAJOR]);
    }
    Ok(Counted { tables: Tables::new(grid(), tables)?, centres: centres.into_keys().collect() })
}

fn lines(tables: &Tables, mask: &Mask) -> Vec<SummaryLine> {
    let line = |place: usize, procedure_group, strategy_intended| {
        let published = |table: usize| match mask.hides(table, place) {
            true => Published::Hidden,
            false => Published::Shown(tables.tables()[table].count(place)),
        };
        let cases = published(0);
        let part = |table: usize| PublishedPart::new(published(table), cases);
        SummaryLine {
            procedure_group,
            strategy_intended,
            cases,
            no_x_ray: part(1),
            acute_success: part(2),
            major: part(MAJOR),
            minor: part(4),
            imaging_only: part(5),
            drained_effusion: part(DRAINED),
        }
    };
    // Places go row by row, as a grid numbers them.
    let names = OneOrAll::each().flat_map(|group| OneOrAll::each().map(move |strategy| (group, strategy)));
    names.enumerate().map(|(place, (group, strategy))| line(place, group, strategy)).collect()
}
