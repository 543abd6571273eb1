//! The comparison that a plan orders: its endpoints in their order, decided by its method;
//! everything else described and without a verdict.

use super::adjustment::{Adjusted, Adjustment, ModelMethod};
use super::arm::ByArm;
use super::by_centre::{CentreLine, by_centre};
use super::cohort::{CaseRow, Cohort};
use super::compared::Compared;
use super::comparison::{CAUTIONS, CrossOver, Warning, count, cross_over, warnings};
use super::decision::{Decision, Reason};
use super::dose::DoseComparison;
use super::effect::Effect;
use super::effusion::EffusionComparison;
use super::endpoint::Endpoint;
use super::estimate::Estimate;
use super::look::{Look, LooksTaken};
use super::near_zero::NearZero;
use super::numerals;
use super::plan::{AnalysisPlan, LeftOut, PlannedEndpoint, PlannedMargin, is_of_the_cut};
use super::population::Population;
use super::population_result::PopulationResult;
use super::sensitivity::{SensitivityLine, beside};
use super::share::arm_sizes;
use super::tally::tally_by_stratum;
use crate::methods::interval::{Confidence, Interval, NotEstimable, RatioInterval};
use quietbeam_schema::vocabulary::{MarginScale, NearZeroCases, PrimaryMethod, Strategy};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// A comparison as planned. Differences are zero-fluoroscopy − conventional, proportions lie
/// between 0 and 1. For use inside the registry: nothing in it is hidden.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedComparison {
    /// The plan.
    pub plan: AnalysisPlan,
    /// Which look at the data it is, and the level that decides.
    pub look: Look,
    /// Which cases were compared.
    pub cases: PlannedFlow,
    /// The endpoints in the plan's order.
    pub endpoints: Vec<PlannedResult>,
    /// What carries no verdict.
    pub exploratory: Exploratory,
    /// What weakens the comparison.
    pub warnings: Vec<Warning>,
    /// What every plan of this registry does.
    pub always: [&'static str; 6],
    /// What holds for every comparison of this kind.
    pub cautions: [&'static str; 4],
}

/// How many cases there were and how many were compared; the losses add up.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedFlow {
    /// Cases in the cohort.
    pub in_cohort: u32,
    /// Cases left out, by reason; a case counts under the first that holds.
    pub left_out: Vec<LeftOutCount>,
    /// Cases intended as near-zero that the plan counts in neither arm.
    pub near_zero: u32,
    /// Cases intended as near-zero that it counts in one.
    #[serde(skip_serializing_if = "is_none")]
    pub near_zero_compared: u32,
    /// Cases by intended strategy.
    pub as_intended: ByArm<u32>,
    /// Cases that went as intended.
    pub per_protocol: ByArm<u32>,
    /// Cases whose strategy was written down before the first venous access.
    pub declared_before: ByArm<u32>,
}

// The signature is that of the serializer.
#[allow(clippy::trivially_copy_pass_by_ref)]
pub(super) fn is_none(count: &u32) -> bool {
    *count == 0
}

/// Cases left out for one reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct LeftOutCount {
    /// The reason.
    pub reason: LeftOut,
    /// How many.
    pub cases: u32,
    /// Of these, by the arm that was intended.
    pub arms: ByArm<u32>,
}

impl PlannedFlow {
    /// How many near-zero cases are in an arm, and in which.
    pub(super) fn near_zero_in_words(&self, counted: NearZeroCases) -> String {
        format!(
            "Of the cases compared, {} intended as near-zero: {} {}.",
            match self.near_zero_compared {
                0 => "none was".to_owned(),
                1 => "1 was".to_owned(),
                many => format!("{} were", numerals::count(many)),
            },
            if self.near_zero_compared == 1 { "it counts" } else { "they count" },
            match counted {
                NearZeroCases::InNeitherArm => "in neither arm",
                NearZeroCases::WithZeroFluoroscopy => "with zero-fluoroscopy",
                NearZeroCases::WithConventional => "with conventional fluoroscopy",
            }
        )
    }
}

impl LeftOutCount {
    /// Whether they are left out for how things stood at the cut, and not for what they are.
    pub(super) fn is_of_the_cut(&self) -> bool {
        matches!(self.reason, LeftOut::Excluded(rule) if is_of_the_cut(rule))
    }

    /// The count and the reason, with the arms where a rule of the plan took them out.
    pub fn in_words(&self) -> String {
        let told = format!("{} {}", numerals::count(self.cases), self.reason.in_words());
        match self.reason {
            LeftOut::DiagnosticOnly | LeftOut::OtherGroup | LeftOut::OtherProcedure => told,
            LeftOut::OtherAge | LeftOut::Excluded(_) => format!(
                "{told}: {} zero-fluoroscopy, {} conventional",
                numerals::count(self.arms.zero_fluoroscopy),
                numerals::count(self.arms.conventional)
            ),
        }
    }
}

