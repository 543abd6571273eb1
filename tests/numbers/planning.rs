//! Sample sizes and approximate power against 50-digit arithmetic and scipy.

use std::num::NonZeroU32;

use quietbeam_analysis::methods::non_inferiority::{Margin, MarginSize};
use quietbeam_analysis::methods::plan::{
    Allocation, ArmSizes, Goal, OneSidedAlpha, Planned, Proportions, WantedPower,
};
use quietbeam_analysis::methods::power::{
    blackwelder_power, farrington_manning_power, farrington_manning_ratio_power, wald_log_ratio_power,
};
use quietbeam_analysis::methods::ratio_margin::{RatioMargin, RatioMarginError};
use quietbeam_analysis::methods::sample_size::{
    SampleSize, blackwelder_sample_size, farrington_manning_ratio_sample_size,
    farrington_manning_sample_size, wald_log_ratio_sample_size,
};

use crate::reference::{Comparison, Row, Tolerance, rows};

const SOURCE: &str = "50-digit evaluation of the published formula; by formula only";

pub(crate) fn proportions(first: f64, second: f64) -> Proportions {
    Proportions::new(first, second).unwrap()
}

pub(crate) fn harm(size: f64) -> Margin {
    Margin::Harm(MarginSize::new(size).unwrap())
}

pub(crate) fn benefit(size: f64) -> Margin {
    Margin::Benefit(MarginSize::new(size).unwrap())
}

pub(crate) fn sizes(first: u32, second: u32) -> ArmSizes {
    ArmSizes { first: NonZeroU32::new(first).unwrap(), second: NonZeroU32::new(second).unwrap() }
}

pub(crate) fn alpha(alpha: f64) -> OneSidedAlpha {
    OneSidedAlpha::new(alpha).unwrap()
}

pub(crate) fn goal(power: f64, theta: f64) -> Goal {
    Goal { power: WantedPower::new(power).unwrap(), allocation: Allocation::new(theta).unwrap() }
}

pub(crate) fn planned_difference(row: &Row) -> Planned<Margin> {
    let edge: f64 = row.number("null");
    let margin = match row.text("outcome") {
        "harm" => harm(edge),
        _ => benefit(-edge),
    };
    Planned {
        proportions: proportions(row.number("p1"), row.number("p2")),
        margin,
        alpha: alpha(row.number("alpha")),
    }
}

fn planned_ratio(
    row: &Row,
    margin: fn(f64) -> Result<RatioMargin, RatioMarginError>,
) -> Planned<RatioMargin> {
    Planned {
        proportions: proportions(row.number("p1"), row.number("p2")),
        margin: margin(row.number("null")).unwrap(),
        alpha: alpha(row.number("alpha")),
    }
}

fn wanted(row: &Row) -> Goal {
    goal(row.number("power"), row.number("theta"))
}

/// Power of the row's method, and the cases of the first arm that reach the row's power.
fn both_ways(row: &Row, sizes: ArmSizes, goal: Goal) -> (f64, SampleSize) {
    let ratio = || match row.text("outcome") {
        "harm" => planned_ratio(row, RatioMargin::for_harm),
        _ => planned_ratio(row, RatioMargin::for_benefit),
    };
    let difference = || planned_difference(row);
    let (power, size) = match row.text("method") {
        "blackwelder" => {
            (blackwelder_power(&difference(), sizes), blackwelder_sample_size(&difference(), goal))
        }
        "farrington_manning" => (
            farrington_manning_power(&difference(), sizes),
            farrington_manning_sample_size(&difference(), goal),
        ),
        "farrington_manning_ratio" => (
            farrington_manning_ratio_power(&ratio(), sizes),
            farrington_manning_ratio_sample_size(&ratio(), goal),
        ),
        _ => (wald_log_ratio_power(&ratio(), sizes), wald_log_ratio_sample_size(&ratio(), goal)),
    };
    (power, size.unwrap())
}

#[test]
fn power_and_sample_size_are_each_others_inverse() {
    let mut comparison = Comparison::new("power and size", "planning.py, 50 digits, likelihood bisected");
    for row in &rows("planning.csv") {
        let given = sizes(row.number("n1"), row.number("n2"));
        let expected: f64 = row.number("power");
        // Below one half there is a power but nobody plans for it.
        let reachable = expected >= 0.5;
        let (power, size) = both_ways(row, given, goal(expected.max(0.5), row.number("theta")));
        comparison.value(&row.name(), power, expected, Tolerance::Absolute(1e-12));
        if reachable {
            let n1 = row.number("n1");
            comparison.value(&row.name(), size.first_unrounded, n1, Tolerance::Relative(1e-9));
        }
    }
    comparison.finish(300);
}

fn check(comparison: &mut Comparison, row: &Row, column: &str, size: SampleSize) {
    let unrounded = (size.first_unrounded, row.number(column));
    comparison.value(&row.name(), unrounded.0, unrounded.1, Tolerance::Relative(1e-9));
    if column == "n1_unrounded" {
        assert_eq!((size.first, size.second), (row.number("n1"), row.number("n2")), "{}", row.name());
    }
}

#[test]
fn sample_sizes_of_a_difference() {
    let mut comparison = Comparison::new("sample size, difference", SOURCE);
    for row in &rows("sample_size.csv") {
        let (planned, goal) = (planned_difference(row), wanted(row));
        let size = match row.text("method") {
            "blackwelder" => blackwelder_sample_size(&planned, goal),
            _ => farrington_manning_sample_size(&planned, goal),
        };
        check(&mut comparison, row, "n1_unrounded", size.unwrap());
    }
    comparison.finish(120);
}

#[test]
fn sample_sizes_of_a_ratio() {
    let mut comparison = Comparison::new("sample size, ratio", SOURCE);
    for row in &rows("sample_size_ratio.csv") {
        let planned = planned_ratio(row, RatioMargin::for_harm);
        let by_score = farrington_manning_ratio_sample_size(&planned, wanted(row)).unwrap();
        check(&mut comparison, row, "n1_unrounded", by_score);
        let by_log = wald_log_ratio_sample_size(&planned, wanted(row)).unwrap();
        check(&mut comparison, row, "n1_unrounded_log", by_log);
    }
    comparison.finish(50);
}

#[test]
fn approximate_power() {
    let mut comparison = Comparison::new("approximate power", SOURCE);
    for row in &rows("exact_power.csv") {
        let (planned, sizes) = (planned_difference(row), sizes(row.number("n1"), row.number("n2")));
        let power = match row.text("test") {
            "wald" => blackwelder_power(&planned, sizes),
            _ => farrington_manning_power(&planned, sizes),
        };
        comparison.value(&row.name(), power, row.number("approximate_power"), Tolerance::Absolute(1e-9));
    }
    comparison.finish(72);
}
