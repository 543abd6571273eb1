//! The network is a function of the seed and the number of cases.

use crate::reading::codes;
use quietbeam::demo::{CentreFiles, Scenario};

fn all_files(seed: u64, cases: usize) -> Vec<CentreFiles> {
    Scenario::generate(seed, cases).centres.iter().map(|centre| centre.files(&codes(centre))).collect()
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    assert!(all_files(7, 1_000) == all_files(7, 1_000));
}

#[test]
fn another_seed_gives_other_bytes() {
    for (one, other) in all_files(7, 1_000).iter().zip(all_files(8, 1_000)) {
        assert!(one.cases != other.cases);
    }
}

#[test]
fn the_centres_send_as_many_rows_as_were_asked_for() {
    for cases in [0, 1, 7, 50, 999, 4_300] {
        let network = Scenario::generate(1, cases);
        assert_eq!(network.centres.iter().map(|centre| centre.case_rows()).sum::<usize>(), cases);
    }
    let rows: Vec<usize> =
        Scenario::generate(1, 4_300).centres.iter().map(|centre| centre.case_rows()).collect();
    assert_eq!(rows, [1_100, 700, 600, 900, 260, 420, 320]);
}

/// RFC 4180: lines end in CR LF, and a field with a comma stands in quotes.
#[test]
fn the_files_are_delimited_as_the_standard_says() {
    let files = all_files(1, 4_300);
    for text in files.iter().flat_map(|files| [&files.cases, &files.complications, &files.follow_ups]) {
        assert!(text.ends_with("\r\n"));
        assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    }
    assert!(files.iter().any(|files| files.cases.contains(",\"Extra lesions at the ridge, then block.\"")));
}
