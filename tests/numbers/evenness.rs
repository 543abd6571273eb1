//! Evenness of counts against SciPy and against its own laws.

use proptest::prelude::*;
use quietbeam_analysis::methods::evenness::{CategoryCounts, even_chi_square_test, even_exact_test};
use quietbeam_analysis::methods::interval::NotEstimable;

use crate::reference::{Comparison, Tolerance, rows};

fn counts(counts: &[u32]) -> CategoryCounts {
    CategoryCounts::new(counts.to_vec()).unwrap()
}

#[test]
fn even_counts() {
    let all = rows("evenness.csv");
    let mut comparison = Comparison::new("evenness", "SciPy chisquare; sums of SciPy multinomial");
    for set in all.chunk_by(|a, b| a.text("set_id") == b.text("set_id")) {
        let counted: Vec<u32> = set.iter().map(|row| row.number("count")).collect();
        let (test, row) = (even_chi_square_test(&counts(&counted)), &set[0]);
        // SciPy sums the same squares in another order.
        comparison.value(&row.name(), test.statistic, row.number("statistic"), Tolerance::Absolute(1e-9));
        comparison.value(&row.name(), test.p, row.number("p"), Tolerance::Relative(1e-10));
        if !row.text("p_exact").is_empty() {
            let exact = even_exact_test(&counts(&counted)).unwrap();
            // SciPy goes by way of logarithms of gamma functions.
            comparison.value(&row.name(), exact.p, row.number("p_exact"), Tolerance::Relative(1e-11));
        }
    }
    comparison.finish(60);
}

#[test]
fn what_cannot_be_tested_is_refused() {
    assert!(CategoryCounts::new(vec![3]).is_err());
    assert!(CategoryCounts::new(vec![0, 0]).is_err());
    assert!(CategoryCounts::new(vec![1; 101]).is_err());
    assert_eq!(even_exact_test(&counts(&[60, 41])), Err(NotEstimable::TooManyArrangements { values: 101 }));
    assert!(even_exact_test(&counts(&[60, 40])).is_ok());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// Neither the order of the categories nor anything but the counts matters.
    #[test]
    fn the_order_of_categories_does_not_matter(mut counted in prop::collection::vec(0_u32..9, 2..10)) {
        prop_assume!(counted.iter().any(|count| *count > 0));
        let (approximate, exact) = (even_chi_square_test(&counts(&counted)), even_exact_test(&counts(&counted)));
        counted.reverse();
        let (again, exact_again) = (even_chi_square_test(&counts(&counted)), even_exact_test(&counts(&counted)));
        prop_assert!((approximate.p - again.p).abs() < 1e-12 && (0.0..=1.0).contains(&approximate.p));
        prop_assert_eq!(exact.unwrap().p, exact_again.unwrap().p);
    }

    /// Moving one from a rarer category to a commoner one makes counts less even.
    #[test]
    fn heaping_lowers_p(mut counted in prop::collection::vec(1_u32..8, 2..8)) {
        counted.sort_unstable();
        let before = (even_chi_square_test(&counts(&counted)).p, even_exact_test(&counts(&counted)).unwrap().p);
        counted[0] -= 1;
        *counted.last_mut().unwrap() += 1;
        let after = (even_chi_square_test(&counts(&counted)).p, even_exact_test(&counts(&counted)).unwrap().p);
        prop_assert!(after.0 < before.0 && after.1 <= before.1);
    }

    /// With many counted, the approximation is near the exact test, which moves in steps.
    #[test]
    fn the_two_tests_meet_where_counts_are_many(counted in prop::collection::vec(6_u32..14, 4..7)) {
        let exact = even_exact_test(&counts(&counted)).unwrap().p;
        prop_assert!((even_chi_square_test(&counts(&counted)).p - exact).abs() < 0.1);
    }
}
