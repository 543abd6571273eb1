//! Cases and facts of which reports are made.

use crate::plan::plan;
use crate::sample::zero_fluoroscopy_case;
use quietbeam_analysis::methods::interval::Interval;
use quietbeam_analysis::study::effect::Effect;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::report::{Facts, Report, ReportCase, report};
use quietbeam_analysis::study::screening_log::LogCounts;
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::centre::EnteredCounts;
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, ExclusionReason, FluoroUsed, ProcedureGroup, Strategy, StructuralDisease,
};
use serde_json::Value;
use std::collections::BTreeMap;

/// A case as it reaches the registry: as JSON, checked.
pub(super) fn read(case: Value) -> ReportCase {
    let json: StrictJson = serde_json::from_value(case).unwrap();
    match CaseForm::from_json(json).check(Quarter::new(2026, 4).unwrap()) {
        Ok(checked) => ReportCase::read(0, "S01".parse().unwrap(), &checked.record),
        Err(findings) => panic!("{:?}", findings.into_iter().map(|found| found.sentence).collect::<Vec<_>>()),
    }
}

/// The sample case, without X-ray.
pub(super) fn base() -> ReportCase {
    read(zero_fluoroscopy_case())
}

/// The plan of the tests with places changed.
pub(super) fn planned(changes: &[(&str, Value)]) -> AnalysisPlan {
    let mut changed = plan();
    for (pointer, value) in changes {
        *changed.pointer_mut(pointer).unwrap() = value.clone();
    }
    serde_json::from_value(changed).unwrap()
}

/// Cases alike of which some succeed.
#[derive(Clone, Copy)]
pub(super) struct Cell {
    pub(super) centre: u8,
    pub(super) diseased: bool,
    pub(super) zero: bool,
    pub(super) cases: u32,
    pub(super) successes: u32,
}

impl Cell {
    pub(super) fn cases(self) -> Vec<ReportCase> {
        let mut case = base();
        case.row.centre = CentreCode::from_random(self.centre);
        case.row.before.structural =
            Some(if self.diseased { StructuralDisease::Ischaemic } else { StructuralDisease::None });
        intend(&mut case, self.zero, !self.zero);
        case.row.major_within_30_days = Some(false);
        let numbered = |number| {
            let mut case = case.clone();
            let success = if number < self.successes { AcuteSuccess::Yes } else { AcuteSuccess::No };
            case.row.acute_success = Some(success);
            case
        };
        (0..self.cases).map(numbered).collect()
    }
}

/// Gives a case its arm and says whether the beam was on.
pub(super) fn intend(case: &mut ReportCase, zero: bool, beam_on: bool) {
    case.row.intended = if zero { Strategy::Zero } else { Strategy::Conventional };
    case.row.fluoro_used = if beam_on { FluoroUsed::PlannedUsed } else { FluoroUsed::None };
}

/// The cells of a network of two centres, confounded by disease, in which the truth is no
/// difference.
pub(super) fn network() -> Vec<ReportCase> {
    let cell = |centre, diseased, zero, cases, successes| Cell { centre, diseased, zero, cases, successes };
    in_order(
        [
            cell(1, false, false, 400, 380),
            cell(1, true, false, 40, 36),
            cell(2, false, false, 300, 288),
            cell(2, true, false, 260, 240),
            cell(1, false, true, 80, 76),
            cell(1, true, true, 400, 360),
            cell(2, false, true, 100, 96),
            cell(2, true, true, 1_300, 1_200),
        ]
        .into_iter()
        .flat_map(Cell::cases)
        .collect(),
    )
}

/// Numbers the cases in the order of entry.
pub(super) fn in_order(mut cases: Vec<ReportCase>) -> Vec<ReportCase> {
    for (case, entered) in cases.iter_mut().zip(1..) {
        case.entered = entered;
    }
    cases
}

/// The report of the tests' plan without any facts.
pub(super) fn of(cases: Vec<ReportCase>) -> Report {
    report(cases, &planned(&[]), &Facts::default())
}

/// A line of a screening log; what is not sent in has no staff or no consent.
pub(super) fn log(centre: &str, quarter: u8, counts: (u32, u32, u32)) -> LogCounts {
    let (performed, eligible, submitted) = counts;
    let excluded = BTreeMap::from([
        (ExclusionReason::ConsentNo, performed - eligible),
        (ExclusionReason::Staff, eligible - submitted),
    ]);
    LogCounts {
        centre: centre.parse().unwrap(),
        period: Quarter::new(2025, quarter).unwrap(),
        group: ProcedureGroup::AfFirst,
        counts: EnteredCounts { performed, eligible, submitted, excluded }.try_into().unwrap(),
        signed: true,
    }
}

/// The difference that was estimated.
pub(crate) fn difference(effect: &Effect) -> Interval {
    let Effect::Difference(Estimate::Estimated(found)) = effect else { panic!("{effect:?}") };
    *found
}
