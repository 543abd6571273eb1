//! Boundaries of group-sequential plans: reference values, printed constants, laws.

use proptest::prelude::*;
use quietbeam_analysis::methods::distribution::{normal_upper_quantile, normal_upper_tail};
use quietbeam_analysis::methods::group_sequential::{
    LookBoundary, obrien_fleming_one_sided_boundaries, obrien_fleming_two_sided_boundaries,
    one_sided_boundaries, pocock_one_sided_boundaries, pocock_two_sided_boundaries, two_sided_boundaries,
};
use quietbeam_analysis::methods::spending::{
    AlphaPerSide, Looks, LooksError, Spending, SpendingExponent, obrien_fleming_type_spending,
    pocock_type_spending, power_family_spending,
};

use crate::published::digits_agree;
use crate::reference::{Comparison, Row, Tolerance, rows};

/// Roots of integrals that keep twelve digits or more on both sides.
const BOUNDARY: Tolerance = Tolerance::Absolute(1e-9);

fn exponent(value: f64) -> SpendingExponent {
    SpendingExponent::new(value).unwrap()
}

fn compute(method: &str, two_sided: bool, alpha: AlphaPerSide, looks: Looks) -> Vec<LookBoundary> {
    let spending = match method {
        "ld_obf" => obrien_fleming_type_spending(alpha, looks),
        "ld_pocock" => pocock_type_spending(alpha, looks),
        "power_rho2" => power_family_spending(alpha, exponent(2.0), looks),
        "constant_pocock" if two_sided => return pocock_two_sided_boundaries(alpha, &looks),
        "constant_pocock" => return pocock_one_sided_boundaries(alpha, &looks),
        "constant_obf" if two_sided => return obrien_fleming_two_sided_boundaries(alpha, &looks),
        "constant_obf" => return obrien_fleming_one_sided_boundaries(alpha, &looks),
        other => panic!("{other} is not a method under test"),
    };
    if two_sided { two_sided_boundaries(&spending) } else { one_sided_boundaries(&spending) }
}

/// Consecutive rows of the same plan.
pub(crate) fn plans() -> Vec<Vec<Row>> {
    let mut plans: Vec<Vec<Row>> = Vec::new();
    for row in rows("group_sequential.csv") {
        if row.text("look") == "1" {
            plans.push(Vec::new());
        }
        plans.last_mut().unwrap().push(row);
    }
    plans
}

#[test]
fn boundaries_over_many_looks() {
    let source = "SciPy, Gauss–Legendre with 400 points a panel; total checked with R mvtnorm";
    let mut comparison = Comparison::new("group_sequential", source);
    for plan in &plans() {
        let first = &plan[0];
        let two_sided = first.text("sides") == "two";
        let alpha: f64 = first.number("alpha");
        let alpha = AlphaPerSide::new(if two_sided { alpha / 2.0 } else { alpha }).unwrap();
        let looks = Looks::new(plan.iter().map(|row| row.number("fraction")).collect()).unwrap();
        let computed = compute(first.text("method"), two_sided, alpha, looks);
        assert_eq!(computed.len(), plan.len());
        for (look, row) in computed.iter().zip(plan) {
            let critical = look.critical.unwrap();
            comparison.value(
                &format!("{} boundary", row.name()),
                critical.z,
                row.number("boundary"),
                BOUNDARY,
            );
            // The reference states no spending for constant forms.
            if !row.text("spent").is_empty() {
                comparison.value(&format!("{} spent", row.name()), look.spent, row.number("spent"), BOUNDARY);
            }
            comparison.value(
                &format!("{} p", row.name()),
                critical.nominal_p,
                row.number("nominal_p"),
                BOUNDARY,
            );
        }
    }
    comparison.finish(1_000);
}

