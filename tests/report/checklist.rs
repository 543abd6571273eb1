//! What a reader must be told, item by item.

use crate::cases::{network, of, planned};
use quietbeam_analysis::study::report::{Facts, Standing, State, report};

/// What no report can know of itself.
const FOR_OTHERS: [u8; 8] = [2, 8, 17, 20, 21, 23, 24, 25];

#[test]
fn a_report_is_a_draft_until_every_blocking_item_is_there() {
    let list = of(network()).checklist;
    assert_eq!(list.items.len(), 25);
    assert!((1..=25).eq(list.items.iter().map(|item| item.number)));
    let missing = vec![2, 8, 17, 20, 21, 23, 24];
    assert_eq!(list.standing, Standing::Draft { missing });
    assert!(matches!(list.items[24].state, State::NotApplicable(_)));

    let text = |number: &u8| (*number, format!("Text of {number}."));
    let mut facts = Facts { texts: FOR_OTHERS.iter().map(text).collect(), ..Facts::default() };
    let list = report(network(), &planned(&[]), &facts).checklist;
    assert_eq!(list.standing, Standing::Final);
    assert_eq!(list.items[1].state, State::Written("Text of 2.".to_owned()));
    // Three, six and 22 are asked of a person and block nothing.
    let open: Vec<u8> =
        list.items.iter().filter(|item| item.state == State::Missing).map(|item| item.number).collect();
    assert_eq!(open, [3, 6, 22]);

    facts.texts.insert(23, "  ".to_owned());
    let blank = report(network(), &planned(&[]), &facts).checklist;
    assert_eq!(blank.standing, Standing::Draft { missing: vec![23] });
}

#[test]
fn what_the_report_answers_is_said_in_its_own_sentences() {
    let report = of(network());
    let said = |number: usize| match &report.checklist.items[number - 1].state {
        State::FromReport(text) => text.clone(),
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
    assert!(said(12).contains("Crude risk ratio of failure to reach acute success: 1.4 ("), "{}", said(12));
    assert!(said(16).contains("reached, 1,880 and 1,000."), "{}", said(16));
    assert_eq!(said(19).matches("Without each operator's first 25").count(), 2);
}