/// A planned endpoint.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedResult {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// The margin and its scale.
    #[serde(flatten)]
    pub margin: PlannedMargin,
    /// What may be claimed.
    pub claim: Decision,
    /// The claim in one sentence.
    pub claim_in_words: String,
    /// Whether both populations decide alike.
    pub populations_agree: bool,
    /// By intended strategy.
    pub as_intended: PlannedPopulation,
    /// Cases that went as intended.
    pub per_protocol: PlannedPopulation,
    /// By whether the beam was on: description, decides nothing.
    pub as_treated: PopulationResult,
    /// Whether one thing drives it: intervals without a verdict.
    pub sensitivity: Vec<SensitivityLine>,
}

/// A planned endpoint in one population.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedPopulation {
    /// What this population decides by the plan's method.
    pub decision: Decision,
    /// Counts, the crude difference and the one within centres.
    pub crude: PopulationResult,
    /// Centre and covariates held alike.
    pub adjusted: Adjustment,
}

impl PlannedPopulation {
    /// The difference by the plan's method.
    ///
    /// # Errors
    /// Why it cannot be estimated.
    pub fn difference(&self, method: PrimaryMethod) -> Result<Interval, NotEstimable> {
        difference_by((method, &self.crude, &self.adjusted))
    }

    /// The ratio of what nobody wants by the plan's method.
    pub fn ratio(&self, method: PrimaryMethod) -> Estimate<RatioInterval> {
        ratio_by((method, &self.crude, &self.adjusted)).into()
    }

    /// What decides: the one by the plan's method that stands on the scale of the margin.
    pub fn effect(&self, method: PrimaryMethod, scale: MarginScale) -> Effect {
        Effect::on(scale, self.difference(method), self.ratio(method))
    }
}

/// What the plan does not decide.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Exploratory {
    /// Cases that did not go as intended.
    pub cross_over: CrossOver,
    /// Pericardial effusion.
    pub effusion: EffusionComparison,
    /// Dose.
    pub dose: DoseComparison,
    /// Each centre; not for publication.
    pub by_centre: Vec<CentreLine>,
}

/// Carries out a plan on data that nobody compared before.
pub fn carry_out(cohort: &Cohort, plan: &AnalysisPlan) -> PlannedComparison {
    carry_out_at(cohort, plan, &LooksTaken::first(cohort, plan))
}

/// Carries out a plan at one of its looks.
pub fn carry_out_at(cohort: &Cohort, plan: &AnalysisPlan, taken: &LooksTaken) -> PlannedComparison {
    let near_zero = NearZero::of(cohort.rows(), plan);
    carry_out_on(&Compared::new(near_zero.among(cohort.rows()).into_iter(), plan), plan, taken)
}

/// The same on cases that stand in order.
pub(super) fn carry_out_on(
    compared: &Compared<'_>,
    plan: &AnalysisPlan,
    taken: &LooksTaken,
) -> PlannedComparison {
    let rows = &compared.rows;
    let look = Look::new(plan, taken);
    let described = || {
        let exploratory = Exploratory {
            cross_over: cross_over(rows, plan.level()),
            effusion: EffusionComparison::new(rows, plan.level()),
            dose: DoseComparison::new(rows, plan.level()),
            by_centre: by_centre(rows),
        };
        (warnings(rows, &exploratory.by_centre), exploratory, flow(&compared.all, rows, plan))
    };
    let at_look = plan.at_level(look.interval_level(plan));
    let (endpoints, (warnings, exploratory, cases)) =
        rayon::join(|| in_order(compared, &at_look, &look), described);
    PlannedComparison {
        plan: plan.clone(),
        cases,
        endpoints,
        look,
        warnings,
        exploratory,
        always: plan.always(),
        cautions: CAUTIONS,
    }
}

fn flow(all: &[&CaseRow], rows: &[&CaseRow], plan: &AnalysisPlan) -> PlannedFlow {
    let mut left_out = BTreeMap::<LeftOut, LeftOutCount>::new();
    for case in all {
        let Some(reason) = plan.eligibility().left_out(case) else { continue };
        let nobody = LeftOutCount { reason, cases: 0, arms: ByArm::default() };
        let line = left_out.entry(reason).or_insert(nobody);
        line.cases += 1;
        if let Some(arm) = Population::AsIntended.arm(case) {
            *line.arms.of_mut(arm) += 1;
        }
    }
    let before: Vec<&CaseRow> = rows.iter().copied().filter(|case| case.declared_before()).collect();
    let near_zero = count(rows.iter().filter(|case| case.intended == Strategy::NearZero));
    PlannedFlow {
        in_cohort: count(all.iter()),
        left_out: left_out.into_values().collect(),
        near_zero: if plan.near_zero_arm().is_none() { near_zero } else { 0 },
        near_zero_compared: if plan.near_zero_arm().is_some() { near_zero } else { 0 },
        as_intended: arm_sizes(rows, Population::AsIntended),
        per_protocol: arm_sizes(rows, Population::PerProtocol),
        declared_before: arm_sizes(&before, Population::AsIntended),
    }
}

