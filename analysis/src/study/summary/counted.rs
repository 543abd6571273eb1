//! What a summary counts, as one set: a count that stands in two tables is one count.

use super::super::cohort::{CaseRow, Cohort};
use super::super::endpoint::Endpoint;
use super::super::plan::AnalysisPlan;
use super::super::published::OneOrAll;
use super::arms::{Arms, Scopes, arms, behind_a_difference};
use super::blocks::{Block, Comes, Given, shapes};
use super::part::Part;
use super::placed::{Around, Logs, Placed, Region, Regions, placed};
use super::ranks::{Dose, Edge, Quartile, Ranks, worn};
use super::shares::{Share, shares};
use crate::methods::disclosure::{Meaning, Profile, TableError};
use crate::study::staff::StaffRole;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Period;
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, BadgePosition, Coded, ComplicationClass, DetectedBy, HarmTier, LeadWorn, Strategy,
    SummaryTable,
};
use std::collections::{BTreeMap, BTreeSet};

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
    /// Cases in which something was attempted and the success is known.
    SuccessKnown,
    /// Cases whose outcome at discharge is known.
    DischargeKnown,
    MajorBeforeDischarge,
    DeclaredBefore,
    AirKermaReported,
    KapReported,
    /// Cases with X-ray in which a badge of staff in a role, worn there, was read.
    BadgeRead(StaffRole, Option<BadgePosition>),
    /// Eligible procedures of the quarters that a signed log accounts for, sent in or not.
    Eligible,
    /// Cases of these quarters: the eligible procedures that were sent in.
    Logged,
    /// Those of them that were not.
    NotSent,
    /// Cases of the other quarters.
    Unlogged,
    /// Doses below an edge of a printed quartile, or up to it; never shown itself.
    Edge(Dose, Edge),
    /// No count: the printed number of a quartile.
    Quartile(Dose, Quartile),
    /// No count: the share of an arm that had an outcome, printed in whole per cent.
    Share(Endpoint),
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

    /// The same of whatever comparison.
    pub(super) fn of_any_scope(self) -> Self {
        Self { part: self.part.of_any_scope(), ..self }
    }

    /// Whether it is one of the whole network.
    pub(super) fn is_of_network(self) -> bool {
        self.part == Part::All && self.strategy == OneOrAll::All
    }
}

