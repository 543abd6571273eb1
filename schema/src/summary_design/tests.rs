#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;

fn fields(form: DesignForm) -> Vec<&'static str> {
    form.check().unwrap_err().iter().map(|problem| problem.field).collect()
}

#[test]
fn a_design_is_written_as_it_was_brought() {
    let json = r#"{"first_year":2024,"last_year":2025,"tables":["complication_class","year"],"profile":"two_tier","profile_reason":"rare harms must be told","question":"How safe was it?","text":"In our own words.\nAnd more."}"#;
    let design: SummaryDesign = serde_json::from_str(json).unwrap();
    assert_eq!(serde_json::to_string(&design).unwrap(), json);
    assert_eq!(design.paragraphs().collect::<Vec<_>>(), ["In our own words.", "And more."]);
    assert!(design.has(SummaryTable::Year) && !design.has(SummaryTable::Dose));
    assert!(design.years().hold(2024) && !design.years().hold(2026));
    let none: SummaryDesign = serde_json::from_str("{}").unwrap();
    assert_eq!(none, SummaryDesign::default());
    assert!(none.years().hold(2010));
}

#[test]
fn every_field_that_must_be_mended_is_named() {
    let form = DesignForm {
        first_year: Some(1999),
        last_year: Some(2100),
        profile: Some(DisclosureProfile::TwoTier),
        question: Some("Were 3 of them hurt?".to_owned()),
        text: Some("x".repeat(LONGEST_TEXT + 1)),
        ..DesignForm::default()
    };
    assert_eq!(fields(form), ["/first_year", "/last_year", "/profile_reason", "/question", "/text"]);
    let swapped = DesignForm { first_year: Some(2025), last_year: Some(2024), ..DesignForm::default() };
    assert_eq!(fields(swapped), ["/last_year"]);
    let needless = DesignForm { profile_reason: Some("because".to_owned()), ..DesignForm::default() };
    assert_eq!(fields(needless), ["/profile_reason"]);
}

/// A figure is one in any script: a fraction, a Roman numeral sign, an Arabic-Indic digit.
#[test]
fn no_figure_and_nobody_slips_into_the_text() {
    for text in ["2 %", "½ of all", "Ⅷ died", "٣ died", "in 2025", "ask Mr John Smith"] {
        let form = DesignForm { text: Some(text.to_owned()), ..DesignForm::default() };
        assert_eq!(fields(form), ["/text"], "{text}");
    }
    let plain = DesignForm { text: Some("  \r\n ".to_owned()), ..DesignForm::default() };
    assert_eq!(plain.check().unwrap(), SummaryDesign::default());
}
