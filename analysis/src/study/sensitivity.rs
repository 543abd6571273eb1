//! Whether one thing drives a planned result: the primary estimate again on parts of the cases.

use super::adjustment::{ModelMethod, Near, by_one_method};
use super::cohort::CaseRow;
use super::compared::Compared;
use super::effect::Effect;
use super::endpoint::{PopulationResult, tally_by_centre};
use super::plan::{AnalysisPlan, PlannedEndpoint};
use super::population::Population;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup, Sensitivity};
use rayon::prelude::*;
use serde::Serialize;

/// The primary estimate on a part of the cases, as intended. No verdict hangs on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SensitivityLine {
    /// The analysis.
    pub analysis: Sensitivity,
    /// Which part: a centre left out or a procedure group kept; absent where there is only one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// Cases in it, both arms.
    pub cases: u32,
    /// The effect by the plan's method, on the scale of the margin.
    #[serde(flatten)]
    pub effect: Effect,
}

/// The analyses that the plan asks for, in the order of the list; their models start near that of
/// all cases.
pub(super) fn beside(
    compared: &Compared<'_>,
    planned: &PlannedEndpoint,
    plan: &AnalysisPlan,
    near: Option<&Near>,
) -> Vec<SensitivityLine> {
    let parts: Vec<(Sensitivity, Part)> = plan
        .sensitivity()
        .iter()
        .flat_map(|analysis| parts(*analysis, &compared.rows, plan).into_iter().map(|part| (*analysis, part)))
        .collect();
    // Each line is a computation of its own: no number of threads changes a digit.
    parts
        .into_par_iter()
        .map(|(analysis, part)| {
            let (cases, effect) = primary(compared, |_, case| part.holds(case), (planned, plan), near);
            SensitivityLine { analysis, part: part.name(), cases, effect }
        })
        .collect()
}

/// Some of the cases.
#[derive(Clone, Copy)]
enum Part {
    Without(CentreCode),
    DeclaredBefore,
    Only(ProcedureGroup),
}

impl Part {
    fn holds(self, case: &CaseRow) -> bool {
        match self {
            Self::Without(centre) => case.centre != centre,
            Self::DeclaredBefore => case.declared_before(),
            Self::Only(group) => case.procedure.group() == group,
        }
    }

    fn name(self) -> Option<String> {
        match self {
            Self::Without(centre) => Some(centre.to_string()),
            Self::DeclaredBefore => None,
            Self::Only(group) => Some(group.code().to_owned()),
        }
    }
}

fn parts(analysis: Sensitivity, rows: &[&CaseRow], plan: &AnalysisPlan) -> Vec<Part> {
    match analysis {
        Sensitivity::LeaveOneCentreOut => centres(rows).into_iter().map(Part::Without).collect(),
        Sensitivity::DeclaredBefore => vec![Part::DeclaredBefore],
        Sensitivity::ByProcedureGroup => plan.eligibility().groups().into_iter().map(Part::Only).collect(),
    }
}

fn centres(rows: &[&CaseRow]) -> Vec<CentreCode> {
    let mut centres: Vec<CentreCode> = rows.iter().map(|case| case.centre).collect();
    centres.sort_unstable();
    centres.dedup();
    centres
}

/// The primary estimate on the cases kept, as intended, with the number of cases in it; its model
/// starts near that of all cases, where there is one.
pub(super) fn primary(
    compared: &Compared<'_>,
    kept: impl Fn(usize, &CaseRow) -> bool,
    (planned, plan): (&PlannedEndpoint, &AnalysisPlan),
    near: Option<&Near>,
) -> (u32, Effect) {
    const POPULATION: Population = Population::AsIntended;
    let scale = planned.margin.scale();
    let Some(model) = ModelMethod::of(plan.method()) else {
        let tallies = tally_by_centre(&compared.kept(kept), planned.endpoint, POPULATION);
        let crude = PopulationResult::new(&tallies, planned.endpoint, planned.margin, plan.level());
        let known = crude.arms.each().map(|(_, arm)| arm.tally.known);
        return (known.iter().sum(), crude.effect_within_centres(scale));
    };
    let what = (planned.endpoint, POPULATION);
    let (cases, found) = by_one_method(&compared.numbers, what, kept, (model, plan.level()), near);
    (cases, Effect::adjusted(scale, found))
}
