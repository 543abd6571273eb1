//! Which look a comparison is, and the level that is left for it.

use crate::planned::{cell, planned, read};
use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::decision::{Decision, Reason};
use quietbeam_analysis::study::effect::Effect;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::look::{Look, LooksTaken, NoVerdict, information};
use quietbeam_analysis::study::plan::{AnalysisPlan, costs};
use quietbeam_analysis::study::planned::{PlannedComparison, carry_out, carry_out_at};
use quietbeam_analysis::study::planned_words::planned_words;
use quietbeam_tests::plan::plan;
use serde_json::{Value, json};

/// The plan of the tests with several looks at 1,000 cases of each arm.
fn with_looks(looks: Value) -> AnalysisPlan {
    let mut plan = plan();
    plan["looks"] = looks;
    read(plan)
}

fn fleming() -> AnalysisPlan {
    with_looks(json!({ "each_arm": 1_000, "fractions": [0.5, 1.0], "spending": "obrien_fleming_type" }))
}

/// The looks of a plan at cuts that hold so much.
fn looks(plan: &AnalysisPlan, cuts: &[f64]) -> Vec<Look> {
    let mut taken = Vec::new();
    let look = |information: &f64| {
        let next = LooksTaken::next(plan, taken.clone(), *information);
        taken.push(next.own());
        Look::new(plan, &next)
    };
    cuts.iter().map(look).collect()
}

fn level(look: &Look) -> f64 {
    look.level.map(|level| level.level()).unwrap_or_else(|| panic!("{look:?}"))
}

fn verdict_at(plan: &AnalysisPlan, cuts: &[f64]) -> Vec<Option<NoVerdict>> {
    looks(plan, cuts).into_iter().map(|look| look.no_verdict).collect()
}

/// Expected levels, 1 − 2p with p the nominal level of a one-sided boundary: by NumPy and SciPy, the
/// functions of tests/numbers/group_sequential_inflation.py with these fractions; those at 0.5 and
/// 1 are in group_sequential.csv too.
#[test]
fn each_look_has_the_level_that_the_spending_function_leaves_it() {
    let pocock = with_looks(json!({ "each_arm": 1_000, "fractions": [0.5, 1.0], "spending": "pocock_type" }));
    let power =
        json!({ "each_arm": 1_000, "fractions": [0.5, 1.0], "spending": "power_family", "exponent": 2.0 });
    let power = with_looks(power);
    for (plan, cuts, expected) in [
        (&fleming(), [500.0, 1_000.0], [0.996_949_354_484_022, 0.951_000_456_420_674]),
        // Other cuts than planned: the function gives what their cases allow.
        (&fleming(), [400.0, 900.0], [0.999_211_696_486_618, 0.963_978_715_748_628]),
        // More than planned at the end: all is spent, by the information there is.
        (&fleming(), [500.0, 1_250.0], [0.996_949_354_484_022, 0.951_402_211_882_510]),
        (&pocock, [500.0, 1_000.0], [0.968_994_274_652_086, 0.972_262_345_549_261]),
        (&power, [500.0, 1_000.0], [0.987_5, 0.956_441_040_382_437]),
    ] {
        let found = looks(plan, &cuts);
        for (look, expected) in found.iter().zip(expected) {
            assert!((level(look) - expected).abs() < 1e-9, "{look:?}");
        }
        let spent: f64 = found.iter().map(|look| look.spent_here).sum();
        let last = &found[1];
        assert!((spent + last.left - 0.025).abs() < 1e-15, "{found:?}");
        assert_eq!(last.spent_before, found[0].spent_here);
    }
    // At nine tenths of the cases 1.8145 % are spent: the rest is told, and nothing can spend it.
    let left = looks(&fleming(), &[400.0, 900.0])[1].left;
    assert!((left - (0.025 - 0.018_144_996_379_811)).abs() < 1e-12, "{left}");
}

#[test]
fn one_look_has_the_whole_level_and_a_second_none() {
    let plan = read(plan());
    let found = looks(&plan, &[3.0, 2_000.0]);
    assert_eq!((found[0].level, found[0].no_verdict), (Some(plan.level()), None));
    assert_eq!((found[1].level, found[1].no_verdict), (None, Some(NoVerdict::BeyondThePlan)));
    assert_eq!((found[1].spent_before, found[1].spent_here, found[1].left), (plan.level().tail(), 0.0, 0.0));
    assert!(found[0].in_words.contains("the whole level of 2.5\u{a0}% on one side"), "{}", found[0].in_words);
    assert!(
        found[1].in_words.starts_with("This is look 2, and the plan orders one."),
        "{}",
        found[1].in_words
    );
}

#[test]
fn a_look_that_may_not_decide_says_why_and_spends_nothing() {
    use NoVerdict::{BeyondThePlan, NothingNew, NothingToSpend};
    let plan = fleming();
    assert_eq!(verdict_at(&plan, &[500.0, 1_000.0, 2_000.0]), [None, None, Some(BeyondThePlan)]);
    // An older cut, and one with nine cases more, tell nothing new; each is a look all the same.
    assert_eq!(verdict_at(&plan, &[500.0, 300.0, 1_000.0]), [None, Some(NothingNew), Some(BeyondThePlan)]);
    assert_eq!(verdict_at(&plan, &[500.0, 509.0]), [None, Some(NothingNew)]);
    assert_eq!(verdict_at(&plan, &[500.0, 510.0]), [None, None]);
    // O'Brien and Fleming's shape spends 2(1 − Φ(2.2414/√0.1)) = 1.4e-12 at a tenth (normal table).
    assert_eq!(verdict_at(&plan, &[100.0, 1_000.0]), [Some(NothingToSpend), None]);
    assert_eq!(verdict_at(&plan, &[0.0, 1_000.0]), [Some(NothingNew), None]);
    let after = &looks(&plan, &[300.0, 200.0])[1];
    assert_eq!(after.spent_here, 0.0);
}