impl Measure {
    pub(super) fn name(self) -> String {
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
            Self::SuccessKnown => "attempts with known success".to_owned(),
            Self::DischargeKnown => "outcomes at discharge known".to_owned(),
            Self::MajorBeforeDischarge => "major complications before discharge".to_owned(),
            Self::DeclaredBefore => "intentions declared beforehand".to_owned(),
            Self::AirKermaReported => "air kerma reported".to_owned(),
            Self::KapReported => "kerma-area product reported".to_owned(),
            Self::BadgeRead(role, position) => format!("badges read ({})", worn(role, position)),
            Self::Eligible => "eligible procedures".to_owned(),
            Self::Logged => "eligible procedures sent in".to_owned(),
            Self::NotSent => "eligible procedures not sent in".to_owned(),
            Self::Unlogged => "cases without a signed log".to_owned(),
            Self::Edge(dose, edge) => format!("{} {}", dose.name(), edge.name()),
            Self::Quartile(dose, quartile) => format!("{} of {}", quartile.name(), dose.name()),
            Self::Share(endpoint) => format!("{} in whole per cent", endpoint.label().to_lowercase()),
        }
    }

    pub(super) fn meaning(self) -> Meaning {
        match self {
            Self::Cases | Self::Eligible => Meaning::Cases,
            Self::AcuteSuccess => Meaning::Wanted,
            Self::Major | Self::Minor | Self::ImagingOnly | Self::Drained | Self::MajorBeforeDischarge => {
                Meaning::Adverse
            }
            // That all harm of a tier was of one kind, or shown by one thing, tells no harm of anyone.
            Self::Class(..)
            | Self::First(..)
            | Self::NoXRay
            | Self::OutcomeKnown
            | Self::SuccessKnown
            | Self::DischargeKnown
            | Self::DeclaredBefore
            | Self::AirKermaReported
            | Self::KapReported
            | Self::BadgeRead(..)
            | Self::Logged
            | Self::NotSent
            | Self::Unlogged
            | Self::Edge(..)
            | Self::Quartile(..)
            | Self::Share(..) => Meaning::Neutral,
        }
    }

    /// The dose of a case among those with X-ray, where this counts the reported ones.
    pub(super) fn dose(self, case: &CaseRow) -> Option<f64> {
        match self {
            Self::AirKermaReported if case.beam_on() => case.air_kerma_mgy,
            Self::KapReported if case.beam_on() => case.kap_gy_cm2,
            Self::BadgeRead(role, position) if case.beam_on() && case.badges.position() == position => {
                case.badges.of(role)
            }
            _ => None,
        }
    }

    pub(super) fn counts(self, case: &Placed<'_>) -> bool {
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
            Self::SuccessKnown => Endpoint::AcuteSuccess.event(case).is_some(),
            Self::DischargeKnown => case.major_before_discharge.is_some(),
            Self::MajorBeforeDischarge => case.major_before_discharge == Some(true),
            Self::DeclaredBefore => case.declared_before(),
            Self::AirKermaReported | Self::KapReported | Self::BadgeRead(..) => self.dose(case).is_some(),
            Self::Logged => case.logged,
            Self::Unlogged => !case.logged,
            // They are counted beside the tables, and what is no case by the logs.
            Self::Edge(..) | Self::Quartile(..) | Self::Share(..) | Self::Eligible | Self::NotSent => false,
        }
    }

    /// The counts it is a part of, if at every centre it is one: a drained effusion is major unless
    /// a centre gave a reason why not, and readers will assume it is.
    pub(super) fn within(self) -> Vec<Self> {
        let tier = |tier: HarmTier| match tier {
            HarmTier::Major => Self::Major,
            HarmTier::Minor => Self::Minor,
            HarmTier::ImagingOnly => Self::ImagingOnly,
        };
        match self {
            Self::Cases | Self::Eligible => vec![],
            Self::NotSent => vec![Self::Eligible],
            Self::Drained => vec![Self::Cases, Self::Major],
            Self::AcuteSuccess => vec![Self::Cases, Self::SuccessKnown],
            Self::Major => vec![Self::Cases, Self::OutcomeKnown],
            Self::MajorBeforeDischarge => vec![Self::Cases, Self::DischargeKnown, Self::Major],
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

/// A cohort and what is asked of it.
#[derive(Clone, Copy)]
pub(super) struct Asked<'c> {
    pub(super) cohort: &'c Cohort,
    pub(super) design: &'c SummaryDesign,
    /// The plan of the comparison that the design asks for.
    pub(super) plan: Option<&'c AnalysisPlan>,
    /// Whether what went as intended is counted of that too.
    pub(super) per_protocol: bool,
    pub(super) names: &'c Names,
}

impl<'c> Asked<'c> {
    /// The plan with the place of its scope.
    pub(super) fn planned(&self) -> Option<(&'c AnalysisPlan, usize)> {
        self.plan.map(|plan| (plan, self.names.scopes.place(plan)))
    }
}

/// What has one name in all summaries that are counted together.
pub(super) struct Names {
    pub(super) regions: Regions,
    pub(super) scopes: Scopes,
}

impl Names {
    pub(super) fn of<'c>(all: impl Iterator<Item = (&'c Cohort, Option<&'c AnalysisPlan>)> + Clone) -> Self {
        Self {
            regions: Regions::of(all.clone().map(|(cohort, _)| cohort)),
            scopes: Scopes::of(all.filter_map(|(_, plan)| plan)),
        }
    }
}

/// Everything a summary counts, and whose cases they are.
pub(super) struct Counted<'c> {
    asked: Asked<'c>,
    /// The cases of its period.
    pub(super) cases: Vec<Placed<'c>>,
    pub(super) period: Period,
    /// The centres with a case, or with an eligible procedure that is counted.
    pub(super) centres: Vec<CentreCode>,
    pub(super) blocks: Vec<Block>,
    /// Each count, with what each centre contributes.
    pub(super) counts: BTreeMap<Count, Vec<u64>>,
    /// The quartiles of its doses; their edges are among the counts.
    pub(super) ranks: Ranks,
    /// What stands behind the comparison; its counts are among the others.
    pub(super) arms: Arms,
    /// The shares of its arms.
    pub(super) shares: BTreeMap<Count, Share>,
    /// Counts that no table shows, whatever is hidden.
    pub(super) behind: BTreeSet<Count>,
}

impl<'c> Counted<'c> {
    pub(super) fn new(asked: Asked<'c>) -> Result<Self, TableError> {
        let mut counted = Self::of(asked, asked.design.period())?;
        let centre = |case: &CaseRow| counted.centres.binary_search(&case.centre).ok();
        let doses = Dose::asked(asked.design);
        counted.ranks = Ranks::of((&doses, &counted.cases), (counted.centres.len(), centre));
        counted.counts.extend(counted.ranks.edges.clone());
        counted.shares = shares(&counted);
        Ok(counted)
    }

