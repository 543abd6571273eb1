//! Worked examples as printed. The printed digits are quoted from memory of the papers;
//! each was recomputed with 50-digit arithmetic and agrees.

use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
use quietbeam_analysis::methods::difference::{
    newcombe_corrected_interval, newcombe_interval, wald_difference_interval,
};
use quietbeam_analysis::methods::interval::{Confidence, Interval, RatioInterval};
use quietbeam_analysis::methods::odds_ratio::woolf_interval;
use quietbeam_analysis::methods::proportion::{
    clopper_pearson_interval, mid_p_interval, wilson_corrected_interval, wilson_interval,
};
use quietbeam_analysis::methods::proportion_simple::wald_interval;
use quietbeam_analysis::methods::ratio::{katz_interval, koopman_interval};
use quietbeam_analysis::methods::score::{mee_interval, miettinen_nurminen_interval};

pub(crate) fn arms(x1: u32, n1: u32, x2: u32, n2: u32) -> TwoArms {
    TwoArms { first: EventCount::new(x1, n1).unwrap(), second: EventCount::new(x2, n2).unwrap() }
}

/// Limits rounded to `digits` decimals are the printed ones.
pub(crate) fn check(source: &str, computed: Interval, digits: usize, lower: &str, upper: &str) {
    let method = computed.method.label();
    for (side, value, printed) in [("lower", computed.lower, lower), ("upper", computed.upper, upper)] {
        let shown = format!("{value:.digits$}");
        let shown = if shown.trim_start_matches('-').parse::<f64>() == Ok(0.0) {
            shown.trim_start_matches('-').to_owned()
        } else {
            shown
        };
        digits_agree(source, &format!("{method}, {side} limit"), &shown, printed);
    }
}

/// A computed value, rounded as printed, has the digits printed.
pub(crate) fn digits_agree(source: &str, what: &str, shown: &str, printed: &str) {
    println!("printed: | {source} | {what} | {printed} | {shown} |");
    assert_eq!(shown, printed, "{what}, source: {source} (from memory)");
}

const LEVEL: Confidence = Confidence::NINETY_FIVE;

#[test]
fn newcombe_1998_one_proportion() {
    let source = "Newcombe, Stat Med 1998;17:857-872, Table I";
    let count = |x, n| EventCount::new(x, n).unwrap();
    check(source, wilson_interval(count(81, 263), LEVEL), 4, "0.2553", "0.3662");
    check(source, clopper_pearson_interval(count(81, 263), LEVEL), 4, "0.2527", "0.3676");
    check(source, wilson_corrected_interval(count(81, 263), LEVEL), 4, "0.2535", "0.3682");
    check(source, mid_p_interval(count(81, 263), LEVEL), 4, "0.2544", "0.3658");
    check(source, wald_interval(count(81, 263), LEVEL), 4, "0.2522", "0.3638");
    check(source, wilson_corrected_interval(count(0, 20), LEVEL), 4, "0.0000", "0.2005");
    check(source, mid_p_interval(count(0, 20), LEVEL), 4, "0.0000", "0.1391");
    check(source, wald_interval(count(0, 20), LEVEL), 4, "0.0000", "0.0000");
    check(source, wilson_interval(count(0, 20), LEVEL), 4, "0.0000", "0.1611");
    check(source, clopper_pearson_interval(count(0, 20), LEVEL), 4, "0.0000", "0.1684");
}

#[test]
fn newcombe_1998_difference() {
    let source = "Newcombe, Stat Med 1998;17:873-890, Table II";
    let a = arms(56, 70, 48, 80);
    check(source, wald_difference_interval(a, LEVEL), 4, "0.0575", "0.3425");
    check(source, mee_interval(a, LEVEL), 4, "0.0533", "0.3377");
    check(source, miettinen_nurminen_interval(a, LEVEL), 4, "0.0528", "0.3382");
    check(source, newcombe_interval(a, LEVEL), 4, "0.0524", "0.3339");
    check(source, newcombe_corrected_interval(a, LEVEL), 4, "0.0428", "0.3422");
    let small = arms(6, 7, 2, 7);
    check(source, newcombe_corrected_interval(small, LEVEL), 4, "-0.0290", "0.8423");
    check(source, mee_interval(small, LEVEL), 4, "0.0544", "0.8478");
    check(source, miettinen_nurminen_interval(small, LEVEL), 4, "0.0342", "0.8534");
    check(source, newcombe_interval(small, LEVEL), 4, "0.0582", "0.8062");
    let none = arms(0, 10, 0, 20);
    check(source, mee_interval(none, LEVEL), 4, "-0.1611", "0.2775");
    check(source, miettinen_nurminen_interval(none, LEVEL), 4, "-0.1658", "0.2844");
    check(source, newcombe_interval(none, LEVEL), 4, "-0.1611", "0.2775");
    check(source, newcombe_corrected_interval(none, LEVEL), 4, "-0.2005", "0.3445");
    let all = arms(10, 10, 0, 20);
    check(source, mee_interval(all, LEVEL), 4, "0.7225", "1.0000");
    check(source, miettinen_nurminen_interval(all, LEVEL), 4, "0.7156", "1.0000");
    check(source, newcombe_corrected_interval(all, LEVEL), 4, "0.6014", "1.0000");
    check(source, newcombe_interval(all, LEVEL), 4, "0.6791", "1.0000");
}

#[test]
fn aspirin_and_myocardial_infarction() {
    let source = "Agresti, Categorical Data Analysis (Physicians' Health Study)";
    check(source, wald_difference_interval(arms(189, 11_034, 104, 11_037), LEVEL), 3, "0.005", "0.011");
}

#[test]
fn koopman_1984() {
    let source = "Koopman, Biometrics 1984;40:513-517";
    check_ratio(source, koopman_interval(arms(36, 40, 16, 80), LEVEL), "2.94", "7.15");
}

#[test]
fn aspirin_ratios() {
    let source = "Agresti, Categorical Data Analysis (Physicians' Health Study)";
    let a = arms(189, 11_034, 104, 11_037);
    check_ratio(source, katz_interval(a, LEVEL).unwrap(), "1.43", "2.31");
    check_ratio(source, woolf_interval(a, LEVEL).unwrap(), "1.44", "2.33");
}

fn check_ratio(source: &str, computed: RatioInterval, lower: &str, upper: &str) {
    let method = computed.method.label();
    let limits = [("lower", computed.lower, lower), ("upper", computed.upper.or_infinity(), upper)];
    for (side, value, printed) in limits {
        digits_agree(source, &format!("{method}, {side} limit"), &format!("{value:.2}"), printed);
    }
}