/// After the first endpoint that is not shown none is tested.
fn in_order(compared: &Compared<'_>, plan: &AnalysisPlan, look: &Look) -> Vec<PlannedResult> {
    let mut results: Vec<PlannedResult> =
        plan.endpoints().par_iter().map(|planned| result(compared, planned, plan, look)).collect();
    let mut stopped_by = None;
    for result in &mut results {
        if let Some(after) = stopped_by.filter(|_| look.no_verdict.is_none()) {
            result.claim = Decision::CannotConclude { reason: Reason::NotTested { after } };
            result.claim_in_words = result.claim.sentence(result.endpoint, result.margin);
        } else if result.claim != Decision::Shown {
            stopped_by = stopped_by.or(Some(result.endpoint));
        }
    }
    results
}

fn result(
    compared: &Compared<'_>,
    planned: &PlannedEndpoint,
    plan: &AnalysisPlan,
    look: &Look,
) -> PlannedResult {
    let PlannedEndpoint { endpoint, margin, .. } = *planned;
    let crude = |population| {
        let tallies = tally_by_stratum(&compared.rows, (endpoint, population), plan.strata());
        PopulationResult::new(&tallies, endpoint, margin, plan.level())
    };
    let decided = |population| {
        let crude = crude(population);
        let known = crude.arms.map(|arm| arm.tally.known);
        let adjusted = Adjustment::new(&compared.numbers, (endpoint, population), known, plan.level());
        let by = (plan.method(), &crude, &adjusted);
        let said = margin.decide(difference_by(by), ratio_by(by));
        let decision = match look.no_verdict {
            Some(why) => Decision::CannotConclude { reason: Reason::NoVerdictAtThisLook { why } },
            None => Decision::of_population(&crude.arms, said, plan.least_known()),
        };
        PlannedPopulation { decision, crude, adjusted }
    };
    let primary = || {
        let as_intended = decided(Population::AsIntended);
        let sensitivity = beside(compared, planned, plan, as_intended.adjusted.near.as_ref());
        (as_intended, sensitivity)
    };
    let ((as_intended, sensitivity), per_protocol) =
        rayon::join(primary, || decided(Population::PerProtocol));
    let claim = Decision::of_both(as_intended.decision, per_protocol.decision);
    PlannedResult {
        endpoint,
        margin,
        claim,
        claim_in_words: claim.sentence(endpoint, margin),
        populations_agree: as_intended.decision.label() == per_protocol.decision.label(),
        as_treated: crude(Population::AsTreated),
        sensitivity,
        as_intended,
        per_protocol,
    }
}

impl PlannedComparison {
    /// The level of the intervals of planned endpoints: that of the look.
    pub fn level(&self) -> Confidence {
        self.look.interval_level(&self.plan)
    }

    /// The plan with its intervals at that level.
    pub(super) fn plan_at_look(&self) -> AnalysisPlan {
        self.plan.at_level(self.level())
    }
}

/// A method of a plan and what was estimated.
type ByMethod<'r> = (PrimaryMethod, &'r PopulationResult, &'r Adjustment);

fn difference_by((method, crude, adjusted): ByMethod<'_>) -> Result<Interval, NotEstimable> {
    match of_model(method, adjusted) {
        Some(adjusted) => adjusted.result().map(|adjusted| adjusted.difference),
        None => crude.within_centres(),
    }
}

fn ratio_by((method, crude, adjusted): ByMethod<'_>) -> Result<RatioInterval, NotEstimable> {
    match of_model(method, adjusted) {
        Some(adjusted) => adjusted.result().and_then(|adjusted| adjusted.ratio.result()),
        None => crude.ratio.within_centres.result(),
    }
}

/// What the model of the plan's method estimates; `None` where that needs no model.
fn of_model(method: PrimaryMethod, adjusted: &Adjustment) -> Option<Estimate<Adjusted>> {
    match ModelMethod::of(method)? {
        ModelMethod::Standardised => Some(adjusted.standardised),
        ModelMethod::OverlapWeighted => Some(adjusted.overlap_weighted),
    }
}
