//! A margin that is a ratio of failures: everything that is held against it stands on its scale.

use crate::cases::{Cell, in_order, planned};
use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
use quietbeam_analysis::methods::interval::RatioInterval;
use quietbeam_analysis::methods::ratio::miettinen_nurminen_ratio_interval;
use quietbeam_analysis::study::decision::Decision;
use quietbeam_analysis::study::effect::Effect;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::report::{Facts, Report, ReportCase, Turned, report};
use serde_json::{Value, json};

/// Three centres with a thousand cases in each arm; of the conventional ones 40 fail.
fn centres(failures: u32) -> Vec<ReportCase> {
    each([failures; 3])
}

fn each(failures: [u32; 3]) -> Vec<ReportCase> {
    let cell = |centre, zero, failures| Cell {
        centre,
        diseased: false,
        zero,
        cases: 1_000,
        successes: 1_000 - failures,
    };
    let both =
        |(centre, failures)| [cell(centre, true, failures).cases(), cell(centre, false, 40).cases()].concat();
    in_order((1..).zip(failures).flat_map(both).collect())
}

fn of(cases: Vec<ReportCase>, changes: &[(&str, Value)], ratio: f64) -> Report {
    let of_ratio = [
        ("/endpoints/0/scale", json!("risk_ratio")),
        ("/endpoints/0/margin", json!(ratio)),
        ("/endpoints/0/worse_when", json!("higher")),
    ];
    report(cases, &planned(&[&of_ratio, changes].concat()), &Facts::default())
}

fn within(cases: Vec<ReportCase>, ratio: f64) -> Report {
    of(cases, &[("/method", json!("within_centres")), ("/covariates", json!([]))], ratio)
}

fn ratio(effect: &Effect) -> RatioInterval {
    let Effect::Ratio(Estimate::Estimated(found)) = effect else { panic!("{effect:?}") };
    *found
}

/// By hand after Greenland and Robins, Biometrics 1985;41:55: with 40 of 1,000 in both arms of three
/// centres the logarithm has the variance 3 (10⁶ · 80 − 40 · 40 · 2,000) / 2,000² / 60² = 0.016, so
/// the limits are exp(±1.96 · 0.1265) = 0.78042 and 1.28135.
#[test]
fn a_ratio_is_held_against_its_margin() {
    for (failures, margin, decided) in [
        (40, 1.29, Decision::Shown),
        (40, 1.28, Decision::NotShown),
        (90, 1.29, Decision::WorseBeyondTheMargin),
    ] {
        let found = within(centres(failures), margin).planned.endpoints.swap_remove(0);
        assert_eq!(found.claim, decided, "{failures} failures against {margin}");
        if failures == 40 {
            let effect = ratio(
                &found
                    .as_intended
                    .effect(quietbeam_schema::vocabulary::PrimaryMethod::WithinCentres, found.margin.scale()),
            );
            assert!((effect.lower - 0.78042).abs() < 1e-5, "{}", effect.lower);
            assert!((effect.upper.or_infinity() - 1.28135).abs() < 1e-5, "{:?}", effect.upper);
        }
    }
}

/// The same data: 12 more failures in a thousand are less than 3 points and more than a half more.
#[test]
fn a_difference_and_a_ratio_are_two_questions() {
    let plan = |scale, margin, side| {
        planned(&[
            ("/method", json!("within_centres")),
            ("/covariates", json!([])),
            ("/endpoints/0/scale", json!(scale)),
            ("/endpoints/0/margin", json!(margin)),
            ("/endpoints/0/worse_when", json!(side)),
        ])
    };
    let claim = |plan| report(centres(52), &plan, &Facts::default()).planned.endpoints[0].claim;
    assert_eq!(claim(plan("risk_difference", 0.03, "lower")), Decision::Shown);
    assert_eq!(claim(plan("risk_ratio", 1.5, "higher")), Decision::NotShown);
}

#[test]
fn the_words_speak_of_failures() {
    let report = within(centres(40), 1.5);
    let lines = &report.first_lines.endpoints[0];
    assert_eq!(
        lines.question,
        "Primary question: is failure to reach acute success less than 1.5 times as frequent with zero-fluoroscopy?"
    );
    assert_eq!(
        lines.claim,
        "Failure to reach acute success with zero-fluoroscopy is less than 1.5 times as frequent as with conventional fluoroscopy."
    );
    assert_eq!(
        lines.estimate.replace('\u{a0}', " "),
        "With zero-fluoroscopy intended, failure to reach acute success was 1.00 (95 % interval 0.78 to 1.28) times as frequent within centres."
    );
    assert!(lines.crude.ends_with(", the same as planned."), "{}", lines.crude);
    // More failures beyond the planned ratio make the crude one flatter neither.
    let next = &report.first_lines.endpoints[1];
    assert!(next.question.contains("less than 1 point more frequent"), "{}", next.question);
}

