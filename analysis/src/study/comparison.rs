//! Zero-fluoroscopy against conventional fluoroscopy on one cohort.

use super::arm::{Arm, ByArm};
use super::by_centre::{CentreLine, by_centre};
use super::cohort::{CaseRow, Cohort};
use super::dose::DoseComparison;
use super::effusion::EffusionComparison;
use super::endpoint::Endpoint;
use super::plan::PlannedMargin;
use super::population::{Population, is_ablation};
use super::population_result::PopulationResult;
use super::request::ComparisonRequest;
use super::share::{Share, arm_sizes};
use super::tally::tally_by_stratum;
use crate::methods::interval::Confidence;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{Strata, Strategy};
use serde::Serialize;
use std::fmt;

/// What every comparison says about itself, whatever it found.
pub const CAUTIONS: [&str; 4] = [
    "Cases were not randomised: operators chose the strategy, so the groups may differ in more than the strategy.",
    "For research. Not for decisions about an individual patient.",
    "Fluoroscopy stays available in every room, and using it is never a failure.",
    "The local medical physicist, ethics board and law decide what applies locally.",
];

/// A comparison of the two strategies. Differences are zero-fluoroscopy − conventional,
/// proportions lie between 0 and 1. For use inside the registry: nothing in it is hidden.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// What was asked.
    pub request: ComparisonRequest,
    /// Which cases were compared.
    pub cases: CaseFlow,
    /// Acute success.
    pub acute_success: EndpointComparison,
    /// Major complications within 30 days.
    pub major_within_30_days: EndpointComparison,
    /// Cases that did not go as intended.
    pub cross_over: CrossOver,
    /// Pericardial effusion.
    pub effusion: EffusionComparison,
    /// Dose.
    pub dose: DoseComparison,
    /// Each centre; not for publication.
    pub by_centre: Vec<CentreLine>,
    /// What weakens the comparison.
    pub warnings: Vec<Warning>,
    /// What holds for every comparison of this kind.
    pub cautions: [&'static str; 4],
}

/// How many cases there were and how many were compared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseFlow {
    /// Cases in the cohort.
    pub in_cohort: u32,
    /// Diagnostic studies, compared with nothing.
    pub diagnostic_only: u32,
    /// Cases of procedure groups that were not asked for.
    pub other_groups: u32,
    /// Cases intended as near-zero, a group of their own.
    pub near_zero: u32,
    /// Cases by intended strategy.
    pub as_intended: ByArm<u32>,
    /// Cases that went as intended.
    pub per_protocol: ByArm<u32>,
    /// Cases by whether the beam was on.
    pub as_treated: ByArm<u32>,
    /// Cases whose strategy was written down before the first venous access.
    pub declared_before: ByArm<u32>,
}

/// One endpoint in every population. Nothing is decided: a margin that no plan fixed decides
/// nothing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EndpointComparison {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// The margin as a proportion, above 0, at which the difference is tested.
    pub margin: f64,
    /// By intended strategy.
    pub as_intended: PopulationResult,
    /// Cases that went as intended.
    pub per_protocol: PopulationResult,
    /// By whether the beam was on.
    pub as_treated: PopulationResult,
}

/// Cases that did not go as intended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossOver {
    /// Zero-fluoroscopy intended, beam on.
    pub to_x_ray: Share,
    /// Conventional intended, beam never on.
    pub to_no_x_ray: Share,
}

/// Something that weakens a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "code", rename_all = "snake_case")]
pub enum Warning {
    /// More than half of an arm comes from one centre.
    OneCentreDominates {
        /// The arm.
        arm: Arm,
        /// The centre.
        centre: CentreCode,
        /// Its cases in the arm.
        cases: u32,
        /// All cases of the arm.
        of: u32,
    },
    /// More than a tenth of an arm was assigned to it after the fact.
    DeclaredAfterwards {
        /// The arm.
        arm: Arm,
        /// Cases declared after the procedure had begun, or nobody knows when.
        cases: u32,
        /// All cases of the arm.
        of: u32,
    },
    /// A tenth of an arm's ablations or more were not attempted.
    OftenNotAttempted {
        /// The arm.
        arm: Arm,
        /// Cases in which nothing was attempted.
        cases: u32,
        /// All cases of the arm.
        of: u32,
    },
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OneCentreDominates { arm, centre, cases, of } => write!(
                f,
                "Centre {centre} gave {cases} of the {of} cases of the {} arm: strategy and centre can hardly be told apart.",
                arm.name()
            ),
            Self::DeclaredAfterwards { arm, cases, of } => write!(
                f,
                "In {cases} of the {of} cases of the {} arm the strategy was not written down beforehand, so the outcome may have coloured it.",
                arm.name()
            ),
            Self::OftenNotAttempted { arm, cases, of } => write!(
                f,
                "In {cases} of the {of} cases of the {} arm no ablation was attempted; these count neither as success nor as failure.",
                arm.name()
            ),
        }
    }
}