    /// The same of a part of its period, without quartiles.
    pub(super) fn during(&self, period: Period) -> Result<Self, TableError> {
        Self::of(self.asked, period)
    }

    fn of(asked: Asked<'c>, period: Period) -> Result<Self, TableError> {
        let Asked { cohort, design, plan, names, .. } = asked;
        let logs = Logs::of(cohort);
        let around = Around { regions: &names.regions.by_centre(cohort), logs: &logs, plan };
        let cases = placed(cohort, period, around);
        let logged = design.has(SummaryTable::Capture).then(|| logs.lines(period));
        let logged = logged.into_iter().flatten().filter(|(.., line)| line.eligible > 0);
        let centres: BTreeSet<CentreCode> =
            cases.iter().map(|case| case.centre).chain(logged.map(|(centre, ..)| centre)).collect();
        let centres: Vec<CentreCode> = centres.into_iter().collect();
        let given = Given { cases: &cases, logs: &logs, period, centres: &centres };
        let shapes = shapes(asked, &cases).into_iter();
        let blocks: Vec<Block> = shapes.map(|shape| Block::count(given, shape)).collect::<Result<_, _>>()?;
        let mut counts = BTreeMap::new();
        for block in &blocks {
            for ((table, place), count) in block.everywhere() {
                counts.entry(count).or_insert_with(|| block.tables.tables()[table].by_centre(place));
            }
        }
        let arms = asked.planned().map(|planned| Arms::of(given, planned, asked.per_protocol));
        let arms = arms.unwrap_or_default();
        let behind = arms.counts.keys().filter(|count| !counts.contains_key(count)).copied().collect();
        for (count, by_centre) in &arms.counts {
            counts.entry(*count).or_insert_with(|| by_centre.clone());
        }
        Ok(Self {
            asked,
            cases,
            period,
            centres,
            blocks,
            counts,
            ranks: Ranks::default(),
            arms,
            behind,
            shares: BTreeMap::new(),
        })
    }

    /// The plan of its comparison, with the place of its scope.
    pub(super) fn planned(&self) -> Option<(&'c AnalysisPlan, usize)> {
        self.asked.planned()
    }

    /// Whether it counts what went as intended of a comparison.
    pub(super) fn per_protocol(&self) -> bool {
        self.asked.per_protocol
    }

