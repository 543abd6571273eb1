#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::summary_design::{DesignForm, SummaryDesign};
use crate::vocabulary::ProfileNumber::*;

const WHY: &str = "rare harms must be told";

fn form(profile: DisclosureProfile, numbers: &[(ProfileNumber, u32)], reason: Option<&str>) -> DesignForm {
    DesignForm {
        profile: Some(profile),
        profile_numbers: numbers.iter().copied().collect(),
        profile_reason: reason.map(str::to_owned),
        ..DesignForm::default()
    }
}

fn refused(form: DesignForm) -> Vec<(&'static str, String)> {
    form.check().unwrap_err().into_iter().map(|problem| (problem.field, problem.why.to_string())).collect()
}

/// What a design says is what was brought, numbers that are standard left out; one of before there were
/// numbers reads and is written as ever.
#[test]
fn only_what_is_not_standard_is_written() {
    let read = |json: &str| serde_json::from_str::<SummaryDesign>(json).unwrap();
    let json = r#"{"tables":[],"profile":"strict","profile_numbers":{"threshold":20,"coalition":1},"profile_reason":"pairs need not be feared"}"#;
    assert_eq!(serde_json::to_string(&read(json)).unwrap(), json);
    let before = r#"{"tables":[],"profile":"strict"}"#;
    assert_eq!(serde_json::to_string(&read(before)).unwrap(), before);
    let spelt = read(
        r#"{"profile_numbers":{"threshold":11,"least_centres":3,"least_width":5,"dominance":10,"coalition":2}}"#,
    );
    assert_eq!(spelt, read(before));
    assert_eq!(
        ProfileNumber::all().iter().map(|number| spelt.profile().number(*number)).collect::<Vec<_>>(),
        [11, 3, 5, 10, 2, 1_000, 5]
    );
}

/// Both ends of every range can be chosen, and nothing beyond them.
#[test]
fn numbers_that_do_not_protect_cannot_be_chosen() {
    for number in ProfileNumber::all() {
        let (least, most) = (*number.range().start(), *number.range().end());
        // No range may be wider than the threshold.
        let beside = if *number == Threshold { (LeastWidth, 1) } else { (Threshold, 1_000) };
        let chosen = |value| {
            let numbers = [beside, (*number, value)];
            let legal = form(DisclosureProfile::TwoTier, &numbers, Some(WHY)).check();
            legal.map(|design| design.profile().number(*number))
        };
        assert_eq!([least, most].map(chosen), [Ok(least), Ok(most)], "{number:?}");
        for beyond in [least.checked_sub(1), Some(most + 1)].into_iter().flatten() {
            let problems = refused(form(DisclosureProfile::TwoTier, &[beside, (*number, beyond)], Some(WHY)));
            let [(field, why)] = &problems[..] else { panic!("{problems:?}") };
            assert_eq!(*field, format!("/profile_numbers/{}", number.code()));
            assert_eq!(
                *why,
                format!(
                    "“{}” is a whole number from {least} to {most}; write one, or leave it out",
                    number.label()
                )
            );
        }
    }
}

#[test]
fn no_range_is_wider_than_the_threshold() {
    // The standard width is 5.
    let narrow = refused(form(DisclosureProfile::Strict, &[(Threshold, 4)], Some(WHY)));
    assert_eq!(narrow.iter().map(|(field, _)| *field).collect::<Vec<_>>(), ["/profile_numbers/least_width"]);
    assert!(narrow[0].1.contains("from 1 to 4"), "{}", narrow[0].1);
    assert!(form(DisclosureProfile::Strict, &[(Threshold, 4), (LeastWidth, 4)], Some(WHY)).check().is_ok());
    // A threshold that must be mended says nothing of the width.
    let none = refused(form(DisclosureProfile::Strict, &[(Threshold, 2)], Some(WHY)));
    assert_eq!(none.len(), 1, "{none:?}");
}

#[test]
fn a_second_tier_has_numbers_where_there_is_one() {
    for number in [NetworkCases, NetworkCentres] {
        let refusal = refused(form(DisclosureProfile::Strict, &[(number, number.standard())], None));
        assert!(
            refusal[0].0.ends_with(number.code()) && refusal[0].1.contains("no second tier"),
            "{refusal:?}"
        );
    }
}

/// Whatever is lower than the standard shows more: it needs the reason, and nothing else does.
#[test]
fn a_number_that_protects_less_needs_the_reason() {
    for number in ProfileNumber::all().iter().filter(|number| !number.is_of_second_tier()) {
        let with = |value: u32, reason| form(DisclosureProfile::Strict, &[(*number, value)], reason);
        let lower = number.standard() - 1;
        let refusal = refused(with(lower, None));
        assert_eq!(refusal[0].0, "/profile_reason", "{number:?}");
        let named = format!("“{}” is {lower}, not {}", number.label(), number.standard());
        assert!(refusal[0].1.contains(&named) && refusal[0].1.contains("give the reason"), "{refusal:?}");
        let design = with(lower, Some(WHY)).check().unwrap();
        assert_eq!(design.profile().reason(), Some(WHY));
        assert_eq!(design.profile().shows_more(), [named]);
        if number.range().contains(&(number.standard() + 1)) {
            let higher = with(number.standard() + 1, None).check().unwrap();
            assert!(higher.profile().shows_more().is_empty());
            assert_eq!(refused(with(number.standard() + 1, Some(WHY)))[0].0, "/profile_reason");
        }
    }
    let smaller = [(NetworkCases, 500), (NetworkCentres, 4)];
    let smaller = form(DisclosureProfile::TwoTier, &smaller, Some(WHY)).check().unwrap();
    let told = [
        "two tiers",
        "“Second tier: fewest cases” is 500, not 1000",
        "“Second tier: fewest centres” is 4, not 5",
    ];
    assert_eq!(smaller.profile().shows_more(), told);
    let larger = form(DisclosureProfile::TwoTier, &[(NetworkCases, 2_000)], Some(WHY)).check().unwrap();
    assert_eq!(larger.profile().shows_more(), ["two tiers"]);
}

#[test]
fn a_reason_is_written_to_no_log_and_holds_no_figure() {
    let design = form(DisclosureProfile::Strict, &[(Threshold, 10)], Some(WHY)).check().unwrap();
    let logged = format!("{design:?}");
    assert!(logged.contains("Threshold") && !logged.contains("rare"), "{logged}");
    let figure = refused(form(DisclosureProfile::TwoTier, &[], Some("because 3 were hurt")));
    assert_eq!(figure[0].0, "/profile_reason");
}