#[test]
fn two_looks_however_early_or_sparing() {
    let mut comparison = Comparison::new("two_looks", "mpmath quadrature, 30 digits");
    for row in &rows("two_looks.csv") {
        let looks = Looks::new(vec![row.number("t1"), row.number("t2")]).unwrap();
        let spending = Spending::new(looks, vec![row.number("spent1"), row.number("spent2")]).unwrap();
        let computed = if row.text("sides") == "2" {
            two_sided_boundaries(&spending)
        } else {
            one_sided_boundaries(&spending)
        };
        for (look, column) in computed.iter().zip(["boundary1", "boundary2"]) {
            let z = look.critical.unwrap().z;
            comparison.value(
                &format!("{} {column}", row.name()),
                z,
                row.number(column),
                Tolerance::Absolute(1e-11),
            );
        }
    }
    comparison.finish(150);
}

const BOOK: &str = "Jennison and Turnbull, Group Sequential Methods, 2000, tables 2.1 and 2.3";
const SPENDING: &str = "Lan and DeMets, Biometrika 1983;70:659-663";

/// Constants as printed to three decimals, two-sided 5 %, equal looks: from memory.
#[test]
fn printed_constants() {
    let alpha = AlphaPerSide::new(0.025).unwrap();
    let equal = |number: u32| {
        Looks::new((1..=number).map(|look| f64::from(look) / f64::from(number)).collect()).unwrap()
    };
    let last = |looks: Vec<LookBoundary>| looks.last().unwrap().critical.unwrap().z;
    for (looks, printed) in
        [(1, "1.960"), (2, "2.178"), (3, "2.289"), (4, "2.361"), (5, "2.413"), (10, "2.555")]
    {
        let z = last(pocock_two_sided_boundaries(alpha, &equal(looks)));
        digits_agree(BOOK, &format!("Pocock, {looks} looks"), &format!("{z:.3}"), printed);
    }
    for (looks, printed) in
        [(1, "1.960"), (2, "1.977"), (3, "2.004"), (4, "2.024"), (5, "2.040"), (10, "2.087")]
    {
        let z = last(obrien_fleming_two_sided_boundaries(alpha, &equal(looks)));
        digits_agree(BOOK, &format!("O'Brien–Fleming, {looks} looks"), &format!("{z:.3}"), printed);
    }
    let five = two_sided_boundaries(&obrien_fleming_type_spending(alpha, equal(5)));
    for (look, printed) in five.iter().zip(["4.877", "3.357", "2.680", "2.290", "2.031"]) {
        let z = look.critical.unwrap().z;
        digits_agree(SPENDING, "O'Brien–Fleming-type spending, 5 looks", &format!("{z:.3}"), printed);
    }
}

fn alpha() -> impl Strategy<Value = AlphaPerSide> {
    prop_oneof![1e-9..1e-4_f64, 0.001..0.1_f64, 0.1..0.25_f64]
        .prop_map(|rate| AlphaPerSide::new(rate).unwrap())
}

/// Fractions that end at 1, from one look to `most`, some close together.
fn looks(most: usize) -> impl Strategy<Value = Looks> {
    prop::collection::vec(prop_oneof![1 => Just(0.02_f64), 3 => 0.1..1.0_f64], 1..=most).prop_map(|steps| {
        let total: f64 = steps.iter().sum();
        let mut reached = 0.0;
        let mut fractions: Vec<f64> = steps
            .iter()
            .map(|step| {
                reached += step / total;
                reached
            })
            .collect();
        *fractions.last_mut().unwrap() = 1.0;
        Looks::new(fractions).unwrap()
    })
}