    /// The hash of the cut, where the cases are of one.
    pub(super) fn cut(&self) -> Option<&'c str> {
        Some(self.asked.cohort.surroundings().cut.as_str()).filter(|cut| !cut.is_empty())
    }

    /// The region of each centre that has one.
    pub(super) fn regions(&self) -> BTreeMap<CentreCode, usize> {
        self.asked.names.regions.by_centre(self.asked.cohort)
    }

    /// What a region is called.
    pub(super) fn region(&self, region: Region) -> &str {
        self.asked.names.regions.name(region)
    }

    /// The regions with cases, in the order of their names, none last.
    pub(super) fn regions_with_cases(&self) -> Vec<Region> {
        let regions: BTreeSet<Region> = self.cases.iter().map(|case| case.region).collect();
        let (none, some): (Vec<Region>, Vec<Region>) =
            regions.into_iter().partition(|region| region.is_none());
        some.into_iter().chain(none).collect()
    }

    /// The counts of tables that come so or later, and that no table before them tells.
    pub(super) fn told_from(&self, comes: Comes) -> BTreeSet<Count> {
        self.own_of_later().filter(|(of, _)| *of >= comes).flat_map(|(_, own)| own).collect()
    }

    /// For each table that does not come first the counts that no table before it tells.
    fn own_of_later(&self) -> impl Iterator<Item = (Comes, BTreeSet<Count>)> {
        let counts = |block: &Block| block.everywhere().map(|(_, count)| count).collect::<BTreeSet<Count>>();
        let own = move |block: &Block| {
            let before = self.blocks.iter().filter(|other| other.comes < block.comes);
            let told: BTreeSet<Count> = before.flat_map(counts).collect();
            let counts = &counts(block) - &told;
            let shares = self.shares.iter().filter(|(_, share)| counts.contains(&share.had));
            let shares: BTreeSet<Count> = shares.map(|(key, _)| *key).collect();
            (block.comes, &counts | &shares)
        };
        self.blocks.iter().filter(|block| block.comes > Comes::First).map(own)
    }

    /// What is told first of a comparison that is: for each endpoint the counts behind its difference;
    /// nothing where none is.
    pub(super) fn told_first(&self) -> Vec<BTreeSet<Count>> {
        let planned = self.planned().filter(|_| self.asked.design.comparison_first());
        let of_plan = planned.into_iter().flat_map(|(plan, scope)| {
            let endpoints = plan.endpoints().iter();
            endpoints.map(move |planned| behind_a_difference(arms(scope), planned.endpoint).collect())
        });
        of_plan.collect()
    }

    /// The counts of tables that come later and show nothing of their own: whoever reads them reads no
    /// such table, and what they would have told is hidden for nobody's sake.
    pub(super) fn silent(&self, is_shown: impl Fn(&Count) -> bool) -> BTreeSet<Count> {
        let silent = self.own_of_later().filter(|(_, own)| !own.iter().any(&is_shown));
        silent.flat_map(|(_, own)| own).collect()
    }

    /// What is counted of all cases together, and of each strategy, by some measures.
    pub(super) fn totals_of(&self, measures: BTreeSet<Measure>) -> BTreeSet<Count> {
        let is_total = |count: &&Count| count.part == Part::All && measures.contains(&count.measure);
        self.counts.keys().filter(is_total).copied().collect()
    }

    /// How many centres have cases.
    pub(super) fn centres_with_cases(&self) -> usize {
        self.cases.iter().map(|case| case.centre).collect::<BTreeSet<_>>().len()
    }

    /// A count in words, for whoever approves.
    pub(super) fn name(&self, count: Count) -> String {
        let part = count.part.name(&self.asked.names.regions);
        format!("{}, {part}, {}", count.measure.name(), count.strategy.label("all strategies"))
    }

    /// How many a count counts.
    pub(super) fn value(&self, count: Count) -> Option<u64> {
        self.counts.get(&count).map(|by_centre| by_centre.iter().sum())
    }

    /// What a summary says of it: the count, the printed number of a quartile, bit by bit, or the share
    /// in whole per cent.
    pub(super) fn said(&self, count: Count) -> Option<u64> {
        if let Some(share) = self.shares.get(&count) {
            return Some(share.percent.into());
        }
        self.ranks.printed.get(&count).map(|printed| printed.to_bits()).or_else(|| self.value(count))
    }

    /// What a summary says if it shows some of it.
    pub(super) fn said_by(&self, is_shown: impl Fn(&Count) -> bool) -> impl Iterator<Item = Count> {
        self.everything().filter(move |count| is_shown(count) && self.said(*count).is_some())
    }

    /// Everything that a summary can show or hide.
    pub(super) fn everything(&self) -> impl Iterator<Item = Count> {
        self.counts.keys().chain(self.ranks.printed.keys()).chain(self.shares.keys()).copied()
    }

    /// The shares told in place of counts that speak of the same outcomes as some.
    pub(super) fn shares_beside(
        &self,
        counts: &BTreeSet<Count>,
        hidden: &BTreeSet<Count>,
    ) -> impl Iterator<Item = Count> {
        let measures: BTreeSet<Measure> = counts.iter().map(|count| count.measure).collect();
        let speaks =
            move |share: &Share| [share.known, share.had].iter().any(|of| measures.contains(&of.measure));
        let told = self.shares.iter().filter(move |(_, share)| hidden.contains(&share.had) && speaks(share));
        told.map(|(share, _)| *share)
    }

    /// Whether a quartile is of enough doses of enough centres, of which none has nearly all, and their number
    /// is shown too. What badges of one centre read could be the doses of one nurse.
    pub(super) fn may_print(&self, quartile: Count, hidden: &BTreeSet<Count>, profile: Profile) -> bool {
        let Measure::Quartile(dose, _) = quartile.measure else { return false };
        let reported = Count { measure: dose.reported(), ..quartile };
        let by_centre = self.counts.get(&reported).map_or(&[][..], Vec::as_slice);
        let centres = by_centre.iter().filter(|count| **count > 0).count();
        let mut largest = by_centre.to_vec();
        largest.sort_unstable_by(|one, other| other.cmp(one));
        let others: u64 = largest.iter().skip(2).sum();
        !hidden.contains(&reported)
            && by_centre.iter().sum::<u64>() >= profile.threshold
            && centres >= profile.least_centres as usize
            && 100 * others >= profile.dominance * largest.first().copied().unwrap_or(0)
    }

    /// The years with cases, from the first to the last.
    pub(super) fn calendar(&self) -> Option<(u16, u16)> {
        let years = || self.cases.iter().map(|case| case.period.year());
        years().min().zip(years().max())
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
