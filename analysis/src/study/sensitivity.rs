//! Whether one thing drives a planned result: the primary estimate again on parts of the cases.

use super::adjustment::{ModelMethod, Near, by_one_method};
use super::cohort::CaseRow;
use super::compared::Compared;
use super::effect::Effect;
use super::plan::{AnalysisPlan, PlannedEndpoint};
use super::population::Population;
use super::population_result::PopulationResult;
use super::tally::tally_by_stratum;
use crate::distinct::distinct;
use quietbeam_schema::vocabulary::{Coded, Sensitivity};
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
    let lines = |analysis: &Sensitivity| {
        let Parts { names, kinds, left_out } = Parts::new(*analysis, compared, plan);
        let line = |(at, part): (usize, Option<String>)| {
            let kept = |place: usize, _: &CaseRow| (kinds[place] == at as u32) != left_out;
            let (cases, effect) = primary(compared, kept, (planned, plan), near);
            SensitivityLine { analysis: *analysis, part, cases, effect }
        };
        // Each line is a computation of its own: no number of threads changes a digit.
        names.into_par_iter().enumerate().map(line).collect::<Vec<_>>()
    };
    plan.sensitivity().par_iter().flat_map_iter(lines).collect()
}

/// The parts of an analysis: each the cases of one kind, or all but those.
struct Parts {
    names: Vec<Option<String>>,
    /// The kind of each case by the place it was given with, in the order of the names: rows are
    /// wide, and every part asks all of them.
    kinds: Vec<u32>,
    left_out: bool,
}

impl Parts {
    fn new(analysis: Sensitivity, compared: &Compared<'_>, plan: &AnalysisPlan) -> Self {
        match analysis {
            Sensitivity::LeaveOneCentreOut => {
                let centres = distinct(compared.rows.iter().map(|case| case.centre));
                let kind = |case: &CaseRow| centres.partition_point(|centre| *centre < case.centre) as u32;
                let kinds = compared.by_place(kind);
                let names = centres.iter().map(|centre| Some(centre.to_string())).collect();
                Self { names, kinds, left_out: true }
            }
            Sensitivity::DeclaredBefore => {
                let kinds = compared.by_place(|case| u32::from(!case.declared_before()));
                Self { names: vec![None], kinds, left_out: false }
            }
            Sensitivity::ByProcedureGroup => {
                let groups = plan.eligibility().groups();
                let place = |case: &CaseRow| groups.iter().position(|own| *own == case.procedure.group());
                let kinds = compared.by_place(|case| place(case).unwrap_or(groups.len()) as u32);
                let names = groups.iter().map(|group| Some(group.code().to_owned())).collect();
                Self { names, kinds, left_out: false }
            }
        }
    }
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
        let of = (planned.endpoint, POPULATION);
        let tallies = tally_by_stratum(&compared.kept(kept), of, plan.strata());
        let crude = PopulationResult::new(&tallies, planned.endpoint, planned.margin, plan.level());
        let known = crude.arms.each().map(|(_, arm)| arm.tally.known);
        return (known.iter().sum(), crude.effect_within_centres(scale));
    };
    let what = (planned.endpoint, POPULATION);
    let (cases, found) = by_one_method(&compared.numbers, what, kept, (model, plan.level()), near);
    (cases, Effect::adjusted(scale, found))
}