#[test]
fn what_was_spent_is_gone_whatever_a_later_version_says() {
    let single = read(plan());
    let first = LooksTaken::next(&single, Vec::new(), 500.0);
    let amended = fleming();
    let next = LooksTaken::next(&amended, vec![first.own()], 1_000.0);
    let look = Look::new(&amended, &next);
    assert_eq!((look.no_verdict, look.left), (Some(NoVerdict::NothingToSpend), 0.0));
    // The same cut stays the look it was, and a version that asks for more has it.
    let again = Look::new(&amended, &LooksTaken::again(Vec::new(), first.own()));
    assert_eq!(again.level, Some(amended.level()));
    let strict = read({
        let mut plan = plan();
        plan["level"] = json!(0.99);
        plan
    });
    let again = Look::new(&strict, &LooksTaken::again(Vec::new(), first.own()));
    assert_eq!(again.level, Some(strict.level()));
}

/// By hand: within each of two centres 2ab/(a + b), so 2·480·480/960 + 2·240·120/360 = 640.
#[test]
fn a_cut_counts_by_what_its_cases_are_worth_within_centres() {
    let rows = [
        cell(1, false, true, 480, 440),
        cell(1, false, false, 480, 440),
        cell(2, false, true, 240, 200),
        cell(2, false, false, 120, 100),
    ];
    let cohort: Cohort = rows.concat().into_iter().collect();
    assert_eq!(information(&cohort, &fleming()), 640.0);
    let look = carry_out(&cohort, &fleming()).look;
    assert_eq!((look.number, look.planned, look.fraction), (1, 2, Some(0.64)));
}

fn cohort() -> Cohort {
    let rows = [
        cell(1, false, true, 600, 576),
        cell(1, false, false, 500, 480),
        cell(2, true, true, 400, 372),
        cell(2, true, false, 500, 465),
    ];
    rows.concat().into_iter().collect()
}

fn width(found: &PlannedComparison) -> f64 {
    let interval = found.endpoints[0].as_intended.difference(found.plan.method()).unwrap();
    assert_eq!(interval.level, found.level());
    interval.upper - interval.lower
}

#[test]
fn intervals_of_planned_endpoints_have_the_level_of_the_look_and_others_the_plans() {
    let plan = planned(&[("/method", json!("within_centres")), ("/covariates", json!([]))]);
    let mut several = serde_json::to_value(&plan).unwrap();
    several["looks"] =
        json!({ "each_arm": 2_000, "fractions": [0.5, 1.0], "spending": "obrien_fleming_type" });
    let several = read(several);
    let (whole, early) = (carry_out(&cohort(), &plan), carry_out(&cohort(), &several));
    assert!(width(&early) > 1.4 * width(&whole));
    assert_eq!(early.exploratory, whole.exploratory);
    assert_eq!(early.plan, several);
    let beside = early.endpoints[0].sensitivity[0].effect;
    let Effect::Difference(Estimate::Estimated(beside)) = beside else { panic!("{beside:?}") };
    assert_eq!(beside.level, early.level());
    // With nothing left nothing is decided, and the intervals describe at the plan's level.
    let used = LooksTaken::first(&cohort(), &plan).own();
    let second = carry_out_at(&cohort(), &plan, &LooksTaken::next(&plan, vec![used], 5_000.0));
    let refused =
        Decision::CannotConclude { reason: Reason::NoVerdictAtThisLook { why: NoVerdict::BeyondThePlan } };
    for result in &second.endpoints {
        assert_eq!((result.claim, result.as_intended.decision), (refused, refused));
    }
    assert_eq!(width(&second), width(&whole));
    let words = planned_words(&second);
    let flowing = words.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flowing.contains("This is look 2, and the plan orders one."), "{words}");
    assert!(flowing.contains("the plan orders no further look at the data"), "{words}");
    assert!(
        !flowing.contains(" is less than 3 points worse than with conventional fluoroscopy. "),
        "{words}"
    );
}

#[test]
fn the_looks_are_part_of_what_a_plan_costs() {
    let (one, two) = (costs(&read(plan())), costs(&fleming()));
    for (one, two) in one.iter().zip(&two) {
        let factor = two.for_looks.unwrap();
        assert_eq!(one.for_looks, None);
        // The last rows of two looks of tests/numbers/group_sequential_inflation.csv.
        let expected = if two.power == 0.8 { 1.003_725_025_930_296 } else { 1.003_417_934_876_715 };
        assert!((factor - expected).abs() < 1e-9, "{factor}");
        let expected = (f64::from(one.each_arm.unwrap()) * factor).ceil();
        assert_eq!(f64::from(two.each_arm.unwrap()), expected);
    }
}
