//! Tables and thresholds that others have published.

use crate::published_table::{PublishedTable, with_totals};
use quietbeam_analysis::methods::disclosure::{Meaning, Profile, Release, attack, exact_range};

/// Fischetti M, Salazar-González JJ. Models and algorithms for optimizing cell suppression in tabular
/// data with linear constraints. Journal of the American Statistical Association 2000: investments of
/// enterprises by activity and region, the sensitive 22 protected by three other cells; an attacker
/// finds 5 to 30. From memory; the arithmetic is by hand.
#[test]
fn investments_by_activity_and_region() {
    let inner = vec![20, 50, 10, 8, 19, 22, 17, 32, 12];
    assert_eq!(with_totals(&inner, 3), [20, 50, 10, 80, 8, 19, 22, 49, 17, 32, 12, 61, 45, 101, 44, 190]);
    let mut table = PublishedTable::of_centres(3, &[inner]);
    // Activities two and three in regions one and three.
    let hidden = [4, 6, 8, 10];
    table.show_all_but(&hidden);
    let range = |place: usize| exact_range(&table.release, &[], &[(table.cells[place], 1)], 1_000).unwrap();
    // By hand: rows 30 and 29, columns 25 and 34.
    assert_eq!(hidden.map(range), [(0, 25), (5, 30), (0, 25), (4, 29)]);
}

/// Which lone counts from 0 to 20 of five equal centres may be shown.
fn may_be_shown(threshold: u64) -> Vec<u64> {
    let profile = Profile { threshold, ..Profile::STRICT };
    let passes = |count: &u64| {
        let mut release = Release::of_centres(["S01", "S02", "S03", "S04", "S05"]);
        let by_centre = (0..5).map(|centre| (count + centre) / 5).collect();
        let cell = release.count("cases", Meaning::Cases, by_centre);
        release.show(cell);
        attack(&release, profile).unwrap().passes()
    };
    (0..=20).filter(passes).collect()
}

/// [cms_cell_size2024]: 1 to 10 are not shown, zero may be.
#[test]
fn the_threshold_of_the_american_agency() {
    assert_eq!(may_be_shown(11), [0, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20]);
}

/// Disclosure control of hospital statistics in England, below the national level: 1 to 7 are not
/// shown. From a second-hand description; their rounding of the others is not modelled.
#[test]
fn the_threshold_of_the_english_agency() {
    assert_eq!(may_be_shown(8), [0, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20]);
}
