//! What a reader must be told, item by item.

use crate::cases::{network, of, planned};
use quietbeam_analysis::study::report::{
    Amendment, ByPerson, Checklist, Entry, Facts, Origin, Standing, State, Written, report,
};
use std::collections::BTreeMap;

/// What the registry tells.
pub(super) fn told() -> Facts {
    let origin = Origin {
        cut: "winter".to_owned(),
        cut_hash: "c0ffee".to_owned(),
        cut_taken: "2026-11-29".to_owned(),
        form_versions: vec!["4".to_owned()],
        plan: "1.2".to_owned(),
        plan_hash: "decade".to_owned(),
        plan_registered: "2026-01-02".to_owned(),
        amendments: vec![Amendment {
            registered: "2026-01-02".to_owned(),
            reason: "A stricter margin.".to_owned(),
        }],
        software: "quietbeam 0".to_owned(),
    };
    // Nine in ten of ten delays lie within the place 0.9 · 9, rounded: the eighth from nought.
    let entry = Entry {
        delays_days: vec![90, 0, 10, 20, 30, 40, 50, 60, 70, 80],
        questions: 1_200,
        open: 7,
        open_on_outcome: 2,
    };
    Facts { origin: Some(origin), entry: Some(entry), ..Facts::default() }
}

fn texts(items: &[ByPerson]) -> BTreeMap<ByPerson, Written> {
    let text = |item: &ByPerson| Written {
        text: format!("Text of {}.", item.number()),
        by: "someone".to_owned(),
        at: "2026-11-29T12:00:00.000Z".to_owned(),
    };
    items.iter().map(|item| (*item, text(item))).collect()
}

fn missing(list: &Checklist) -> Vec<u8> {
    let missing = list.items.iter().filter(|item| item.state == State::Missing);
    missing.map(|item| item.number).collect()
}

#[test]
fn a_report_is_a_draft_until_every_blocking_item_is_there() {
    let list = of(network()).checklist;
    assert_eq!(list.items.len(), 25);
    assert!((1..=25).eq(list.items.iter().map(|item| item.number)));
    // Nobody told where the cases come from.
    assert_eq!(list.standing, Standing::Draft { missing: vec![2, 17, 20, 23, 24] });
    assert!(matches!(list.items[24].state, State::NotApplicable { .. }));

    let mut list = report(network(), &planned(&[]), &told()).checklist;
    assert_eq!(list.standing, Standing::Draft { missing: vec![23] });
    assert_eq!(missing(&list), [3, 6, 22, 23], "what only a person can write");
    // Three, six and 22 block nothing.
    list.write(&texts(&[ByPerson::Interests]));
    assert_eq!((&list.standing, missing(&list)), (&Standing::Final, vec![3, 6, 22]));
    let State::Written(written) = &list.items[22].state else { panic!("{:?}", list.items[22]) };
    assert_eq!((written.text.as_str(), written.by.as_str()), ("Text of 23.", "someone"));
    // Taken back.
    list.write(&texts(&[ByPerson::Limits]));
    assert_eq!(list.standing, Standing::Draft { missing: vec![23] });
    assert_eq!(missing(&list), [3, 6, 23]);
}

#[test]
fn the_items_of_a_person_are_found_by_their_numbers() {
    let numbers: Vec<u8> = (0..=255).filter(|number| ByPerson::of_number(*number).is_some()).collect();
    assert_eq!(numbers, [3, 6, 22, 23]);
    for item in ByPerson::ALL {
        assert_eq!(ByPerson::of_number(item.number()), Some(item));
    }
    assert!(ByPerson::Interests.is_blocking() && !ByPerson::Limits.is_blocking());
}

#[test]
fn texts_change_the_checklist_and_nothing_else() {
    let bytes = |written: &[ByPerson]| {
        let mut report = report(network(), &planned(&[]), &told());
        report.checklist.write(&texts(written));
        let mut json = serde_json::to_value(&report).unwrap();
        let checklist = json.as_object_mut().unwrap().remove("checklist").unwrap();
        (checklist.to_string(), json.to_string())
    };
    let (none, all) = (bytes(&[]), bytes(&ByPerson::ALL));
    assert_eq!(none.1, all.1);
    assert_ne!(none.0, all.0);
    assert_eq!(all, bytes(&ByPerson::ALL), "the same texts give the same bytes");
}

#[test]
fn what_the_registry_knows_is_said_where_it_belongs() {
    let report = report(network(), &planned(&[]), &told());
    let said = |number: usize| match &report.checklist.items[number - 1].state {
        State::FromReport { text } => text.clone(),
        other => panic!("{number}: {other:?}"),
    };
    for (number, words) in [
        (2, "two centres"),
        (2, "version 4 of the form"),
        (17, "It was amended on 2026-01-02 (A stricter margin)."),
        (20, "median 50 days after the end of their quarter, nine in ten within 80"),
        (
            20,
            "1,200 questions had been asked about them when the cut was taken; 7 were not answered, 2 of those",
        ),
        (20, "does not record whether a case was compared with its source"),
        (
            21,
            "Cases with a major complication within 30 days, zero-fluoroscopy (1,880) and conventional (1,000)",
        ),
        (24, "quietbeam 0, on data cut c0ffee by plan decade."),
    ] {
        assert!(said(number).contains(words), "{number}: {}", said(number));
    }
}

#[test]
fn what_the_report_answers_is_said_in_its_own_sentences() {
    let report = of(network());
    let said = |number: usize| match &report.checklist.items[number - 1].state {
        State::FromReport { text } => text.clone(),
        other => panic!("{number}: {other:?}"),
    };
    assert!(said(1).starts_with(&report.first_lines.title));
    assert_eq!(said(9), report.flow.in_words);
    assert!(said(5).ends_with("Source: decision of the writing group."), "{}", said(5));
    assert!(
        said(14)
            .starts_with("The 30-day status is known of 1,880/1,880 (100.0 %) in the zero-fluoroscopy arm"),
        "{}",
        said(14)
    );
    // 148 of 1,880 failed against 56 of 1,000: 1.41 by hand.
    assert!(said(12).contains("Risk ratio of failure to reach acute success: crude 1.41 ("), "{}", said(12));
    assert!(said(12).contains("; by the planned method "), "{}", said(12));
    assert!(said(16).contains("reached, 1,880 and 1,000."), "{}", said(16));
    assert_eq!(said(19).matches("Without each operator's first 25").count(), 2);
}
