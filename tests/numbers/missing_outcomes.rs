//! Missing outcomes: borders against grids in which every combination was decided.

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::interval::{Arm, Confidence, NotEstimable};
use quietbeam_analysis::methods::missing_outcomes::{
    DecisionRule, PartlySeen, PartlySeenArms, PartlySeenError, Scenario, ShownWith, TippingBorder, best_case,
    tipping_border, worst_case,
};
use quietbeam_analysis::methods::non_inferiority::{Conclusion, Margin, MarginSize};

use crate::laws::level;
use crate::reference::{Comparison, Row, Tolerance, rows};

type Rule = fn(Confidence, Margin) -> DecisionRule;

const RULES: [(&str, Rule); 3] = [
    ("newcombe", DecisionRule::newcombe),
    ("miettinen_nurminen", DecisionRule::miettinen_nurminen),
    ("mee", DecisionRule::mee),
];

fn arms_of(row: &Row) -> PartlySeenArms {
    let arm = |x, seen, missing| {
        PartlySeen::new(row.number(x), row.number(seen), row.number(missing)).expect("an arm")
    };
    PartlySeenArms { first: arm("x1", "seen1", "missing1"), second: arm("x2", "seen2", "missing2") }
}

fn rule_of(row: &Row) -> DecisionRule {
    let size = MarginSize::new(row.number("margin")).unwrap();
    let margin = if row.text("outcome") == "harm" { Margin::Harm(size) } else { Margin::Benefit(size) };
    RULES.iter().find(|(name, _)| *name == row.text("method")).expect("a rule").1(row.level(), margin)
}

/// How many numbers of missing events in the second arm show it, for each number in the first.
fn shown_counts(border: &TippingBorder, missing_second: u32) -> Vec<u32> {
    let count = |shown: &ShownWith| match *shown {
        ShownWith::Never => 0,
        ShownWith::Always => missing_second + 1,
        ShownWith::AtLeast(events) => missing_second + 1 - events,
        ShownWith::AtMost(events) => events + 1,
    };
    border.by_missing_events_first.iter().map(count).collect()
}

#[test]
fn borders_and_extreme_cases() {
    let mut comparison = Comparison::new("missing_outcomes", "statsmodels; SciPy; every combination decided");
    for row in &rows("missing_outcomes.csv") {
        let (arms, rule) = (arms_of(row), rule_of(row));
        let border = tipping_border(arms, rule);
        let expected: Vec<u32> = row.text("shown").split(' ').map(|count| count.parse().unwrap()).collect();
        let found = shown_counts(&border, arms.second.missing());
        assert_eq!(found, expected, "{}", row.name());
        let total: u32 = expected.iter().sum();
        assert_eq!(border.combinations_shown, u64::from(total));
        let (worst, best) = (worst_case(arms, rule), best_case(arms, rule));
        assert_eq!(worst.conclusion == Conclusion::Shown, border.combinations_shown == border.combinations);
        assert_eq!(best.conclusion == Conclusion::Shown, border.combinations_shown > 0);
        if row.text("method") == "newcombe" {
            for (column, value) in [
                ("worst_lower", worst.interval.lower),
                ("worst_upper", worst.interval.upper),
                ("best_lower", best.interval.lower),
                ("best_upper", best.interval.upper),
            ] {
                comparison.value(&row.name(), value, row.number(column), Tolerance::Absolute(1e-12));
            }
        }
    }
    comparison.finish(120);
}

#[test]
fn an_arm_is_counted_before_it_is_completed() {
    assert!(matches!(PartlySeen::new(0, 0, 0), Err(PartlySeenError::Count(_))));
    assert!(matches!(PartlySeen::new(3, 2, 5), Err(PartlySeenError::Count(_))));
    assert!(matches!(PartlySeen::new(0, u32::MAX, 1), Err(PartlySeenError::TooMany { .. })));
    let arm = PartlySeen::new(2, 10, 5).unwrap();
    assert_eq!(arm.seen(), EventCount::new(2, 10).ok());
    assert_eq!(arm.completed_with(9), EventCount::new(7, 15).unwrap());
    let nothing = PartlySeen::new(0, 0, 5).unwrap();
    assert_eq!(nothing.seen(), None);
    let arms = PartlySeenArms { first: arm, second: nothing };
    assert_eq!(arms.seen(), Err(NotEstimable::EmptyArm { arm: Arm::Second }));
}

