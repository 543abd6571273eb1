//! Whether one thing drives a planned result: the primary estimate again on parts of the cases.

use super::adjustment::{ModelMethod, by_one_method};
use super::cohort::CaseRow;
use super::endpoint::{Estimate, PopulationResult, tally_by_centre};
use super::plan::{AnalysisPlan, PlannedEndpoint};
use super::population::Population;
use crate::methods::interval::Interval;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{Coded, PrimaryMethod, ProcedureGroup, Sensitivity};
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
    /// The difference by the plan's method.
    pub difference: Estimate<Interval>,
}

/// The analyses that the plan asks for, in the order of the list.
pub(super) fn beside(
    rows: &[&CaseRow],
    planned: &PlannedEndpoint,
    plan: &AnalysisPlan,
) -> Vec<SensitivityLine> {
    let line = |analysis, part: Option<String>, kept: Vec<&CaseRow>| {
        estimate(&kept, planned, plan, (analysis, part))
    };
    let keeping = |keep: &dyn Fn(&CaseRow) -> bool| rows.iter().copied().filter(|case| keep(case)).collect();
    let mut lines = Vec::new();
    for analysis in plan.sensitivity().iter().copied() {
        match analysis {
            Sensitivity::LeaveOneCentreOut => lines.extend(centres(rows).into_iter().map(|centre| {
                line(analysis, Some(centre.to_string()), keeping(&|case| case.centre != centre))
            })),
            Sensitivity::DeclaredBefore => {
                lines.push(line(analysis, None, keeping(&CaseRow::declared_before)))
            }
            Sensitivity::ByProcedureGroup => {
                let groups = plan.eligibility().procedure_groups.iter();
                lines.extend(groups.map(|group: &ProcedureGroup| {
                    let of_group = keeping(&|case| case.procedure.group() == *group);
                    line(analysis, Some(group.code().to_owned()), of_group)
                }));
            }
        }
    }
    lines
}

fn centres(rows: &[&CaseRow]) -> Vec<CentreCode> {
    let mut centres: Vec<CentreCode> = rows.iter().map(|case| case.centre).collect();
    centres.sort_unstable();
    centres.dedup();
    centres
}

fn estimate(
    rows: &[&CaseRow],
    planned: &PlannedEndpoint,
    plan: &AnalysisPlan,
    (analysis, part): (Sensitivity, Option<String>),
) -> SensitivityLine {
    let (cases, difference) = primary(rows, planned, plan);
    SensitivityLine { analysis, part, cases, difference }
}

/// The primary estimate on some cases, as intended, with the number of cases in it.
pub(super) fn primary(
    rows: &[&CaseRow],
    planned: &PlannedEndpoint,
    plan: &AnalysisPlan,
) -> (u32, Estimate<Interval>) {
    const POPULATION: Population = Population::AsIntended;
    let model = match plan.method() {
        PrimaryMethod::Standardised => ModelMethod::Standardised,
        PrimaryMethod::OverlapWeighted => ModelMethod::OverlapWeighted,
        PrimaryMethod::WithinCentres => {
            let tallies = tally_by_centre(rows, planned.endpoint, POPULATION);
            let crude = PopulationResult::new(&tallies, planned.margin, plan.level());
            let known = crude.arms.each().map(|(_, arm)| arm.tally.known);
            return (known.iter().sum(), crude.within_centres().into());
        }
    };
    let (cases, found) = by_one_method(rows, (planned.endpoint, POPULATION), plan, model);
    (cases, found.into())
}
