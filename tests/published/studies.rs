//! Published counts through the real path: files, import, cut, comparison. The
//! same counts were compared with published and independent values without a
//! registry; here the registry must give those numbers, on both stores.

use quietbeam::access::Permit;
use quietbeam::access::action::{RunComparison, TakeDataCut};
use quietbeam::registry::comparisons::{Question, compute};
use quietbeam::registry::cuts;
use quietbeam::registry::imports::Wanted;
use quietbeam_analysis::study::comparison;
use quietbeam_analysis::study::request::{ComparisonRequest, RequestForm};
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::Registry;
use serde_json::{Value, json};

use crate::arms::{Counts, cohort};
use crate::bundle::Bundle;
use crate::records::{Kind, Story, case};

/// A study's counts: what it was about, and its two arms.
pub(crate) struct Study {
    pub(crate) kind: Kind,
    zero: Counts,
    conventional: Counts,
}

const fn counts(cases: u32, successes: u32, major: u32, crossed_over: u32) -> Counts {
    Counts { cases, successes, major, crossed_over }
}

/// Casella et al., Europace 2016;18:1565, counts of its abstract.
pub(crate) const SVT_TRIAL: Study =
    Study { kind: Kind::Svt, zero: counts(134, 134, 0, 38), conventional: counts(128, 128, 0, 0) };
/// Lehar et al., Europace 2022;24:1636, counts inferred from its percentages.
pub(crate) const SECOND_SVT_TRIAL: Study =
    Study { kind: Kind::Svt, zero: counts(62, 61, 0, 0), conventional: counts(61, 60, 0, 0) };
/// Medicine (Baltimore) 2017;96, counts inferred from its percentages.
pub(crate) const VENTRICULAR_COHORT: Study =
    Study { kind: Kind::Ventricular, zero: counts(163, 137, 1, 9), conventional: counts(326, 278, 3, 0) };
/// Ahn et al., Europace 2023;25:euad086, arms of 50 inferred.
pub(crate) const CRYOBALLOON_TRIAL: Study =
    Study { kind: Kind::Af, zero: counts(50, 50, 0, 1), conventional: counts(50, 50, 0, 0) };
/// Newcombe, Stat Med 1998;17:873, inputs from memory.
const TEXTBOOK_PAIR: Study =
    Study { kind: Kind::Af, zero: counts(70, 56, 0, 0), conventional: counts(80, 48, 0, 0) };

/// The cases of one arm as a coordinator would enter them.
fn entered(kind: Kind, zero_intended: bool, counts: Counts) -> Vec<Value> {
    (0..counts.cases)
        .map(|number| {
            case(Story {
                kind,
                zero_intended,
                crossed_over: number + counts.crossed_over >= counts.cases,
                success: number < counts.successes,
                major: number < counts.major,
            })
        })
        .collect()
}

pub(crate) fn import_study(registry: &Registry, centre: CentreCode, study: &Study) {
    let mut cases = entered(study.kind, true, study.zero);
    cases.extend(entered(study.kind, false, study.conventional));
    let codes = registry.codes(centre, cases.len());
    let bundle = Bundle::of_records(codes.iter().map(ToString::to_string).zip(cases));
    let outcome = bundle.send(registry, centre, Wanted::AllOrNothing);
    assert!(outcome.stored, "{:?}", outcome.report.problems.first());
}

/// Imports a study, cuts, compares, and holds the kept result against the
/// result for the same counts without a registry.
fn check(registry: &Registry, study: &Study) {
    let centre = registry.centre("S01");
    import_study(registry, centre, study);
    let cut = registry
        .store
        .write_blocking(Permit::<TakeDataCut>::for_operator("test"), |session| cuts::take(session, "study"))
        .unwrap();
    let request: ComparisonRequest = RequestForm::default().try_into().unwrap();
    let permit = || Permit::<RunComparison>::for_operator("test");
    let computed =
        compute(&registry.store, permit(), cut.id, Question::WithoutPlan(request.clone())).unwrap();
    let kept = registry.store.write_blocking(permit(), move |session| computed.keep(session)).unwrap();
    let kept: Value = serde_json::from_str(&kept.content.result).unwrap();
    assert_eq!(kept["data_cut_hash"], json!(cut.content_hash));
    let expected = comparison::compare(&cohort(study.kind, study.zero, study.conventional), &request);
    let expected = serde_json::to_value(&expected).unwrap();
    for (key, value) in expected.as_object().unwrap() {
        assert_eq!(&kept[key], value, "{key}");
    }
}

on_both_stores! {
    fn a_trial_in_which_nothing_happened(registry) {
        check(registry, &SVT_TRIAL);
    }

    fn a_trial_too_small_for_its_margin(registry) {
        check(registry, &SECOND_SVT_TRIAL);
    }

    fn a_cohort_with_rare_complications(registry) {
        check(registry, &VENTRICULAR_COHORT);
    }

    fn a_trial_in_which_everybody_was_treated(registry) {
        check(registry, &CRYOBALLOON_TRIAL);
    }

    fn a_textbook_pair(registry) {
        check(registry, &TEXTBOOK_PAIR);
    }
}