fn any_spending() -> impl Strategy<Value = (AlphaPerSide, Spending)> {
    (alpha(), looks(20), 0..3_u8, 0.1..20.0_f64).prop_map(|(alpha, looks, family, power)| {
        let spending = match family {
            0 => obrien_fleming_type_spending(alpha, looks),
            1 => pocock_type_spending(alpha, looks),
            _ => power_family_spending(alpha, exponent(power), looks),
        };
        (alpha, spending)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn all_is_spent_in_the_end_and_boundaries_lie_below_the_plain_quantile((alpha, spending) in any_spending()) {
        prop_assert_eq!(spending.cumulative().last().copied(), Some(alpha.rate()));
        for (sides, looks) in
            [(1.0, one_sided_boundaries(&spending)), (2.0, two_sided_boundaries(&spending))]
        {
            let mut before = 0.0;
            for (look, spent) in looks.iter().zip(spending.cumulative()) {
                prop_assert_eq!(look.spent, sides * spent);
                let Some(critical) = look.critical else {
                    prop_assert!(spent - before < 1e-290);
                    continue;
                };
                prop_assert!(critical.z.is_finite() && critical.z > 0.0, "{look:?}");
                // What stops at this look stops with its nominal p at least and with what was spent so far at most.
                prop_assert!(critical.nominal_p >= (spent - before) * (1.0 - 1e-9), "{look:?}");
                prop_assert!(critical.nominal_p <= spent * (1.0 + 1e-9), "{look:?}");
                before = *spent;
            }
        }
    }

    #[test]
    fn only_the_ratios_of_the_information_matter((_, spending) in any_spending(), scale in 0.5..1.0_f64) {
        let scaled: Vec<f64> = spending.looks().fractions().iter().map(|t| t * scale).collect();
        // Looks a thousandth apart are refused when they come nearer.
        let looks = Looks::new(scaled);
        prop_assume!(!matches!(looks, Err(LooksError::NotRising { .. })));
        let scaled = Spending::new(looks.unwrap(), spending.cumulative().to_vec()).unwrap();
        for (one, other) in [
            (one_sided_boundaries(&spending), one_sided_boundaries(&scaled)),
            (two_sided_boundaries(&spending), two_sided_boundaries(&scaled)),
        ] {
            for (a, b) in one.iter().zip(&other) {
                let (a, b) = (a.critical.map(|c| c.z), b.critical.map(|c| c.z));
                prop_assert_eq!(a.is_some(), b.is_some());
                prop_assert!((a.unwrap_or(0.0) - b.unwrap_or(0.0)).abs() < 1e-10, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn a_look_that_spends_nothing_changes_nothing((_, spending) in any_spending(), at in 0..20_usize) {
        let (fractions, cumulative) = (spending.looks().fractions(), spending.cumulative());
        let at = at % fractions.len();
        let before = if at == 0 { (0.0, 0.0) } else { (fractions[at - 1], cumulative[at - 1]) };
        prop_assume!(fractions[at] - before.0 > 0.003);
        let mut more = (fractions.to_vec(), cumulative.to_vec());
        more.0.insert(at, (before.0 + fractions[at]) / 2.0);
        more.1.insert(at, before.1);
        let more = Spending::new(Looks::new(more.0).unwrap(), more.1).unwrap();
        for (plain, mut added) in [
            (one_sided_boundaries(&spending), one_sided_boundaries(&more)),
            (two_sided_boundaries(&spending), two_sided_boundaries(&more)),
        ] {
            prop_assert_eq!(added.remove(at).critical, None);
            for (a, b) in plain.iter().zip(&added) {
                let (a, b) = (a.critical.map_or(0.0, |c| c.z), b.critical.map_or(0.0, |c| c.z));
                prop_assert!((a - b).abs() < 1e-10, "{a} {b}");
            }
        }
    }

    #[test]
    fn one_look_is_the_plain_quantile(alpha in alpha(), fraction in 0.001..=1.0_f64) {
        let looks = Looks::new(vec![fraction]).unwrap();
        let plain = normal_upper_quantile(alpha.rate());
        let spending = Spending::new(looks.clone(), vec![alpha.rate()]).unwrap();
        for computed in [
            one_sided_boundaries(&spending),
            two_sided_boundaries(&spending),
            pocock_one_sided_boundaries(alpha, &looks),
            obrien_fleming_two_sided_boundaries(alpha, &looks),
        ] {
            let critical = computed[0].critical.unwrap();
            prop_assert!((critical.z - plain).abs() < 1e-11, "{critical:?} {plain}");
            prop_assert!((critical.nominal_p / alpha.rate() - 1.0).abs() < 1e-10);
        }
    }
}

proptest! {
    // Each case solves four plans, and each solution integrates a dozen times over.
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn the_plain_forms_spend_all_and_keep_their_shape(alpha in alpha(), looks in looks(6)) {
        let rate = alpha.rate();
        for (sides, pocock, fleming) in [
            (1.0, pocock_one_sided_boundaries(alpha, &looks), obrien_fleming_one_sided_boundaries(alpha, &looks)),
            (2.0, pocock_two_sided_boundaries(alpha, &looks), obrien_fleming_two_sided_boundaries(alpha, &looks)),
        ] {
            let z = |look: &LookBoundary| look.critical.unwrap().z;
            for plan in [&pocock, &fleming] {
                let last = plan.last().unwrap();
                prop_assert!((last.spent / (sides * rate) - 1.0).abs() < 1e-10, "{last:?}");
                prop_assert!(plan.windows(2).all(|pair| pair[0].spent <= pair[1].spent));
                // The same boundaries come out when the same rates are laid down.
                let cumulative: Vec<f64> = plan.iter().map(|look| (look.spent / sides).min(0.25)).collect();
                let laid_down = Spending::new(looks.clone(), cumulative).unwrap();
                let again = if sides == 1.0 { one_sided_boundaries(&laid_down) } else { two_sided_boundaries(&laid_down) };
                for (a, b) in plan.iter().zip(&again) {
                    let Some(b) = b.critical else { continue };
                    // Beyond eight standard deviations a difference of rates has no digits left.
                    prop_assert!(z(a) > 8.0 || (z(a) - b.z).abs() < 1e-5, "{a:?} {b:?}");
                }
            }
            prop_assert!(pocock.iter().all(|look| z(look) == z(&pocock[0])));
            let fixed = z(fleming.last().unwrap());
            for look in &fleming {
                prop_assert!((z(look) * look.fraction.sqrt() - fixed).abs() < 1e-12 * fixed);
            }
        }
    }
}

#[test]
fn fifty_crowded_looks_end_in_time() {
    let alpha = AlphaPerSide::new(0.025).unwrap();
    let crowded = Looks::new((1..=50).map(|look| f64::from(look) * 0.001).collect()).unwrap();
    let at_the_end = Looks::new((951..=1000).map(|look| f64::from(look) * 0.001).collect()).unwrap();
    for looks in [crowded, at_the_end] {
        for spending in [
            obrien_fleming_type_spending(alpha, looks.clone()),
            power_family_spending(alpha, exponent(20.0), looks),
        ] {
            for look in two_sided_boundaries(&spending) {
                assert!(
                    look.critical.is_none_or(|critical| critical.z > 1.9 && critical.z < 40.0),
                    "{look:?}"
                );
            }
        }
    }
}

#[test]
fn impossible_plans_are_refused_with_their_values() {
    for wrong in
        [vec![], vec![0.0], vec![0.5, 0.5], vec![0.5, 0.4], vec![0.5, 1.01], vec![f64::NAN], vec![0.1; 51]]
    {
        assert!(Looks::new(wrong.clone()).is_err(), "{wrong:?}");
    }
    let looks = Looks::new(vec![0.5, 1.0]).unwrap();
    for wrong in [vec![0.01], vec![0.02, 0.01], vec![0.01, 0.3], vec![f64::NAN, 0.1], vec![-0.1, 0.1]] {
        assert!(Spending::new(looks.clone(), wrong.clone()).is_err(), "{wrong:?}");
    }
    let nothing = Spending::new(looks, vec![0.0, 0.025]).unwrap();
    let boundaries = two_sided_boundaries(&nothing);
    assert_eq!(boundaries[0].critical, None);
    let last = boundaries[1].critical.unwrap();
    assert!((normal_upper_tail(last.z) - 0.025).abs() < 1e-12);
}
