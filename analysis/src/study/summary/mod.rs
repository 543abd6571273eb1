//! The society's safety summary: counts for everyone, in which no small group
//! can be found.

mod arms;
mod blocks;
mod comparison;
mod counted;
mod flow;
mod gate;
mod imagined;
mod known;
mod layouts;
mod moved;
mod own;
mod part;
mod placed;
mod protocol;
mod ranks;
mod rules;
mod sentences;
mod series;
mod shares;
mod table;

use super::cohort::Cohort;
use super::plan::AnalysisPlan;
use super::published::{OneOrAll, Published, PublishedPart};
use super::staff::{LIMITS, Limit, NO_JUDGEMENT};
use crate::methods::disclosure::{AttackError, Learnt, TableError};
pub use comparison::{
    PlanRegistered, PublishedComparison, PublishedDifference, PublishedEffect, PublishedEndpoint,
};
use counted::{Asked, BASE, Count, Counted, Measure, Names};
pub use flow::{PublishedArm, PublishedEligible, PublishedFlow};
pub use gate::Earlier;
use gate::{Before, Gate, gate, gate_of_one_more, judge};
use layouts::layouts;
pub use own::{TableBeside, beside};
use part::Part;
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{ProcedureGroup, ProfileNumber, Strategy, SummaryTable};
pub use rules::DisclosureRules;
use rules::demanded;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use table::published;
pub use table::{Heading, NamedTable, TableCell, TableRow};

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

/// What a summary says besides if its comparison is told first.
const COMPARISON_FIRST_NOTE: &str = "Where not every count could be told, those behind the differences of the comparison were told before those of the other tables.";

/// What a summary says besides if it tells how many eligible procedures were sent in.
const CAPTURE_NOTE: &str = "Eligible procedures are counted by the centres themselves, in screening logs of whole quarters that they sign. Where few of them were sent in, perhaps only the good ones were. Quarters whose log is not signed, or counts fewer eligible procedures than cases were sent in, stand apart.";

/// What a summary says besides if it divides the cases by region.
fn region_note(design: &SummaryDesign) -> String {
    let least = design.profile().number(ProfileNumber::LeastCentres);
    format!(
        "A centre counts for the region that it had when the data were frozen. A region of fewer than {least} centres is not shown."
    )
}

/// What a summary says besides if it tells what badges of staff read.
const STAFF_DOSE_NOTE: &str = "Badge readings are those of a role in a case with X-ray, under whatever strategy. Readings over and under an apron, and where nobody stated it, stand apart. Not every case has one.";

/// Published limits, those of one source in one sentence, and what they are not.
fn limits() -> Vec<String> {
    let of_source = |limits: &[Limit]| {
        let limit =
            |Limit { who, what, msv, over, .. }: &Limit| format!("{who}, {what}: {msv} mSv over {over}");
        let source = limits.first().map_or("", |limit| limit.source);
        let limits: Vec<String> = limits.iter().map(limit).collect();
        format!("Published limits, for context. {}. Source: {source}.", limits.join("; "))
    };
    let sources = LIMITS.chunk_by(|one, next| one.source == next.source);
    sources.map(of_source).chain([NO_JUDGEMENT.to_owned()]).collect()
}

fn notes(design: &SummaryDesign) -> Vec<String> {
    let first = design.comparison_first().then(|| COMPARISON_FIRST_NOTE.to_owned());
    let asked = [
        (SummaryTable::Region, vec![region_note(design)]),
        (SummaryTable::StaffDose, [STAFF_DOSE_NOTE.to_owned()].into_iter().chain(limits()).collect()),
        (SummaryTable::Capture, vec![CAPTURE_NOTE.to_owned()]),
    ];
    let further = asked.into_iter().filter(|(table, _)| design.has(*table)).flat_map(|(_, notes)| notes);
    NOTES.into_iter().map(str::to_owned).chain(first).chain(further).collect()
}

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
    /// What the society asked of it, with its question and its own words.
    #[serde(default)]
    pub design: SummaryDesign,
    /// Further tables that the design asked for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tables: Vec<NamedTable>,
    /// What the comparison found that the design asked for; its counts are the last of the tables.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comparison: Option<PublishedComparison>,
}

