//! Several claims: against statsmodels and against closed testing, which both rules shorten.

use proptest::prelude::*;
use quietbeam_analysis::methods::multiplicity::{fixed_sequence_adjusted, holm_adjusted};
use quietbeam_analysis::methods::sample::Probability;

use crate::reference::{Comparison, Row, Tolerance, rows};

fn probabilities(values: &[f64]) -> Vec<Probability> {
    values.iter().map(|p| Probability::new(*p).unwrap()).collect()
}

#[test]
fn adjusted_p_values() {
    let all = rows("multiplicity.csv");
    let mut comparison = Comparison::new("multiplicity", "statsmodels multipletests; R p.adjust; NumPy");
    for set in all.chunk_by(|a, b| a.text("set_id") == b.text("set_id")) {
        let p: Vec<f64> = set.iter().map(|row| row.number("p")).collect();
        let (holm, sequence) =
            (holm_adjusted(&probabilities(&p)), fixed_sequence_adjusted(&probabilities(&p)));
        let check = |comparison: &mut Comparison, row: &Row, column: &str, value| {
            comparison.value(&row.name(), value, row.number(column), Tolerance::Relative(1e-15));
        };
        for (row, (holm, sequence)) in set.iter().zip(holm.into_iter().zip(sequence)) {
            check(&mut comparison, row, "holm", holm);
            check(&mut comparison, row, "fixed_sequence", sequence);
        }
    }
    comparison.finish(360);
}

/// Adjusted p of every claim by closed testing: the largest p of all subsets that hold it.
fn closed(p: &[f64], of_subset: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    let mut adjusted = vec![0.0_f64; p.len()];
    for subset in 1_usize..1 << p.len() {
        let members: Vec<usize> = (0..p.len()).filter(|place| subset >> place & 1 == 1).collect();
        let values: Vec<f64> = members.iter().map(|&place| p[place]).collect();
        for place in members {
            adjusted[place] = adjusted[place].max(of_subset(&values));
        }
    }
    adjusted
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn both_are_closed_tests(p in prop::collection::vec(prop_oneof![0.0..=1.0, 0.0..0.01, Just(0.02)], 0..8)) {
        let smallest = |p: &[f64]| p.iter().copied().fold(1.0, f64::min);
        let bonferroni = |p: &[f64]| (p.len() as f64 * smallest(p)).min(1.0);
        prop_assert_eq!(holm_adjusted(&probabilities(&p)), closed(&p, bonferroni));
        prop_assert_eq!(fixed_sequence_adjusted(&probabilities(&p)), closed(&p, |p| p[0]));
    }

    #[test]
    fn the_order_of_listing_does_not_matter_to_holm(
        p in prop::collection::vec(0.0..=1.0, 1..40), turn in 0..40_usize,
    ) {
        let mut expected = holm_adjusted(&probabilities(&p));
        let mut turned = p.clone();
        let turn = turn % p.len();
        turned.rotate_left(turn);
        expected.rotate_left(turn);
        prop_assert_eq!(holm_adjusted(&probabilities(&turned)), expected);
    }
}
