//! A centre's own picture against constructed cases: what must be noticed is noticed, what must
//! not is not, and no more is shown of other centres than the rule allows.

use proptest::prelude::*;
use quietbeam_analysis::study::own_picture::{
    CentreDoses, DigitQuantity, Drawing, LogLine, NetworkValues, OwnCase, OwnPicture, UnitChangeKind,
};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::centre::{EnteredCounts, ScreeningCounts};
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{DetectedBy, ExclusionReason, FluoroReason};
use quietbeam_tests::sample::{
    case_with_seen_effusion, case_with_tamponade, conventional_case, with, zero_fluoroscopy_case,
};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// The picture of cases entered in this order.
fn picture(cases: &[Value]) -> OwnPicture {
    of_entries(&cases.iter().cloned().enumerate().collect::<Vec<_>>(), &[])
}

fn of_entries(cases: &[(usize, Value)], log: &[LogLine]) -> OwnPicture {
    let mut drawing = Drawing::default();
    for (entered, case) in cases {
        let json: StrictJson = serde_json::from_value(case.clone()).unwrap();
        let form = CaseForm::from_json(json);
        let checked = form.check(Quarter::new(2026, 4).unwrap());
        let record = checked.unwrap_or_else(|found| panic!("{found:?}")).record;
        let own = OwnCase::read(code(*entered), *entered as i64, "S07".parse().unwrap(), &record);
        drawing.add(&form, own);
    }
    drawing.finish(log)
}

fn code(entered: usize) -> CaseCode {
    CaseCode::from_random((entered as u128).to_be_bytes())
}

/// A case with the beam on as planned.
fn exposed(period: &str, kerma: f64, kap: f64, unit: &str, minutes: usize) -> Value {
    with(
        conventional_case(),
        json!({
            "period": period, "air_kerma": kerma, "kap": kap, "kap_unit": unit, "skin_to_skin_min": minutes,
            // Fluoroscopy times of their own, so that no two cases look like one.
            "fluoro_time": minutes as f64 / 10.0
        }),
    )
}

/// X-ray after all, for this reason.
fn crossed(reason: &str, operator: &str) -> Value {
    with(
        conventional_case(),
        json!({
            "strategy_intended": "zero", "zf_declined_reason": null, "fluoro_used": "standby_used",
            "fluoro_reason": [reason], "fluoro_time": 1.0, "op_code": operator
        }),
    )
}

fn dark(operator: &str) -> Value {
    with(zero_fluoroscopy_case(), json!({ "op_code": operator }))
}

#[test]
fn a_unit_that_changed_is_noticed_and_a_usual_swing_is_not() {
    // Doses of 18 to 28 in each quarter; what changes is the factor between the quarters.
    let quarters = |factor: f64, second: &str| {
        let first =
            (0..11).map(|at| exposed("2026Q1", 18.0 + at as f64, 2.0 + 0.1 * at as f64, "Gy.cm2", 60 + at));
        let later = (0..11)
            .map(|at| exposed("2026Q2", 18.0 + at as f64, factor * (2.0 + 0.1 * at as f64), second, 90 + at));
        picture(&first.chain(later).collect::<Vec<_>>()).unit_changes
    };
    for (factor, power) in [(10.0, 1), (0.1, -1), (8.0, 1)] {
        let found = quarters(factor, "Gy.cm2");
        assert_eq!(found.len(), 1, "{factor}: {found:?}");
        assert_eq!(found[0].kind, UnitChangeKind::Jump { power }, "{factor}");
        assert_eq!(found[0].dose.name(), "kerma-area product");
        assert!((found[0].medians.0 - 2.5).abs() < 1e-9 && (found[0].medians.1 - factor * 2.5).abs() < 1e-9);
    }
    for factor in [1.0, 2.0, 4.0, 0.3] {
        assert!(quarters(factor, "Gy.cm2").is_empty(), "{factor}");
    }
    // The same doses in another unit: nothing jumped, and the change is told.
    let declared = quarters(100.0, "cGy.cm2");
    let (before, after) = ("Gy·cm²", "cGy·cm²");
    assert_eq!(declared[0].kind, UnitChangeKind::Declared { before, after }, "{declared:?}");
}

#[test]
fn a_jump_needs_eleven_doses_on_both_sides() {
    let cases = |second: usize| {
        let first = (0..11).map(|at| exposed("2026Q1", 18.0, 2.0, "Gy.cm2", 60 + at));
        let later = (0..second).map(|at| exposed("2026Q2", 18.0, 20.0, "Gy.cm2", 90 + at));
        picture(&first.chain(later).collect::<Vec<_>>()).unit_changes.len()
    };
    assert_eq!([cases(0), cases(10), cases(11)], [0, 0, 1]);
}

