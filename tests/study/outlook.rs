//! Before a plan is written: cases, width, and by when. Reference values: base R 4, by the
//! formulas of Farrington and Manning with the restricted proportions found by `optimize` (for a
//! ratio then by `uniroot`), and by the whole double sum over both binomial distributions for the
//! average width; that of a ratio is a row of tests/numbers/precision_ratio.csv.

use crate::records::{Kind, Story, case, record};
use quietbeam_analysis::study::cohort::CaseRow;
use quietbeam_analysis::study::outlook::{
    Assumed, AssumedForm, Curves, Held, Outlook, Pooled, Precision, ReachPoint, WidthPoint,
};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{AcuteSuccess, MarginScale, ProcedureGroup, Strategy};

fn form() -> AssumedForm {
    let (endpoint, scale) = ("acute_success".to_owned(), MarginScale::RiskDifference);
    AssumedForm { endpoint, scale, margin: 0.03, expected: 0.95, level: 0.95 }
}

fn assumed() -> Assumed {
    Assumed::try_from(&form()).unwrap()
}

/// Of every 20 failures 30 would be acceptable, where 5 of 100 cases fail.
fn ratio_form() -> AssumedForm {
    AssumedForm { scale: MarginScale::RiskRatio, margin: 1.5, ..form() }
}

fn of_ratio() -> Assumed {
    Assumed::try_from(&ratio_form()).unwrap()
}

fn quarter(year: u16, quarter: u8) -> Quarter {
    Quarter::new(year, quarter).unwrap()
}

fn base() -> CaseRow {
    let story =
        Story { kind: Kind::Svt, zero_intended: true, crossed_over: false, success: true, major: false };
    CaseRow::read("S01".parse().unwrap(), &record(case(story)))
}

/// So many cases of each arm in a quarter at a centre, the first of them successes.
fn add(held: &mut Held, (centre, period): (&str, Quarter), cases: (u32, u32), successes: (u32, u32)) {
    let base = base();
    for (intended, cases, successes) in
        [(Strategy::Zero, cases.0, successes.0), (Strategy::Conventional, cases.1, successes.1)]
    {
        for number in 0..cases {
            let success = if number < successes { AcuteSuccess::Yes } else { AcuteSuccess::No };
            held.add(&CaseRow {
                centre: centre.parse().unwrap(),
                period,
                intended,
                acute_success: Some(success),
                ..base.clone()
            });
        }
    }
}

fn year_of_thirty(successes: (u32, u32)) -> Held {
    year_of_thirty_for(assumed(), successes)
}

fn year_of_thirty_for(assumed: Assumed, successes: (u32, u32)) -> Held {
    let mut held = Held::new(assumed, Vec::new());
    for at in 1..=4 {
        add(&mut held, ("S01", quarter(2025, at)), (30, 30), successes);
    }
    held
}

fn near(found: f64, reference: f64) {
    assert!((found - reference).abs() < 1e-7, "{found}, reference {reference}");
}

#[test]
fn cases_chances_and_widths_are_those_of_a_second_route() {
    let curves = Curves::new(assumed());
    let needed: Vec<_> = curves.needed.iter().map(|one| (one.alike.unwrap(), one.worse.unwrap())).collect();
    // 433.78, 868.73, 1155.60, 1423.30 and 1035.94, 2093.08, 2792.12, 3445.19, rounded up.
    assert_eq!(needed, [(434, 1_036), (869, 2_094), (1_156, 2_793), (1_424, 3_446)]);
    let chance = |cases| curves.power.iter().find(|point| point.each_arm == cases).unwrap().alike;
    near(chance(300), 0.366_424_400_7);
    near(chance(600), 0.639_441_118_5);
    let Precision::Difference(widths) = &curves.precision else { panic!("{curves:?}") };
    let at = |cases| move |point: &&WidthPoint| point.each_arm == cases;
    let width = |cases| widths.iter().find(at(cases)).unwrap().half_width;
    near(width(100), 0.067_350_964_6);
    near(width(400), 0.031_149_952_1);
    assert!(curves.power.last().unwrap().each_arm >= 1_424, "the curve ends beyond what is told");
    assert!(
        curves
            .power_in_words(assumed())
            .contains("takes 869 cases in each arm if the arms are alike, and 2,094")
    );
}

