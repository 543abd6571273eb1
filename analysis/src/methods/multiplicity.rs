//! Several claims from one set of cases: what keeps the chance of any false one small.

use serde::{Deserialize, Serialize};

use super::non_inferiority::Conclusion;
use super::sample::{Probability, count};

/// Holm's adjusted p values, in the order given.
///
/// Formula: with p(1) ≤ … ≤ p(m), the adjusted p(i) = max over j ≤ i of min(1, (m − j + 1) p(j)).
/// Units: probabilities; a claim stands at the familywise rate α when its adjusted p is at most α.
/// Edges: no p values give none; equal p values have equal adjusted ones.
/// Source: [holm1979].
/// Checked: tests/numbers/multiplicity.csv.
pub fn holm_adjusted(p_values: &[Probability]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].value().total_cmp(&p_values[b].value()));
    let mut adjusted = vec![0.0; p_values.len()];
    let mut largest = 0.0_f64;
    for (rank, &place) in order.iter().enumerate() {
        let still_to_test = count(p_values.len() - rank);
        largest = largest.max((still_to_test * p_values[place].value()).min(1.0));
        adjusted[place] = largest;
    }
    adjusted
}

/// Adjusted p values of claims tested in the order given.
///
/// Formula: the adjusted p of a claim is the largest p of it and those before it.
/// Units: probabilities; a claim stands at the familywise rate α when its adjusted p is at most α.
/// Edges: no p values give none; the order must have been fixed before the cases were seen.
/// Source: [maurer1995].
/// Checked: tests/numbers/multiplicity.csv.
pub fn fixed_sequence_adjusted(p_values: &[Probability]) -> Vec<f64> {
    let larger = |largest: &mut f64, p: &Probability| {
        *largest = largest.max(p.value());
        Some(*largest)
    };
    p_values.iter().scan(0.0, larger).collect()
}

/// What a fixed sequence says about one claim.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "step", rename_all = "snake_case")]
pub enum SequenceStep {
    /// All claims before were shown, so this one may be read as it stands.
    Tested {
        /// What its own interval says.
        conclusion: Conclusion,
    },
    /// A claim before was not shown: this one must not be made, whatever its interval says.
    NotTested,
}

/// Claims of non-inferiority made in the order given, each at the full level.
///
/// Formula: a claim is tested when every claim before it was shown; the first that was not
/// ends the sequence.
/// Units: none; each conclusion comes from an interval at the same level.
/// Edges: no claims give no steps; the order must have been fixed before the cases were seen.
/// Source: [maurer1995].
/// Checked: beside the code.
pub fn fixed_sequence(claims: &[Conclusion]) -> Vec<SequenceStep> {
    let shown = claims.iter().take_while(|claim| **claim == Conclusion::Shown).count();
    let step = |(place, claim): (usize, &Conclusion)| {
        if place <= shown { SequenceStep::Tested { conclusion: *claim } } else { SequenceStep::NotTested }
    };
    claims.iter().enumerate().map(step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_claim_that_fails_ends_the_sequence() {
        let (shown, not) = (Conclusion::Shown, Conclusion::NotShown);
        let tested = |conclusion| SequenceStep::Tested { conclusion };
        assert_eq!(fixed_sequence(&[]), []);
        assert_eq!(fixed_sequence(&[shown, shown]), [tested(shown), tested(shown)]);
        assert_eq!(
            fixed_sequence(&[shown, not, shown, not]),
            [tested(shown), tested(not), SequenceStep::NotTested, SequenceStep::NotTested]
        );
        assert_eq!(fixed_sequence(&[not, shown]), [tested(not), SequenceStep::NotTested]);
    }
}