#[test]
fn a_case_entered_twice_is_noticed() {
    let one = || exposed("2026Q1", 20.0, 2.0, "Gy.cm2", 75);
    let changed = |changes: Value| picture(&[one(), with(one(), changes)]).duplicates.len();
    assert_eq!(changed(json!({})), 1);
    // A corrected dose or another operator does not hide it.
    assert_eq!(changed(json!({ "air_kerma": 21.0, "op_code": "O09" })), 1);
    for different in [
        json!({ "period": "2026Q2" }),
        json!({ "age_band": "50_59", "chads_va": 1 }),
        json!({ "sex": "m", "pregnant": "na" }),
        json!({ "skin_to_skin_min": 76 }),
        json!({ "fluoro_time": 7.6 }),
    ] {
        assert_eq!(changed(different.clone()), 0, "{different}");
    }
    let thrice = picture(&[one(), dark("O01"), one(), one()]).duplicates;
    assert_eq!(thrice[0].codes, [code(0), code(2), code(3)]);
    assert_eq!((thrice.len(), thrice[0].minutes), (1, 75));
}

#[test]
fn without_a_beam_the_build_must_agree_as_well() {
    let pair = |changes: Value| picture(&[dark("O01"), with(dark("O01"), changes)]).duplicates.len();
    assert_eq!(pair(json!({})), 1);
    assert_eq!(pair(json!({ "bmi": 31.2 })), 0);
    assert_eq!(
        picture(&[with(dark("O01"), json!({ "bmi": "nr" })), with(dark("O01"), json!({ "bmi": "nr" }))])
            .duplicates
            .len(),
        0
    );
}

#[test]
fn rounded_times_are_noticed_and_read_ones_are_not() {
    let heaped = |minutes: &dyn Fn(usize) -> usize, cases: usize| {
        let cases: Vec<Value> = (0..cases)
            .map(|at| {
                with(dark("O01"), json!({ "skin_to_skin_min": minutes(at), "bmi": 20.0 + 0.1 * at as f64 }))
            })
            .collect();
        let lines = picture(&cases).digits;
        let line = lines.into_iter().find(|line| line.quantity == DigitQuantity::SkinToSkin).unwrap();
        (line.found.is_some(), line.heaped())
    };
    assert_eq!(heaped(&|at| 60 + at, 60), (true, None));
    assert_eq!(heaped(&|at| 60 + 5 * (at % 12), 60), (true, Some(vec![0, 5])));
    // Every time ends on 0; of eleven alike numbers chance says 10⁻¹⁰.
    assert_eq!(heaped(&|at| 60 + 10 * (at % 6), 11), (true, Some(vec![0])));
    assert_eq!(heaped(&|at| 60 + 10 * (at % 6), 10), (false, None));
}

#[test]
fn zeros_stand_apart_from_doses() {
    let mut cases: Vec<Value> =
        (0..11).map(|at| exposed("2026Q1", 10.0 * (at + 1) as f64, 2.0, "Gy.cm2", 60 + at)).collect();
    cases.extend((0..29).map(|_| dark("O01")));
    let dose = picture(&cases).dose;
    let doses = dose.all.air_kerma_mgy.unwrap();
    assert_eq!((dose.all.cases, dose.all.exposed, doses.reported), (40, 11, 11));
    assert_eq!(doses.bins.iter().sum::<u32>(), 11);
    // 10 to 110 mGy by tens: the middle is 60, and the limits are the second and the tenth.
    assert_eq!((doses.median.estimate, doses.median.lower, doses.median.upper), (60.0, 20.0, 100.0));
    // Wilson limits of 29 of 40 by statsmodels 0.15.0 proportion_confint.
    let share = dose.all.no_x_ray.unwrap().proportion.unwrap();
    assert!((share.lower - 0.571_650).abs() < 1e-6 && (share.upper - 0.838_920).abs() < 1e-6, "{share:?}");
    cases.remove(0);
    assert_eq!(picture(&cases).dose.all.air_kerma_mgy, None);
}

#[test]
fn x_ray_for_a_complication_is_told_apart() {
    let mut cases = vec![
        crossed("transseptal", "O01"),
        crossed("transseptal", "O01"),
        crossed("suspected_complication", "O01"),
    ];
    cases.extend((0..9).map(|_| dark("O01")));
    cases.push(conventional_case());
    let picture = picture(&cases);
    let found = picture.cross_overs;
    assert_eq!(found.share.map(|share| (share.count, share.of)), Some((3, 12)));
    assert_eq!((found.for_a_complication, found.without_reason, found.none_after_all), (1, 0, 0));
    let reasons: Vec<_> = found.reasons.iter().map(|one| (one.reason, one.cases)).collect();
    assert_eq!(reasons, [(FluoroReason::Transseptal, 2), (FluoroReason::SuspectedComplication, 1)]);
    let chart = picture.learning.operators[0].chart.as_ref().unwrap();
    assert_eq!(chart.events.iter().filter(|event| **event).count(), 2);
}

