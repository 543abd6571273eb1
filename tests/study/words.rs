//! The comparison as a person reads it.

use crate::arms::{Counts, add};
use crate::records::Kind;
use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::comparison::compare;
use quietbeam_analysis::study::request::RequestForm;
use quietbeam_analysis::study::words::words;

fn text(cohort: &Cohort) -> String {
    words(&compare(cohort, &RequestForm::default().try_into().unwrap()))
}

fn network() -> Cohort {
    let mut cohort = Cohort::default();
    for centre in ["S01", "S02", "S03"] {
        let zero = Counts { cases: 800, successes: 771, major: 12, crossed_over: 40 };
        add(&mut cohort, centre, Kind::Af, true, zero);
        let conventional = Counts { cases: 700, successes: 670, major: 14, crossed_over: 3 };
        add(&mut cohort, centre, Kind::Af, false, conventional);
    }
    cohort
}

#[test]
fn without_a_plan_nothing_is_decided() {
    let text = text(&network());
    assert!(text.starts_with("WITHOUT A PLAN\n"), "{text}");
    assert!(text.contains("A claim needs a plan."), "{text}");
    for verdict in [": shown", "not shown", "less than 3 points", "beyond the margin", "annot conclude"] {
        assert!(!text.contains(verdict), "{verdict}: {text}");
    }
    assert!(text.contains("not randomised"));
    assert!(text.contains("individual patient"));
    assert!(text.contains("Fluoroscopy stays available"));
}

#[test]
fn no_line_is_too_long_and_no_word_is_wrong() {
    for cohort in [network(), Cohort::default()] {
        let text = text(&cohort);
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{} characters: {line}", line.chars().count());
            assert!(!line.ends_with(' '), "{line:?}");
        }
        let lower = text.to_lowercase();
        for wrong in ["equivalen", "inferior", "nan", "inf ", "infinit", "significan"] {
            assert!(!lower.contains(wrong), "{wrong}: {text}");
        }
    }
}

#[test]
fn numbers_carry_their_percentages_and_a_true_minus() {
    let text = text(&network());
    assert!(text.contains("2,313/2,400 (96.4 %)"), "{text}");
    assert!(text.contains('−'), "{text}");
    assert!(!text.contains("(-"), "{text}");
    assert!(text.contains("fluoroscopy time, min"), "{text}");
}
