//! The comparison report: what a plan found on a data cut, who was compared, and whether one
//! thing drives it. One pure function of the cases, the plan and what the registry knows about
//! how both came to be.

mod adjudication;
mod centre_charts;
mod checklist;
mod columns;
mod driving;
mod echo_alike;
mod facts;
mod first_lines;
mod flow;
mod forest;
mod harms;
mod later;
mod prose;
mod provenance;
mod questions;
mod treated;

pub use adjudication::{Adjudication, Judged};
pub use checklist::{ByPerson, Checklist, Item, Standing, State, Written};
pub use columns::{Course, Fluid, Grave, Later, Reasons, ReportCase};
pub use driving::{
    ByOperator, Driving, Reaching, Subgroup, SubgroupLine, Suspicion, Tipping, Turned, Unrecorded,
    WithoutSuspicion,
};
pub(in crate::study) use echo_alike::echo_held_alike;
pub use echo_alike::{EchoAlike, EchoUse, HeldAlike, WhyNot};
pub use facts::{Amendment, Before, Entry, Facts, JudgedCase, JudgedEvent, Origin, ToldBy};
pub use first_lines::{EndpointLines, FirstLines};
pub use flow::{ArmFlow, CentreFlow, Flow, ReasonCount};
pub use forest::{Forest, ForestCentre, ForestSummary, Pooled, SummaryRow};
pub use harms::{HarmLine, Harms};
pub use later::{ArmTime, ProcedureTime, Recurrence, RecurrenceCurve, Step, StillFollowed};
pub use questions::{
    Axis, BadgeReadings, DoseAndMinutes, DoseInTwoParts, EchoFirst, Feasibility, GridCell, LeadWorn, MGY,
    MINUTES, Rate, RoleDose, RouteLead, Tried, WhoIsProtected,
};
pub use treated::{
    ArmLevel, ArmNumbers, Balance, BaselineLine, LearningBand, LearningWindow, Level, QuarterCounts, Spread,
    UNLIKE, WhoWasTreated,
};

use super::adjustment::ModelMethod;
use super::cohort::CaseRow;
use super::compared::Compared;
use super::look::{LooksTaken, information_of};
use super::plan::AnalysisPlan;
use super::planned::{PlannedComparison, carry_out_on};
use super::watching::Charts;
use driving::Operators;
use first_lines::OfCases;
use flow::{Quarters, Went};
use rayon::prelude::*;
use serde::Serialize;

/// A comparison with everything that belongs around it. For use inside the registry: nothing in
/// it is hidden.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// What was shown and what was not.
    pub first_lines: FirstLines,
    /// The comparison as planned.
    pub planned: PlannedComparison,
    /// From every ablation performed to the cases analysed.
    pub flow: Flow,
    /// Who was treated, and how alike the arms were.
    pub who_was_treated: WhoWasTreated,
    /// Each planned endpoint by centre.
    pub by_centre: Vec<Forest>,
    /// Each planned endpoint with the use of intracardiac echo held alike: not the total effect.
    pub echo_held_alike: Vec<EchoAlike>,
    /// Whether it can be done.
    pub feasibility: Feasibility,
    /// Whether echo sees fluid first.
    pub echo_first: EchoFirst,
    /// That minutes do not tell the dose.
    pub dose_and_minutes: DoseAndMinutes,
    /// How many had no X-ray, and how much the others had.
    pub dose_in_two_parts: DoseInTwoParts,
    /// Who is protected.
    pub who_is_protected: WhoIsProtected,
    /// Whether one thing drives a planned result.
    pub driving: Vec<Driving>,
    /// Recurrence after blanking.
    pub recurrence: Recurrence,
    /// How long procedures took.
    pub procedure_time: ProcedureTime,
    /// Every class of complication.
    pub harms: Harms,
    /// Each centre's harm among its limits and case by case, both arms together.
    pub centre_charts: Charts,
    /// What people said of the events who did not know the arm.
    pub adjudication: Adjudication,
    /// What a reader must be told, and whether it is.
    pub checklist: Checklist,
}

/// Makes the report. No order of the cases changes a byte of it.
pub fn report(cases: Vec<ReportCase>, plan: &AnalysisPlan, facts: &Facts) -> Report {
    let seen = Seen::new(cases, plan);
    let rows = || seen.all.iter().map(|case| &case.row);
    let first = || LooksTaken::next(plan, Vec::new(), information_of(rows(), plan));
    let taken = || facts.looks.clone().unwrap_or_else(first);
    let compared = || Compared::in_order(rows().collect(), &seen.stays, plan);
    let beside = || (taken(), Operators::of(&seen), flow::quarters(&seen.all, &facts.log));
    let (mut compared, (taken, operators, quarters)) = rayon::join(compared, beside);
    if let (Some(operators), Some(method)) = (&operators, ModelMethod::of(plan.method())) {
        compared.numbers.cluster_within(method, &operators.of_case);
    }
    // The sections that fit a model take nearly all the time.
    let beside = || {
        let treated = || (WhoWasTreated::new(&seen, &compared), Adjudication::new(&seen, facts));
        rayon::join(treated, || Described::new(&seen))
    };
    let as_planned = || AsPlanned::new(&seen, &compared, (&taken, operators.as_ref()), &quarters);
    let (compared, ((who_was_treated, adjudication), described)) = rayon::join(as_planned, beside);
    let AsPlanned { planned, driving, by_centre, echo_held_alike } = compared;
    let flow = Flow::new(plan, &planned.cases, (&quarters, described.went), &facts.log);
    let mut report = Report {
        checklist: Checklist::default(),
        first_lines: FirstLines::new(described.first_lines, &planned, &flow, facts),
        by_centre,
        echo_held_alike,
        driving,
        recurrence: described.recurrence,
        procedure_time: described.procedure_time,
        harms: described.harms,
        centre_charts: described.centre_charts,
        adjudication,
        planned,
        flow,
        who_was_treated,
        feasibility: described.feasibility,
        echo_first: described.echo_first,
        dose_and_minutes: described.dose_and_minutes,
        dose_in_two_parts: described.dose_in_two_parts,
        who_is_protected: described.who_is_protected,
    };
    report.checklist = Checklist::new(&report, facts);
    report
}