/// The scores are ln(2/1.05) = 0.644357 with the event and ln(1/1.05) = −0.048790 without, by a
/// pocket calculator from the formula of Steiner and others (2000).
#[test]
fn the_chart_follows_the_order_of_the_cases() {
    let mut cases: Vec<Value> = (0..20).map(|_| dark("O01")).collect();
    for at in [2, 3, 9] {
        cases[at] = crossed("transseptal", "O01");
    }
    let learning = picture(&cases).learning;
    let chart = learning.operators[0].chart.as_ref().unwrap();
    let near = |at: usize, height: f64| {
        assert!((chart.heights[at] - height).abs() < 1e-5, "{at}: {:?}", chart.heights)
    };
    near(1, 0.0);
    near(2, 0.644_357);
    near(3, 1.288_714);
    near(8, 1.288_714 - 5.0 * 0.048_790);
    near(9, 1.288_714 - 5.0 * 0.048_790 + 0.644_357);
    assert_eq!(chart.peak().map(|(case, _)| case), Some(10));
    assert_eq!((chart.first.count, chart.first.of, chart.later.of), (3, 20, 0));
    assert!(chart.signals.is_empty());
    let five = picture(&(0..12).map(|_| crossed("transseptal", "O02")).collect::<Vec<_>>()).learning;
    // Five events in a row reach 3.22 and signal; the chart starts afresh and does it again.
    assert_eq!(five.operators[0].chart.as_ref().unwrap().signals, [5, 10]);
    assert!(learning.false_signal_after.is_some_and(|cases| cases > 100.0));
}

#[test]
fn an_operator_needs_eleven_cases() {
    let of = |cases: usize| {
        picture(&(0..cases).map(|_| dark("O03")).collect::<Vec<_>>()).learning.operators[0].chart.is_some()
    };
    assert!(!of(10) && of(11));
}

#[test]
fn what_showed_it_first_stands_beside_how_often_anyone_looked() {
    let mut cases = vec![case_with_seen_effusion(), case_with_seen_effusion(), case_with_tamponade()];
    cases.extend((0..6).map(|_| with(dark("O01"), json!({ "eff_surv_intra": "none", "ice_used": "no", "eff_surv_end": ["none"], "eff_surv_baseline": "none", "transseptal_guidance": ["eam"] }))));
    cases.extend((0..3).map(|_| with(dark("O01"), json!({ "eff_surv_24h": "unk" }))));
    let detection = picture(&cases).detection;
    let routes = detection.routes.unwrap();
    assert_eq!(routes.len(), 1);
    assert_eq!((routes[0].route, routes[0].complications), (Some(DetectedBy::Ice), 3));
    assert_eq!((routes[0].major, routes[0].imaging_only), (1, 2));
    let looks =
        detection.looks.map(|looks| (looks.share.map(|share| (share.count, share.of)), looks.not_stated));
    assert_eq!(looks, [(Some((6, 12)), 0), (Some((6, 12)), 0), (None, 3)]);
}

#[test]
fn fields_left_open_are_counted_where_they_apply() {
    let cases = [
        exposed("2026Q1", 20.0, 2.0, "Gy.cm2", 60),
        with(exposed("2026Q1", 20.0, 2.0, "Gy.cm2", 61), json!({ "kap": "nr", "kap_unit": null })),
        dark("O01"),
    ];
    let completeness = picture(&cases).completeness;
    let line = |label: &str| *completeness.lines().find(|line| line.label == label).unwrap();
    assert_eq!((line("Kerma-area product").applies, line("Kerma-area product").open()), (2, 1));
    assert_eq!((line("Procedure").applies, line("Procedure").open()), (3, 0));
    assert_eq!(completeness.most_open(1)[0].label, "Kerma-area product");
    let (asked, given) = completeness.total();
    assert_eq!(asked - given, completeness.lines().map(|line| u64::from(line.open())).sum::<u64>());
}

