//! Cases with what stood around them: the region of their centre, and whether a signed screening
//! log accounts for their quarter.

use super::super::cohort::{CaseRow, Cohort};
use super::super::plan::AnalysisPlan;
use super::super::screening_log::Denominators;
use super::arms::Place;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::{Period, Quarter};
use quietbeam_schema::vocabulary::ProcedureGroup;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Deref;

/// A region by its place among those of all cohorts that are counted together; none where the
/// centre has none.
pub(super) type Region = Option<usize>;

/// The names of the regions of all cohorts that are counted together, in their order: the same
/// region has the same place in each.
pub(super) struct Regions(Vec<String>);

impl Regions {
    pub(super) fn of<'c>(cohorts: impl IntoIterator<Item = &'c Cohort>) -> Self {
        let names = cohorts.into_iter().flat_map(|cohort| cohort.surroundings().regions.values());
        let names: BTreeSet<&String> = names.collect();
        Self(names.into_iter().cloned().collect())
    }

    /// What a region is called.
    pub(super) fn name(&self, region: Region) -> &str {
        region.and_then(|place| self.0.get(place)).map_or("Not stated", String::as_str)
    }

    fn place(&self, name: &str) -> Region {
        self.0.binary_search_by(|other| other.as_str().cmp(name)).ok()
    }

    /// The region of each centre that has one.
    pub(super) fn by_centre(&self, cohort: &Cohort) -> BTreeMap<CentreCode, usize> {
        let regions = cohort.surroundings().regions.iter();
        regions.filter_map(|(centre, name)| Some((*centre, self.place(name)?))).collect()
    }
}

/// A case with what stood around it.
#[derive(Clone, Copy)]
pub(super) struct Placed<'c> {
    pub(super) row: &'c CaseRow,
    pub(super) region: Region,
    /// Whether a signed log accounts for the quarter of its centre.
    pub(super) logged: bool,
    /// Where a comparison puts it.
    pub(super) place: Option<Place>,
}

/// What stands around the cases.
#[derive(Clone, Copy)]
pub(super) struct Around<'a> {
    pub(super) regions: &'a BTreeMap<CentreCode, usize>,
    pub(super) logs: &'a Logs,
    /// The plan of the comparison that is asked for.
    pub(super) plan: Option<&'a AnalysisPlan>,
}

impl Deref for Placed<'_> {
    type Target = CaseRow;

    fn deref(&self) -> &CaseRow {
        self.row
    }
}

/// The cases of a period, each where it stands.
pub(super) fn placed<'c>(cohort: &'c Cohort, period: Period, around: Around<'_>) -> Vec<Placed<'c>> {
    let Around { regions, logs, plan } = around;
    let plan = plan.map(|plan| (plan, plan.eligibility().groups()));
    let rows = cohort.rows().iter().filter(|row| period.holds(row.period));
    let place = |row: &'c CaseRow| Placed {
        row,
        region: regions.get(&row.centre).copied(),
        logged: logs.account_for(row.centre, row.period),
        place: plan.as_ref().map(|(plan, groups)| Place::of(row, plan, groups)),
    };
    rows.map(place).collect()
}

/// A line of a log: the eligible procedures of a group in a quarter, and how many of them the registry
/// holds as cases.
#[derive(Clone, Copy, Default)]
pub(super) struct Line {
    pub(super) eligible: u64,
    pub(super) sent_in: u64,
}

/// The quarters that a signed screening log accounts for, line by line.
pub(super) struct Logs(BTreeMap<(CentreCode, Quarter), BTreeMap<ProcedureGroup, Line>>);

impl Logs {
    /// A log accounts for a quarter of its centre if all its lines are signed and none counts fewer
    /// eligible procedures than the registry holds cases: every case sent in is then one of them.
    pub(super) fn of(cohort: &Cohort) -> Self {
        let log = &cohort.surroundings().log;
        let signed = Denominators::new(log);
        let mut quarters = BTreeMap::<_, BTreeMap<ProcedureGroup, Line>>::new();
        for line in log.iter().filter(|line| signed.is_signed(line.centre, line.period)) {
            let of_quarter = quarters.entry((line.centre, line.period)).or_default();
            of_quarter.entry(line.group).or_default().eligible += u64::from(line.counts.eligible());
        }
        for case in cohort.rows().iter().filter(|_| !log.is_empty()) {
            if let Some(of_quarter) = quarters.get_mut(&(case.centre, case.period)) {
                of_quarter.entry(case.procedure.group()).or_default().sent_in += 1;
            }
        }
        quarters.retain(|_, lines| lines.values().all(|line| line.sent_in <= line.eligible));
        Self(quarters)
    }

    fn account_for(&self, centre: CentreCode, quarter: Quarter) -> bool {
        self.0.contains_key(&(centre, quarter))
    }

    /// The lines of a period.
    pub(super) fn lines(&self, period: Period) -> impl Iterator<Item = (CentreCode, ProcedureGroup, Line)> {
        let quarters = self.0.iter().filter(move |((_, quarter), _)| period.holds(*quarter));
        quarters.flat_map(|((centre, _), lines)| lines.iter().map(|(group, line)| (*centre, *group, *line)))
    }
}