impl SafetySummary {
    /// The plan whose comparison it publishes.
    pub fn plan(&self) -> Option<&AnalysisPlan> {
        self.comparison.as_ref().map(|comparison| &comparison.plan)
    }

    /// Whether it has a table of what went as intended of a comparison.
    fn tells_per_protocol(&self) -> bool {
        self.comparison_tables().nth(1).is_some()
    }

    /// The line of a group and a strategy.
    pub fn line(
        &self,
        group: OneOrAll<ProcedureGroup>,
        strategy: OneOrAll<Strategy>,
    ) -> Option<&SummaryLine> {
        self.lines.iter().find(|line| line.procedure_group == group && line.strategy_intended == strategy)
    }
}

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
    /// Counts that do not belong together.
    #[error(transparent)]
    Tables(#[from] TableError),
    /// An earlier summary says what its cases do not.
    #[error(transparent)]
    Attack(#[from] AttackError),
    /// An earlier summary shows what its cases do not: they are not what they were, or this version
    /// counts otherwise.
    #[error("{name} does not say what its cases say now")]
    EarlierDiffers {
        /// Which summary.
        name: String,
    },
    /// However much is hidden, with what was published before somebody could work out a number.
    #[error("{}", refusal(.0))]
    Refused(Learnt),
}

/// The first refusal in words; it names the number and who could, and no count.
fn refusal(learnt: &Learnt) -> String {
    let first = learnt.refused().next();
    first.map_or_else(|| "nothing is refused".to_owned(), |refused| refused.to_string())
}

/// What a summary is made from.
pub struct Asking<'a> {
    /// The cases of the cut; where a comparison is asked for, with what its plan asks of how things
    /// stood at the cut.
    pub cohort: &'a Cohort,
    /// What is to be shown.
    pub design: &'a SummaryDesign,
    /// What the comparison found that the design asks for.
    pub comparison: Option<PublishedComparison>,
}

impl<'a> Asking<'a> {
    /// A summary without a comparison.
    pub fn of(cohort: &'a Cohort, design: &'a SummaryDesign) -> Self {
        Self { cohort, design, comparison: None }
    }
}

/// Makes the summary of a cohort as a design asks for it, hidden as its profile demands and attacked
/// together with all before it.
///
/// # Errors
/// A part that exceeds its whole is refused, not published. Where nothing can be shown safely, nothing is.
pub fn summarise(asking: Asking<'_>, earlier: &[Earlier<'_>]) -> Result<Composed, SummaryError> {
    let Asking { cohort, design, comparison } = asking;
    let profile = demanded(design.profile());
    let plan = comparison.as_ref().map(|comparison| &comparison.plan);
    let names = names(earlier, (cohort, plan));
    let asked = Asked { cohort, design, plan, per_protocol: false, names: &names };
    let mut counted = Counted::new(asked)?;
    let earlier: Vec<Before<'_>> =
        earlier.iter().map(|earlier| counted_again(earlier, &names)).collect::<Result<_, _>>()?;
    let mut found = gate(&counted, profile, &earlier)?;
    if plan.is_some() {
        let with = Counted::new(Asked { per_protocol: true, ..asked })?;
        if let Some(more) = gate_of_one_more(&with, (&found.hidden, profile), &earlier)? {
            (counted, found) = (with, more);
        }
    }
    let Gate { hidden, learnt } = found;
    let centres = counted.centres_with_cases();
    let few = centres > 0 && (centres as u64) < u64::from(profile.least_centres);
    let calendar = counted.calendar();
    let summary = SafetySummary {
        disclosure: DisclosureRules::of(profile),
        first_year: calendar.map(|(first, _)| first),
        last_year: calendar.map(|(_, last)| last),
        centres: if few { Published::Hidden } else { Published::Shown(centres as u64) },
        lines: lines(&counted, &hidden),
        notes: notes(design),
        design: design.clone(),
        tables: layouts(design, &counted)
            .into_iter()
            .map(|layout| layout.filled(&counted, &hidden, profile))
            .collect(),
        comparison: comparison.as_ref().map(|found| found.clone().withheld(&counted, &hidden)),
    };
    Ok(Composed { summary, learnt })
}