#[test]
fn quarters_have_no_gaps_and_hold_their_line_of_the_log() {
    let counts = |performed, eligible, submitted: u32| {
        let excluded = BTreeMap::from([(ExclusionReason::Age, performed - submitted)]);
        ScreeningCounts::try_from(EnteredCounts { performed, eligible, submitted, excluded }).unwrap()
    };
    let quarter = |number| Quarter::new(2026, number).unwrap();
    let (svt, af, few) = (counts(9, 8, 7), counts(7, 6, 5), counts(10, 10, 9));
    let log = LogLine::by_quarter([(quarter(3), &svt), (quarter(3), &af), (quarter(2), &few)]);
    let lines = of_entries(&[(0, with(dark("O01"), json!({ "period": "2025Q4" })))], &log).quarters;
    let told: Vec<_> =
        lines.iter().map(|line| (line.quarter.to_string(), line.cases, line.log.is_some())).collect();
    let expected = [("2025Q4", 1, false), ("2026Q1", 0, false), ("2026Q2", 0, true), ("2026Q3", 0, true)];
    assert_eq!(told, expected.map(|(quarter, cases, log)| (quarter.to_owned(), cases, log)));
    let (ten, sum) = (lines[2].log.unwrap(), lines[3].log.unwrap());
    assert_eq!(ten.submitted_share(), None);
    assert_eq!(sum.submitted_share().map(|share| (share.count, share.of)), Some((12, 14)));
}

/// So many centres with so many doses each, around 20 mGy.
fn centres(sizes: &[usize]) -> Vec<CentreDoses> {
    let of = |(at, size): (usize, &usize)| CentreDoses {
        cases: 2 * *size as u32,
        no_x_ray: *size as u32,
        air_kerma_mgy: (0..*size).map(|dose| 20.0 + (dose % 7) as f64 + at as f64).collect(),
        kap_gy_cm2: (0..*size).map(|dose| 2.0 + (dose % 7) as f64).collect(),
    };
    sizes.iter().enumerate().map(of).collect()
}

#[test]
fn the_network_is_shown_from_enough_centres_of_which_none_outweighs_the_others() {
    let shown = |sizes: &[usize]| NetworkValues::of(&centres(sizes)).air_kerma_mgy.is_some();
    assert!(shown(&[11; 5]) && shown(&[11, 12, 13, 14, 50]));
    for hidden in [&[11; 4][..], &[11, 11, 11, 11, 10], &[11, 11, 11, 11, 45], &[1_000; 4], &[]] {
        assert!(!shown(hidden), "{hidden:?}");
    }
    assert_eq!(NetworkValues::of(&centres(&[11; 5])).no_x_ray_percent, Some(50));
    let mut none = centres(&[11; 5]);
    none.iter_mut().for_each(|centre| centre.no_x_ray = 0);
    assert_eq!(
        NetworkValues::of(&none).no_x_ray_percent,
        Some(5),
        "all or nothing would say it of every case"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Dealing the same doses out to the centres in another way changes nothing: no number of
    /// the network depends on which centre holds what.
    #[test]
    fn no_centre_can_be_told_from_another(doses in prop::collection::vec(0.01_f64..500.0, 60), turn in 0_usize..60) {
        let dealt = |doses: &[f64]| {
            let of = |part: &[f64]| CentreDoses { cases: 30, no_x_ray: 18, air_kerma_mgy: part.to_vec(), kap_gy_cm2: part.to_vec() };
            doses.chunks(12).map(of).collect::<Vec<_>>()
        };
        let mut turned = doses.clone();
        turned.rotate_left(turn);
        prop_assert_eq!(NetworkValues::of(&dealt(&doses)), NetworkValues::of(&dealt(&turned)));
    }

    /// What is shown has two digits, and lies within half of the last of the true median.
    #[test]
    fn the_network_is_rounded(doses in prop::collection::vec(0.01_f64..500.0, 55)) {
        let of = |part: &[f64]| CentreDoses { air_kerma_mgy: part.to_vec(), ..CentreDoses::default() };
        let shown = NetworkValues::of(&doses.chunks(11).map(of).collect::<Vec<_>>()).air_kerma_mgy.unwrap();
        let mut sorted = doses;
        sorted.sort_by(f64::total_cmp);
        prop_assert!((shown / sorted[27] - 1.0).abs() <= 0.05 + 1e-9);
        let digits = format!("{shown:e}");
        prop_assert!(digits.split('e').next().unwrap().len() <= 3, "{}", digits);
    }

    /// In whatever order cases are read, the picture is the same.
    #[test]
    fn the_order_of_reading_does_not_matter(turn in 0_usize..24) {
        let mut cases: Vec<(usize, Value)> = (0..24).map(|at| (at, match at % 4 {
            0 => crossed("transseptal", "O01"),
            1 => exposed(if at < 12 { "2026Q1" } else { "2026Q2" }, 20.0 + at as f64, 2.0, "Gy.cm2", 60 + at),
            _ => dark("O01"),
        })).collect();
        let straight = of_entries(&cases, &[]);
        cases.rotate_left(turn);
        prop_assert_eq!(of_entries(&cases, &[]), straight);
    }
}