#[test]
fn a_ratio_is_planned_for_what_nobody_wants() {
    let curves = Curves::new(of_ratio());
    let needed: Vec<_> = curves.needed.iter().map(|one| (one.alike.unwrap(), one.worse.unwrap())).collect();
    // 875.95, 1833.86, 2473.83, 3074.41 and, with 1.5^(1/3) times as many failures, 1854.67, 3852.20,
    // 5183.69, 6431.98, rounded up.
    assert_eq!(needed, [(876, 1_855), (1_834, 3_853), (2_474, 5_184), (3_075, 6_432)]);
    let at = |cases| curves.power.iter().find(|point| point.each_arm == cases).unwrap();
    near(at(1_000).alike, 0.551_294_561_4);
    near(at(1_000).worse, 0.306_121_443_2);
    near(at(2_000).alike, 0.832_069_518_6);
    near(at(2_000).worse, 0.529_228_793_3);
    let Precision::Ratio(reaches) = &curves.precision else { panic!("{curves:?}") };
    let ReachPoint { reach, .. } = reaches.iter().find(|point| point.each_arm == 200).unwrap();
    near(reach.factor, 2.387_760_183_4);
    near(reach.unbounded, 0.000_070_104_1);
    let said = curves.power_in_words(of_ratio());
    for part in [
        "failure to reach acute success is less than 1.5 times as frequent takes 1,834 cases in each arm",
        "3,853 cases in each arm if the ratio is 1.14, a third of the margin by its logarithm",
        "the expected 5 % with failure to reach acute success are 7.5 %",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let width = curves.precision.in_words();
    assert!(width.contains("to either side of the ratio") && !width.contains("points"), "{width}");
}

#[test]
fn a_ratio_of_harm_is_of_the_harm_itself() {
    let harm = AssumedForm {
        endpoint: "major_within_30_days".to_owned(),
        margin: 2.0,
        expected: 0.02,
        ..ratio_form()
    };
    let harm = Assumed::try_from(&harm).unwrap();
    let curves = Curves::new(harm);
    // 1649.47 and, with 2^(1/3) times as many, 3320.44.
    assert_eq!((curves.needed[1].alike, curves.needed[1].worse), (Some(1_650), Some(3_321)));
    let said = curves.power_in_words(harm);
    assert!(said.contains("major complications within 30 days are less than 2 times as frequent"), "{said}");
}

#[test]
fn a_ratio_is_shown_by_when_its_cases_are_there() {
    let of = |successes| year_of_thirty_for(of_ratio(), successes).outlook(quarter(2026, 1));
    let found = of((30, 26));
    near(found.ahead[0].chance, 0.134_820_459_0);
    near(found.ahead[5].chance, 0.217_372_187_1);
    near(found.ahead[5].fresh_chance, 0.134_820_459_0);
    assert_eq!(found, of((26, 30)), "whose outcome it is tells nothing");
    let said = found.in_words(of_ratio());
    assert!(said.contains("Acute success in both arms together: recorded in 93 % of the 240"), "{said}");
}

#[test]
fn the_pace_of_the_last_year_goes_on() {
    let mut held = year_of_thirty((29, 29));
    // Of this quarter, which is not over, and of long ago.
    add(&mut held, ("S01", quarter(2026, 1)), (3, 0), (3, 0));
    let Outlook { held: now, pace, pace_of, ahead, .. } = held.outlook(quarter(2026, 1));
    assert_eq!((now.zero_fluoroscopy, now.conventional, pace_of), (123, 120, 4));
    assert_eq!((pace.zero_fluoroscopy, pace.conventional), (30.0, 30.0));
    assert_eq!((ahead[0].quarter, ahead[5].quarter), (quarter(2026, 1), quarter(2027, 2)));
    assert_eq!((ahead[0].worth_each_arm, ahead[5].worth_each_arm), (150.0, 300.0));
    near(ahead[0].chance, 0.201_826_820_3);
    near(ahead[5].chance, 0.366_424_400_7);
    assert_eq!(ahead[0].fresh_chance, 0.0);
    near(ahead[5].fresh_chance, 0.201_826_820_3);
}

#[test]
fn centres_that_use_one_strategy_alone_add_nothing() {
    let mut held = year_of_thirty((29, 29));
    for at in 1..=4 {
        add(&mut held, ("S02", quarter(2025, at)), (90, 0), (90, 0));
    }
    let outlook = held.outlook(quarter(2026, 1));
    assert_eq!(outlook.pace.zero_fluoroscopy, 120.0);
    assert_eq!(outlook.ahead[0].worth_each_arm, 150.0);
}

#[test]
fn what_is_told_does_not_change_with_whose_outcome_it_is() {
    let one = year_of_thirty((30, 26)).outlook(quarter(2026, 1));
    let other = year_of_thirty((26, 30)).outlook(quarter(2026, 1));
    assert_eq!(one, other);
    assert_eq!(one.in_words(assumed()), other.in_words(assumed()));
    assert_eq!(one.pooled, Some(Pooled { known: 240, events: 224 }));
    assert!(one.in_words(assumed()).contains("93 % of the 240 cases"), "{}", one.in_words(assumed()));
}

#[test]
fn both_together_are_not_told_where_that_tells_of_one_arm() {
    let share = |zero, conventional| {
        let mut held = Held::new(assumed(), Vec::new());
        add(&mut held, ("S01", quarter(2025, 4)), (zero, conventional), (zero, conventional));
        held.outlook(quarter(2026, 1)).pooled
    };
    assert_eq!(share(20, 80), Some(Pooled { known: 100, events: 100 }), "a fifth is enough");
    assert_eq!((share(19, 81), share(100, 0), share(0, 0)), (None, None, None));
}

#[test]
fn the_scope_is_the_groups_that_were_named() {
    let counted = |groups| {
        let mut held = Held::new(assumed(), groups);
        add(&mut held, ("S01", quarter(2025, 4)), (5, 5), (5, 5));
        held.outlook(quarter(2026, 1)).held.conventional
    };
    assert_eq!((counted(vec![ProcedureGroup::Svt]), counted(vec![ProcedureGroup::Vt])), (5, 0));
}

#[test]
fn what_must_be_mended_is_named_at_its_field() {
    for (scale, margin) in [(MarginScale::RiskDifference, 3.0), (MarginScale::RiskRatio, 0.03)] {
        let wrong = AssumedForm { endpoint: "p".to_owned(), scale, margin, expected: 1.0, level: 95.0 };
        let refusal = Assumed::try_from(&wrong).unwrap_err();
        let pointers: Vec<&str> = refusal.0.iter().map(|(pointer, _)| pointer.as_str()).collect();
        assert_eq!(pointers, ["/endpoint", "/margin", "/expected", "/level"]);
    }
    let never = Curves::new(Assumed::try_from(&AssumedForm { margin: 0.001, ..form() }).unwrap());
    assert!(never.needed[1].alike.unwrap() > 700_000, "a margin of a tenth of a point takes many cases");
}

/// Where 40 of 100 fail, 2.5 times as many are all; where 98 of 100 do, 2 points more are.
#[test]
fn a_margin_beyond_all_cases_is_none() {
    let refused = |form: AssumedForm| Assumed::try_from(&form).err().map(|refusal| refusal.to_string());
    let of_ratio = |margin, expected| refused(AssumedForm { margin, expected, ..ratio_form() });
    let of_points = |margin, expected| refused(AssumedForm { margin, expected, ..form() });
    for margin in [1.0, 0.9, 5.1, -2.0, f64::NAN, f64::INFINITY] {
        let why = of_ratio(margin, 0.95).unwrap();
        assert!(why.starts_with("margin: is ") && why.contains("above 1 and at most 5"), "{why}");
    }
    let why = of_ratio(3.0, 0.6).unwrap();
    for part in ["margin: is 3, but 40 % with failure", "3 times as many", "write a smaller margin"] {
        assert!(why.contains(part), "{part}: {why}");
    }
    assert_eq!((of_ratio(2.4, 0.6), of_points(0.01, 0.02)), (None, None));
    let why = of_points(0.03, 0.02).unwrap();
    assert!(why.contains("is 0.03, but 98 % with failure") && why.contains("3 points more"), "{why}");
}
