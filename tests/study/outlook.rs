//! Before a plan is written: cases, width, and by when. Reference values: base R 4, by the
//! formulas of Farrington and Manning with the restricted proportions found by `optimize`, and by
//! the whole double sum over both binomial distributions for the average width.

use crate::records::{Kind, Story, case, record};
use quietbeam_analysis::study::cohort::CaseRow;
use quietbeam_analysis::study::outlook::{Assumed, AssumedForm, Curves, Held, Outlook, Pooled};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{AcuteSuccess, ProcedureGroup, Strategy};

fn form() -> AssumedForm {
    AssumedForm { endpoint: "acute_success".to_owned(), margin: 0.03, expected: 0.95, level: 0.95 }
}

fn assumed() -> Assumed {
    Assumed::try_from(&form()).unwrap()
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
    let mut held = Held::new(assumed(), Vec::new());
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
    let width = |cases| curves.precision.iter().find(|point| point.each_arm == cases).unwrap().half_width;
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
    assert_eq!(one.in_words(), other.in_words());
    assert_eq!(one.pooled, Some(Pooled { known: 240, events: 224 }));
    assert!(one.in_words().contains("93 % of the 240 cases"), "{}", one.in_words());
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
    let wrong = AssumedForm { endpoint: "p".to_owned(), margin: 3.0, expected: 1.0, level: 95.0 };
    let refusal = Assumed::try_from(&wrong).unwrap_err();
    let pointers: Vec<&str> = refusal.0.iter().map(|(pointer, _)| pointer.as_str()).collect();
    assert_eq!(pointers, ["/endpoint", "/margin", "/expected", "/level"]);
    let never = Curves::new(Assumed::try_from(&AssumedForm { margin: 0.001, ..form() }).unwrap());
    assert!(never.needed[1].alike.unwrap() > 700_000, "a margin of a tenth of a point takes many cases");
}
