//! What several looks cost in cases: reference values, printed factors, laws.

use proptest::prelude::*;
use quietbeam_analysis::methods::group_sequential::{
    obrien_fleming_one_sided_boundaries, pocock_one_sided_boundaries,
};
use quietbeam_analysis::methods::group_sequential_power::group_sequential_inflation;
use quietbeam_analysis::methods::plan::{CannotPlan, WantedPower};
use quietbeam_analysis::methods::spending::{
    AlphaPerSide, Looks, Spending, SpendingExponent, power_family_spending,
};

use crate::published::digits_agree;
use crate::reference::{Comparison, Row, Tolerance, rows};

fn power(power: f64) -> WantedPower {
    WantedPower::new(power).unwrap()
}

fn numbers(row: &Row, column: &str) -> Vec<f64> {
    row.text(column).split(' ').map(|text| text.parse().unwrap()).collect()
}

#[test]
fn the_cases_of_several_looks_over_those_of_one() {
    let mut comparison = Comparison::new("inflation", "group_sequential_inflation.py, NumPy and SciPy");
    for row in &rows("group_sequential_inflation.csv") {
        let looks = Looks::new(numbers(row, "fractions")).unwrap();
        let spending = Spending::new(looks, numbers(row, "spent")).unwrap();
        let found = group_sequential_inflation(&spending, power(row.number("power"))).unwrap();
        let name = row.name();
        comparison.value(&name, found, row.number("inflation"), Tolerance::Absolute(1e-9));
    }
    comparison.finish(190);
}

/// Jennison and Turnbull's factors, two-sided 5 %, power 90 %, equal looks, as printed to three
/// decimals: from memory. One side of a two-sided design differs beyond the digits printed.
#[test]
fn printed_factors() {
    const BOOK: &str = "Jennison and Turnbull, Group Sequential Methods, 2000, tables 2.2 and 2.4";
    let alpha = AlphaPerSide::new(0.025).unwrap();
    for (number, pocock, fleming) in
        [(2, "1.100", "1.007"), (3, "1.151", "1.016"), (4, "1.183", "1.022"), (5, "1.207", "1.026")]
    {
        let looks =
            Looks::new((1..=number).map(|look| f64::from(look) / f64::from(number)).collect()).unwrap();
        for (name, boundaries, printed) in [
            ("Pocock", pocock_one_sided_boundaries(alpha, &looks), pocock),
            ("O'Brien–Fleming", obrien_fleming_one_sided_boundaries(alpha, &looks), fleming),
        ] {
            let spent = boundaries.iter().map(|look| look.spent).collect();
            let spending = Spending::new(looks.clone(), spent).unwrap();
            let found = group_sequential_inflation(&spending, power(0.9)).unwrap();
            digits_agree(BOOK, &format!("{name}, {number} looks"), &format!("{found:.3}"), printed);
        }
    }
}

#[test]
fn looks_that_spend_nothing_show_nothing() {
    let spending = Spending::new(Looks::new(vec![0.5, 1.0]).unwrap(), vec![0.0, 0.0]).unwrap();
    assert_eq!(group_sequential_inflation(&spending, power(0.9)), Err(CannotPlan::NothingToSpend));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn looking_costs_and_looking_late_or_sparingly_costs_less(
        alpha in 0.001..0.1_f64, wanted in 0.5..0.99_f64, first in 0.1..0.9_f64, exponent in 0.5..8.0_f64
    ) {
        let alpha = AlphaPerSide::new(alpha).unwrap();
        let inflation = |fractions: Vec<f64>, exponent: f64| {
            let exponent = SpendingExponent::new(exponent).unwrap();
            let spending = power_family_spending(alpha, exponent, Looks::new(fractions).unwrap());
            group_sequential_inflation(&spending, power(wanted)).unwrap()
        };
        let one = inflation(vec![1.0], exponent);
        prop_assert!((one - 1.0).abs() < 1e-11, "{one}");
        let two = inflation(vec![first, 1.0], exponent);
        prop_assert!(two >= 1.0 - 1e-11, "{two}");
        let sparing = inflation(vec![first, 1.0], exponent + 1.0);
        prop_assert!(sparing <= two + 1e-11, "{sparing} {two}");
        let three = inflation(vec![first, (first + 1.0) / 2.0, 1.0], exponent);
        prop_assert!(three >= two - 1e-11, "{three} {two}");
    }
}
