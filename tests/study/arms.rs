//! Cohorts from counts: every distinct case is checked once, then repeated.

use crate::records::{Kind, Story, case, record};
use quietbeam_analysis::methods::interval::{Interval, NotEstimable};
use quietbeam_analysis::methods::non_inferiority::{MarginSize, decide};
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::comparison::EndpointComparison;
use quietbeam_analysis::study::decision::Decision;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::plan::PlannedMargin;
use quietbeam_analysis::study::population_result::PopulationResult;
use quietbeam_schema::ids::CentreCode;

/// What a publication reports of one arm.
#[derive(Clone, Copy)]
pub(crate) struct Counts {
    pub(crate) cases: u32,
    pub(crate) successes: u32,
    pub(crate) major: u32,
    pub(crate) crossed_over: u32,
}

/// Cases with the counts of both arms, all at one centre.
pub(crate) fn cohort(kind: Kind, zero_fluoroscopy: Counts, conventional: Counts) -> Cohort {
    let mut cohort = Cohort::default();
    add(&mut cohort, "S01", kind, true, zero_fluoroscopy);
    add(&mut cohort, "S01", kind, false, conventional);
    cohort
}

/// Adds one arm of one centre. Successes stand first and cross-overs last, so
/// that cross-overs fall on failures before they fall on successes.
pub(crate) fn add(cohort: &mut Cohort, centre: &str, kind: Kind, zero_intended: bool, counts: Counts) {
    let centre: CentreCode = centre.parse().unwrap();
    let mut known: Vec<((bool, bool, bool), quietbeam_schema::case::CaseRecord)> = Vec::new();
    for number in 0..counts.cases {
        let (success, major, crossed_over) =
            (number < counts.successes, number < counts.major, number + counts.crossed_over >= counts.cases);
        let key = (success, major, crossed_over);
        if !known.iter().any(|(seen, _)| *seen == key) {
            known.push((key, record(case(Story { kind, zero_intended, crossed_over, success, major }))));
        }
        let (_, case) = known.iter().find(|(seen, _)| *seen == key).unwrap();
        cohort.push(CaseRow::read(centre, case));
    }
}

/// What a plan with the margin of the comparison would decide by the crude difference.
pub(crate) struct Verdict {
    pub(crate) as_intended: Decision,
    pub(crate) per_protocol: Decision,
    pub(crate) claim: Decision,
    pub(crate) in_words: String,
}

/// The least share of known outcomes that the verdict asks for (common practice, no source).
const LEAST_KNOWN: f64 = 0.9;

pub(crate) fn verdict(found: &EndpointComparison) -> Verdict {
    let margin = found.endpoint.margin_of(MarginSize::new(found.margin).unwrap());
    let said = |of: &PopulationResult| decide(&crude(of), margin);
    let decided = |of: &PopulationResult| Decision::of_population(&of.arms, said(of), LEAST_KNOWN);
    let (as_intended, per_protocol) = (decided(&found.as_intended), decided(&found.per_protocol));
    let claim = Decision::of_both(as_intended, per_protocol);
    Verdict {
        as_intended,
        per_protocol,
        claim,
        in_words: claim.sentence(found.endpoint, PlannedMargin::Difference(margin)),
    }
}

fn crude(of: &PopulationResult) -> Result<Interval, NotEstimable> {
    match &of.difference {
        Estimate::Estimated(difference) => Ok(difference.miettinen_nurminen),
        Estimate::CannotBeEstimated(why) => Err(*why),
    }
}
