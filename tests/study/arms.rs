//! Cohorts from counts: every distinct case is checked once, then repeated.

use crate::records::{Kind, Story, case, record};
use quietbeam_analysis::study::cohort::Cohort;
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
        cohort.push(centre, case);
    }
}