#[test]
fn thousands_of_missing_outcomes_take_a_moment() {
    let arm = |events| PartlySeen::new(events, 40_000, 3_000).unwrap();
    let arms = PartlySeenArms { first: arm(800), second: arm(820) };
    let margin = Margin::Harm(MarginSize::new(0.02).unwrap());
    let border = tipping_border(arms, DecisionRule::miettinen_nurminen(Confidence::NINETY_FIVE, margin));
    assert_eq!((border.combinations, border.nothing_tips()), (3_001 * 3_001, false));
    // With equal shares of events among the missing of both arms the margin is met.
    let shown = shown_counts(&border, 3_000);
    assert!(shown[0] == 3_001 && shown[3_000] > 0 && shown[3_000] < 3_001);
}

fn partly_seen() -> impl Strategy<Value = PartlySeen> {
    let seen = prop_oneof![Just(0_u32), 1..=8_u32, 1..=300_u32, Just(1_000_000)];
    seen.prop_flat_map(|seen| {
        let events = prop_oneof![Just(0), Just(seen), 0..=seen.min(20), 0..=seen];
        let missing = if seen == 0 { 1..=12_u32 } else { 0..=12 };
        (events, Just(seen), missing)
    })
    .prop_map(|(events, seen, missing)| PartlySeen::new(events, seen, missing).unwrap())
}

fn margins() -> impl Strategy<Value = Margin> {
    (prop_oneof![1e-6..0.01, 0.01..0.999], any::<bool>()).prop_map(|(size, harm)| {
        let size = MarginSize::new(size).unwrap();
        if harm { Margin::Harm(size) } else { Margin::Benefit(size) }
    })
}

/// A combination decided by itself: nothing is missing once the outcomes are filled in.
fn alone(arms: PartlySeenArms, rule: DecisionRule, i: u32, j: u32) -> Scenario {
    let filled = |arm: PartlySeen, events| {
        let counts = arm.completed_with(events);
        PartlySeen::new(counts.events(), counts.total(), 0).unwrap()
    };
    worst_case(PartlySeenArms { first: filled(arms.first, i), second: filled(arms.second, j) }, rule)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_border_is_where_the_whole_grid_has_it(
        first in partly_seen(), second in partly_seen(), at in level(), margin in margins(),
    ) {
        let arms = PartlySeenArms { first, second };
        for (name, rule) in RULES {
            let rule = rule(at, margin);
            let border = tipping_border(arms, rule);
            let (worst, best) = (worst_case(arms, rule).interval, best_case(arms, rule).interval);
            let (low, high) = match margin {
                Margin::Benefit(_) => (worst, best),
                Margin::Harm(_) => (best, worst),
            };
            for (i, shown) in (0..=first.missing()).zip(&border.by_missing_events_first) {
                for j in 0..=second.missing() {
                    let one = alone(arms, rule, i, j);
                    let inside = match *shown {
                        ShownWith::Never => false,
                        ShownWith::Always => true,
                        ShownWith::AtLeast(events) => j >= events,
                        ShownWith::AtMost(events) => j <= events,
                    };
                    prop_assert_eq!(inside, one.conclusion == Conclusion::Shown, "{} {} {}", name, i, j);
                    let slack = 1e-11;
                    prop_assert!(low.lower <= one.interval.lower + slack, "{name} {i} {j}");
                    prop_assert!(one.interval.upper <= high.upper + slack, "{name} {i} {j}");
                }
            }
        }
    }

    #[test]
    fn a_harm_counted_the_other_way_round_is_a_benefit_at_the_same_margin(
        first in partly_seen(), second in partly_seen(), at in level(), size in 0.001..0.5,
    ) {
        // A harm counted the other way round is a benefit at the same margin.
        let size = MarginSize::new(size).unwrap();
        let complement = |arm: PartlySeen| {
            let (events, seen) = arm.seen().map_or((0, 0), |seen| (seen.non_events(), seen.total()));
            PartlySeen::new(events, seen, arm.missing()).unwrap()
        };
        let arms = PartlySeenArms { first, second };
        let others = PartlySeenArms { first: complement(first), second: complement(second) };
        for (name, rule) in RULES {
            let harm = worst_case(arms, rule(at, Margin::Harm(size)));
            let benefit = worst_case(others, rule(at, Margin::Benefit(size)));
            prop_assert!((harm.interval.upper + benefit.interval.lower).abs() < 1e-11, "{name}");
            prop_assert!((harm.interval.lower + benefit.interval.upper).abs() < 1e-11, "{name}");
        }
    }
}
