//! A share is printed no finer than its count may be known.

use quietbeam_analysis::methods::disclosure::{Profile, finest, percent, wilson};

fn shown(part: u64, whole: u64) -> String {
    finest((part, whole), Profile::STRICT, [percent(1), percent(0)]).to_string()
}

/// Own arithmetic by hand: the counts of the same whole that round alike.
#[test]
fn a_share_is_as_exact_as_its_count_may_be() {
    for (part, whole, expected) in [
        (60, 1_200, "5.0"),
        // 1 % of 1,200 is any of 6 to 17; 0.6 % is 7 alone, and one more or less.
        (7, 1_200, "1"),
        // 2 % of 300 is 5 to 7.
        (6, 300, "fewer than 15"),
        (12, 300, "fewer than 15"),
        (15, 300, "5.0"),
        (294, 300, "all but fewer than 15"),
        (285, 300, "95.0"),
        (0, 300, "0.0"),
        (300, 300, "100.0"),
        (3, 3_000, "0"),
    ] {
        assert_eq!(shown(part, whole), expected, "{part} of {whole}");
    }
}

#[test]
fn an_interval_passes_the_same_gate() {
    let shown = |part, whole| finest((part, whole), Profile::STRICT, [wilson(1), wilson(0)]).to_string();
    assert_eq!(shown(3, 142), "fewer than 15");
    // Score interval of 60 of 1,200, another program: statsmodels 0.14 prints 0.0390 and 0.0639; from memory of its formula.
    assert!(shown(60, 1_200).starts_with("5.0 (3.9–6.4"), "{}", shown(60, 1_200));
}

/// Whatever is printed of a count that may not be shown leaves it wide and high.
#[test]
fn nothing_printed_gives_a_small_count_away() {
    for whole in 20..400_u64 {
        for part in 1..=10 {
            let printed = shown(part, whole);
            let alike: Vec<u64> = (0..=whole).filter(|other| shown(*other, whole) == printed).collect();
            let (low, high) = (*alike.first().unwrap(), *alike.last().unwrap());
            assert!(high >= 11 && high - low >= 5, "{part} of {whole} as {printed}: {low} to {high}");
        }
    }
}