/// What has one name in a summary and all before it.
fn names<'c>(earlier: &'c [Earlier<'_>], own: (&'c Cohort, Option<&'c AnalysisPlan>)) -> Names {
    let before = earlier.iter().map(|earlier| (earlier.cohort, earlier.summary.plan()));
    Names::of(before.chain([own]))
}

/// Attacks a summary as it stands together with all that was published meanwhile.
///
/// # Errors
/// When it does not say what its cases say, or somebody could work out too much.
pub fn attack_again(
    cohort: &Cohort,
    summary: &SafetySummary,
    earlier: &[Earlier<'_>],
) -> Result<Learnt, SummaryError> {
    let profile = demanded(summary.design.profile());
    let own = Earlier { name: "the summary".to_owned(), cohort, summary };
    let names = names(earlier, (cohort, summary.plan()));
    let Before { counted, shown, .. } = counted_again(&own, &names)?;
    let earlier: Vec<Before<'_>> =
        earlier.iter().map(|earlier| counted_again(earlier, &names)).collect::<Result<_, _>>()?;
    judge(&counted, &shown, profile, &earlier)
}

/// Counts the cases of an earlier summary again and finds in them what it showed.
fn counted_again<'e>(earlier: &'e Earlier<'_>, names: &'e Names) -> Result<Before<'e>, SummaryError> {
    let Earlier { name, cohort, summary } = earlier;
    let per_protocol = summary.tells_per_protocol();
    let asked = Asked { cohort, design: &summary.design, plan: summary.plan(), per_protocol, names };
    let counted = Counted::new(asked)?;
    let differs = || SummaryError::EarlierDiffers { name: name.clone() };
    let mut shown = BTreeMap::new();
    for line in &summary.lines {
        for (measure, count) in BASE.into_iter().zip(line.counts()) {
            let count_at = at(measure, line.procedure_group, line.strategy_intended);
            if let Published::Shown(value) = count {
                shown.insert(count_at, value);
            }
        }
    }
    for layout in layouts(&summary.design, &counted) {
        let table = summary.tables.iter().find(|table| table.key == layout.key).ok_or_else(differs)?;
        shown.extend(layout.read(table).ok_or_else(differs)?);
    }
    if shown.iter().any(|(count, value)| counted.said(*count) != Some(*value)) {
        return Err(differs());
    }
    Ok(Before { name, counted, shown })
}

/// The count of a line of the table that every summary has.
fn at(measure: Measure, group: OneOrAll<ProcedureGroup>, strategy: OneOrAll<Strategy>) -> Count {
    let part = match group {
        OneOrAll::One(group) => Part::Group(group),
        OneOrAll::All => Part::All,
    };
    Count { measure, part, strategy }
}

fn lines(counted: &Counted<'_>, hidden: &BTreeSet<Count>) -> Vec<SummaryLine> {
    let line = |procedure_group, strategy_intended| {
        let count = |measure| published(counted, hidden, at(measure, procedure_group, strategy_intended));
        let cases = count(Measure::Cases);
        let part = |measure| PublishedPart::new(count(measure), cases);
        SummaryLine {
            procedure_group,
            strategy_intended,
            cases,
            no_x_ray: part(Measure::NoXRay),
            acute_success: part(Measure::AcuteSuccess),
            major: part(Measure::Major),
            minor: part(Measure::Minor),
            imaging_only: part(Measure::ImagingOnly),
            drained_effusion: part(Measure::Drained),
        }
    };
    let each = OneOrAll::each().flat_map(|group| OneOrAll::each().map(move |strategy| (group, strategy)));
    each.map(|(group, strategy)| line(group, strategy)).collect()
}