#[test]
fn forest_parts_and_kinds_of_patients_stand_on_the_scale_of_the_margin() {
    for method in ["standardised", "overlap_weighted", "within_centres"] {
        let covariates = if method == "within_centres" { json!([]) } else { json!(["structural_hd"]) };
        const FAILURES: [u32; 3] = [46, 52, 60];
        let mut cases = each(FAILURES);
        for case in cases.iter_mut().step_by(3) {
            case.row.before.structural = Some(quietbeam_schema::vocabulary::StructuralDisease::Ischaemic);
        }
        let report = of(cases, &[("/method", json!(method)), ("/covariates", covariates)], 1.5);
        let forest = &report.by_centre[0];
        assert!((forest.margin.drawn() - 1.5_f64.ln()).abs() < 1e-12);
        let pooled = ratio(&forest.pooled.estimated().unwrap().effect);
        assert!((pooled.estimate.unwrap().or_infinity() - 1.3).abs() < 0.03, "{pooled:?}");
        assert!(ratio(&forest.prediction).upper.or_infinity() > 1.3);
        for (centre, failures) in forest.centres.iter().zip(FAILURES) {
            let count = |events| EventCount::new(events, 1_000).unwrap();
            let arms = TwoArms { first: count(failures), second: count(40) };
            let level = report.planned.plan.level();
            assert_eq!(ratio(&centre.effect), miettinen_nurminen_ratio_interval(arms, level));
        }
        let planned = forest.summaries.iter().find(|row| row.planned).unwrap();
        let decided = &report.planned.endpoints[0].as_intended;
        assert_eq!(Some(&ratio(&planned.effect)), decided.ratio(report.planned.plan.method()).estimated());
        for line in &report.planned.endpoints[0].sensitivity {
            ratio(&line.effect);
        }
        let kinds = report.driving[0].subgroups.iter().find(|kinds| kinds.by.contains("tructural")).unwrap();
        assert!(kinds.lines.iter().all(|line| matches!(line.effect, Effect::Ratio(_))), "{kinds:?}");
        let clustered = report.driving[0].by_operator.as_ref();
        assert_eq!(clustered.is_some(), method != "within_centres");
        assert!(clustered.is_none_or(|line| matches!(line.effect, Effect::Ratio(_))), "{clustered:?}");
        let json = serde_json::to_value(&report.planned.endpoints[0]).unwrap();
        assert_eq!((json["margin"].as_f64(), json["scale"].as_str()), (Some(1.5), Some("risk_ratio")));
    }
}

/// Every way that the missing outcomes may have turned out, one by one.
#[test]
fn missing_outcomes_are_turned_by_the_ratio() {
    let mut cases = centres(40);
    let arms = |case: &ReportCase| case.row.intended == quietbeam_schema::vocabulary::Strategy::Zero;
    let mut open = [12, 9];
    for case in cases.iter_mut().filter(|case| case.row.centre.to_string() == "S01") {
        let left = &mut open[usize::from(!arms(case))];
        if *left > 0 {
            *left -= 1;
            case.row.acute_success = None;
        }
    }
    let report = within(cases, 1.29);
    let tally = report.planned.endpoints[0].as_intended.crude.arms.map(|arm| arm.tally);
    let failed = tally.map(|tally| tally.known - tally.events);
    assert_eq!((tally.zero_fluoroscopy.missing, tally.conventional.missing), (12, 9));
    let mut shown = 0;
    for first in 0..=12 {
        for second in 0..=9 {
            let count = |events| EventCount::new(events, 3_000).unwrap();
            let arms = TwoArms {
                first: count(failed.zero_fluoroscopy + first),
                second: count(failed.conventional + second),
            };
            let upper = miettinen_nurminen_ratio_interval(arms, report.planned.plan.level()).upper;
            shown += u64::from(upper.or_infinity() < 1.29);
        }
    }
    let tipping = &report.driving[0].tipping;
    let Some(Turned::Ratio(turned)) = &tipping.turned else { panic!("{tipping:?}") };
    assert_eq!((turned.border.combinations_shown, turned.border.combinations), (shown, 130));
    assert!(shown > 0 && shown < 130, "{shown}");
    assert_eq!((turned.worst.missing_events_first, turned.worst.missing_events_second), (12, 0));
    assert!(tipping.in_words.contains("non-inferiority by the crude ratio is shown"), "{}", tipping.in_words);
}
