//! Agreement of two judges against statsmodels and against its own laws.

use proptest::prelude::*;
use quietbeam_analysis::methods::agreement::{AgreementTable, AgreementTableError, cohen_kappa_interval};
use quietbeam_analysis::methods::interval::{Confidence, NotEstimable};

use crate::reference::{Comparison, Tolerance, rows};

fn level() -> Confidence {
    Confidence::new(0.95).unwrap()
}

fn table(counts: &[&[u32]]) -> AgreementTable {
    AgreementTable::new(counts.iter().map(|row| row.to_vec()).collect()).unwrap()
}

#[test]
fn kappa() {
    let all = rows("kappa.csv");
    let mut comparison = Comparison::new(
        "cohen_kappa",
        "statsmodels cohens_kappa; scikit-learn, delta method by complex steps",
    );
    for set in all.chunk_by(|a, b| a.text("set_id") == b.text("set_id")) {
        let size = set.len().isqrt();
        let counts: Vec<Vec<u32>> =
            set.chunks(size).map(|row| row.iter().map(|cell| cell.number("count")).collect()).collect();
        let found = cohen_kappa_interval(&AgreementTable::new(counts).unwrap(), set[0].level()).unwrap();
        comparison.interval(&set[0], found, Tolerance::Absolute(1e-12));
    }
    comparison.finish(45);
}

#[test]
fn degenerate_margins_have_their_reason() {
    let why = |counts: &[&[u32]]| cohen_kappa_interval(&table(counts), level());
    assert_eq!(why(&[&[7]]), Err(NotEstimable::OneCategory));
    assert_eq!(why(&[&[0, 0], &[0, 9]]), Err(NotEstimable::OneCategory));
    assert_eq!(why(&[&[4, 0], &[0, 5]]), Err(NotEstimable::NeverDiffered));
    // One judge knows one category: kappa is 0 whatever the other says.
    assert_eq!(why(&[&[6, 4], &[0, 0]]), Err(NotEstimable::NoVariation));
    // Nothing but the opposite, evenly.
    assert_eq!(why(&[&[0, 5], &[5, 0]]), Err(NotEstimable::NoVariation));
    assert!(why(&[&[4, 1], &[0, 5]]).is_ok());
    let refused = |counts: Vec<Vec<u32>>| AgreementTable::new(counts).unwrap_err();
    assert_eq!(refused(vec![vec![0, 0], vec![0, 0]]), AgreementTableError::Nothing);
    assert_eq!(refused(vec![vec![1, 2]]), AgreementTableError::NotSquare);
    assert_eq!(refused(Vec::new()), AgreementTableError::NotSquare);
}

fn squares() -> impl Strategy<Value = Vec<Vec<u32>>> {
    (2_usize..5).prop_flat_map(|size| prop::collection::vec(prop::collection::vec(0_u32..40, size), size))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// Who is called the first judge does not matter, nor in which order categories are listed.
    #[test]
    fn neither_judge_is_the_first(counts in squares()) {
        prop_assume!(counts.iter().flatten().any(|count| *count > 0));
        let size = counts.len();
        let turned: Vec<Vec<u32>> =
            (0..size).map(|row| (0..size).map(|column| counts[size - 1 - column][size - 1 - row]).collect()).collect();
        let found = |counts| cohen_kappa_interval(&AgreementTable::new(counts).unwrap(), level());
        match (found(counts), found(turned)) {
            (Ok(one), Ok(other)) => {
                prop_assert!((one.estimate - other.estimate).abs() < 1e-12);
                prop_assert!((one.lower - other.lower).abs() < 1e-9 && (one.upper - other.upper).abs() < 1e-9);
                prop_assert!(-1.0 <= one.lower && one.lower <= one.estimate);
                prop_assert!(one.estimate <= one.upper && one.upper <= 1.0);
            }
            (one, other) => prop_assert_eq!(one.is_err(), other.is_err()),
        }
    }

    /// Four times as many judged in the same shares halve the interval.
    #[test]
    fn more_judged_tell_it_closer(counts in squares()) {
        prop_assume!(counts.iter().flatten().any(|count| *count > 0));
        let four = counts.iter().map(|row| row.iter().map(|count| 4 * count).collect()).collect();
        let found = |counts| cohen_kappa_interval(&AgreementTable::new(counts).unwrap(), level());
        if let (Ok(once), Ok(more)) = (found(counts), found(four)) {
            prop_assert!((once.estimate - more.estimate).abs() < 1e-12);
            if once.lower > -1.0 && once.upper < 1.0 {
                let ratio = (once.upper - once.lower) / (more.upper - more.lower);
                prop_assert!((ratio - 2.0).abs() < 1e-6, "{ratio}");
            }
        }
    }
}