/// The sections that describe cases and need no model.
struct Described {
    went: Went,
    first_lines: OfCases,
    recurrence: Recurrence,
    procedure_time: ProcedureTime,
    harms: Harms,
    centre_charts: Charts,
    feasibility: Feasibility,
    echo_first: EchoFirst,
    dose_and_minutes: DoseAndMinutes,
    dose_in_two_parts: DoseInTwoParts,
    who_is_protected: WhoIsProtected,
}

impl Described {
    fn new(seen: &Seen<'_>) -> Self {
        Self {
            went: Went::of(seen),
            first_lines: OfCases::new(seen),
            recurrence: Recurrence::new(seen),
            procedure_time: ProcedureTime::new(seen),
            harms: Harms::new(seen),
            centre_charts: centre_charts::centre_charts(seen),
            feasibility: Feasibility::new(seen),
            echo_first: EchoFirst::new(seen),
            dose_and_minutes: DoseAndMinutes::new(seen),
            dose_in_two_parts: DoseInTwoParts::new(seen),
            who_is_protected: WhoIsProtected::new(seen),
        }
    }
}

/// What the plan decides, and what might drive it.
struct AsPlanned {
    planned: PlannedComparison,
    driving: Vec<Driving>,
    by_centre: Vec<Forest>,
    echo_held_alike: Vec<EchoAlike>,
}

impl AsPlanned {
    fn new(
        seen: &Seen<'_>,
        compared: &Compared<'_>,
        (taken, operators): (&LooksTaken, Option<&Operators>),
        quarters: &Quarters,
    ) -> Self {
        let carried_out = || carry_out_on(compared, seen.plan, taken);
        let (planned, free) = rayon::join(carried_out, || driving::free_of_each(seen, quarters));
        let beside = || {
            rayon::join(
                || forest::forests(&compared.rows, &planned),
                || echo_held_alike(compared, seen.plan, planned.level()),
            )
        };
        let (driving, (by_centre, echo_held_alike)) =
            rayon::join(|| driving::driving(compared, &planned, &free, operators), beside);
        Self { planned, driving, by_centre, echo_held_alike }
    }
}

/// The cases in an order of their own, and which of them the plan compares.
struct Seen<'p> {
    /// Every case of the cut, in an order of content and then of entry: so a pass over those that
    /// are compared runs through memory, and no rounding depends on how they were read.
    all: Vec<ReportCase>,
    /// The place of each among its operator's zero-fluoroscopy cases.
    ordinals: Vec<Option<u32>>,
    /// Whether the plan leaves it in: asked by every section.
    stays: Vec<bool>,
    plan: &'p AnalysisPlan,
}

impl<'p> Seen<'p> {
    fn new(given: Vec<ReportCase>, plan: &'p AnalysisPlan) -> Self {
        let mut all = in_order(given);
        let near_zero_in = plan.near_zero_arm();
        let stays = |case: &mut ReportCase| {
            case.row.near_zero_in = near_zero_in;
            plan.eligibility().left_out(&case.row).is_none()
        };
        let stays = all.par_iter_mut().map(stays).collect();
        Self { ordinals: treated::ordinals(&all), stays, all, plan }
    }

    /// The cases that the plan does not leave out, near-zero among them.
    fn kept(&self) -> impl Iterator<Item = &ReportCase> {
        self.all.iter().zip(&self.stays).filter(|(_, stays)| **stays).map(|(case, _)| case)
    }

    /// The same, each with its place among its operator's zero-fluoroscopy cases.
    fn kept_with_ordinals(&self) -> impl Iterator<Item = (&ReportCase, Option<u32>)> {
        let both = self.all.iter().zip(self.ordinals.iter().copied()).zip(&self.stays);
        both.filter(|(_, stays)| **stays).map(|(both, _)| both)
    }

    /// The same as a comparison sees them.
    fn rows(&self) -> Vec<&CaseRow> {
        self.kept().map(|case| &case.row).collect()
    }
}

/// The cases in their order.
fn in_order(given: Vec<ReportCase>) -> Vec<ReportCase> {
    if given.par_windows(2).all(|two| two[0].order() <= two[1].order()) {
        return given;
    }
    let key = |(place, case): (usize, &ReportCase)| (case.order(), place);
    let mut order: Vec<_> = given.par_iter().enumerate().map(key).collect();
    order.par_sort_unstable();
    // Moving wide cases about in one vector would take one thread, and longer than copying them.
    let placed = order.into_par_iter().map(|(_, place)| given[place].clone()).collect();
    given.into_par_iter().for_each(drop);
    placed
}