/// Compares the two strategies as asked.
pub fn compare(cohort: &Cohort, request: &ComparisonRequest) -> Comparison {
    let asked = |case: &CaseRow| request.procedure_groups().contains(&case.procedure.group());
    let rows: Vec<&CaseRow> = cohort.rows().iter().filter(|case| is_ablation(case) && asked(case)).collect();
    let level = request.level();
    let by_centre = by_centre(&rows);
    Comparison {
        request: request.clone(),
        cases: flow(cohort, &rows),
        acute_success: compare_endpoint(&rows, Endpoint::AcuteSuccess, request),
        major_within_30_days: compare_endpoint(&rows, Endpoint::MajorWithin30Days, request),
        cross_over: cross_over(&rows, level),
        effusion: EffusionComparison::new(&rows, level),
        dose: DoseComparison::new(&rows, level),
        warnings: warnings(&rows, &by_centre),
        by_centre,
        cautions: CAUTIONS,
    }
}

fn flow(cohort: &Cohort, rows: &[&CaseRow]) -> CaseFlow {
    let in_cohort = count(cohort.rows().iter());
    let ablations = count(cohort.rows().iter().filter(|case| is_ablation(case)));
    let before: Vec<&CaseRow> = rows.iter().copied().filter(|case| case.declared_before()).collect();
    CaseFlow {
        in_cohort,
        diagnostic_only: in_cohort - ablations,
        other_groups: ablations - count(rows.iter()),
        near_zero: count(rows.iter().filter(|case| case.intended == Strategy::NearZero)),
        as_intended: arm_sizes(rows, Population::AsIntended),
        per_protocol: arm_sizes(rows, Population::PerProtocol),
        as_treated: arm_sizes(rows, Population::AsTreated),
        declared_before: arm_sizes(&before, Population::AsIntended),
    }
}

pub(super) fn count<T>(cases: impl Iterator<Item = T>) -> u32 {
    cases.fold(0, |n, _| n + 1)
}

fn compare_endpoint(
    rows: &[&CaseRow],
    endpoint: Endpoint,
    request: &ComparisonRequest,
) -> EndpointComparison {
    let margin = PlannedMargin::Difference(endpoint.margin(request));
    let estimate = |population| {
        let tallies = tally_by_stratum(rows, (endpoint, population), Strata::Centres);
        PopulationResult::new(&tallies, endpoint, margin, request.level())
    };
    EndpointComparison {
        endpoint,
        margin: margin.size(),
        as_intended: estimate(Population::AsIntended),
        per_protocol: estimate(Population::PerProtocol),
        as_treated: estimate(Population::AsTreated),
    }
}

pub(super) fn cross_over(rows: &[&CaseRow], level: Confidence) -> CrossOver {
    let crossed = Share::by_arm(rows, level, |_| true, |case| Population::PerProtocol.arm(case).is_none());
    CrossOver { to_x_ray: crossed.zero_fluoroscopy, to_no_x_ray: crossed.conventional }
}

pub(super) fn warnings(rows: &[&CaseRow], centres: &[CentreLine]) -> Vec<Warning> {
    let sizes = arm_sizes(rows, Population::AsIntended);
    let late: Vec<&CaseRow> = rows.iter().copied().filter(|case| !case.declared_before()).collect();
    let late = arm_sizes(&late, Population::AsIntended);
    let mut warnings = Vec::new();
    for (arm, &of) in sizes.each() {
        for line in centres {
            let cases = line.acute_success.of(arm).cases;
            if 2 * cases > of {
                warnings.push(Warning::OneCentreDominates { arm, centre: line.centre, cases, of });
            }
        }
        let afterwards = *late.of(arm);
        if 10 * afterwards > of {
            warnings.push(Warning::DeclaredAfterwards { arm, cases: afterwards, of });
        }
        let idle: u32 = centres.iter().map(|line| line.acute_success.of(arm).not_attempted).sum();
        if idle > 0 && 10 * idle >= of {
            warnings.push(Warning::OftenNotAttempted { arm, cases: idle, of });
        }
    }
    warnings
}
