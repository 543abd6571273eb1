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
    let holds =
        |design: &SummaryDesign, year, quarter| design.period().holds(Quarter::new(year, quarter).unwrap());
    assert!(holds(&design, 2024, 1) && holds(&design, 2025, 4) && !holds(&design, 2026, 1));
    let none: SummaryDesign = serde_json::from_str("{}").unwrap();
    assert_eq!(none, SummaryDesign::default());
    assert!(holds(&none, 2010, 1));
}

/// A period may begin and end with any quarter; a year's own ends are written as the year.
#[test]
fn a_period_of_quarters_is_written_as_it_was_brought() {
    let read = |json: &str| serde_json::from_str::<SummaryDesign>(json).unwrap();
    let json = r#"{"first_quarter":"2024Q2","last_year":2025,"tables":[],"profile":"strict"}"#;
    let design = read(json);
    assert_eq!(serde_json::to_string(&design).unwrap(), json);
    let [first, last] = [(2024, 2), (2025, 4)].map(|(year, quarter)| Quarter::new(year, quarter));
    assert_eq!(design.period(), Period { first, last });
    let whole = read(r#"{"first_quarter":"2024Q1","last_quarter":"2024q4"}"#);
    assert_eq!(whole, read(r#"{"first_year":2024,"last_year":2024}"#));
    let form = |json: &str| serde_json::from_str::<DesignForm>(json).unwrap();
    for (json, field) in [
        (r#"{"first_quarter":"2024"}"#, "/first_quarter"),
        (r#"{"first_quarter":"2024Q5"}"#, "/first_quarter"),
        (r#"{"last_quarter":"2024-03-05"}"#, "/last_quarter"),
        (r#"{"first_year":2024,"first_quarter":"2024Q2"}"#, "/first_quarter"),
        (r#"{"first_quarter":"2024Q3","last_quarter":"2024Q2"}"#, "/last_quarter"),
        (r#"{"first_quarter":"2025Q2","last_year":2024}"#, "/last_year"),
    ] {
        assert_eq!(fields(form(json)), [field], "{json}");
    }
}

#[test]
fn a_comparison_may_be_told_first_if_there_is_one() {
    let json = r#"{"tables":[],"comparison":"0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b","told_first":"comparison","profile":"strict"}"#;
    let design: SummaryDesign = serde_json::from_str(json).unwrap();
    assert_eq!(serde_json::to_string(&design).unwrap(), json);
    assert!(design.comparison_first());
    let form = |json: &str| serde_json::from_str::<DesignForm>(json).unwrap();
    assert_eq!(fields(form(r#"{"told_first":"comparison"}"#)), ["/told_first"]);
    assert_eq!(fields(form(r#"{"comparison":"the newest","told_first":"comparison"}"#)), ["/comparison"]);
    assert!(!form(r#"{"told_first":"tables"}"#).check().unwrap().comparison_first());
}

#[test]
fn a_comparison_is_of_a_whole_cut() {
    let json = r#"{"tables":[],"comparison":"0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b","profile":"strict"}"#;
    let design: SummaryDesign = serde_json::from_str(json).unwrap();
    assert_eq!(serde_json::to_string(&design).unwrap(), json);
    let form = |comparison: &str, last_year| DesignForm {
        comparison: Some(comparison.to_owned()),
        last_year,
        ..DesignForm::default()
    };
    assert_eq!(form(" ", Some(2025)).check().unwrap().comparison(), None);
    assert_eq!(fields(form("the newest", None)), ["/comparison"]);
    assert_eq!(fields(form("0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b", Some(2025))), ["/comparison"]);
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
