//! Two people change the same case.

use std::thread;

use quietbeam::access::Permit;
use quietbeam::access::action::{ChangeCase, ReadCase, SubmitCase};
use quietbeam::store::{Change, Conflict, NewCase, StoreError};
use quietbeam_schema::ids::CaseCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::{Registry, content};

fn change(
    registry: &Registry,
    code: CaseCode,
    expected_revision: i64,
    number: usize,
) -> Result<i64, StoreError> {
    let reason = "typing error".parse().unwrap();
    let change = Change { code, expected_revision, content: content(number), reason };
    let permit = Permit::<ChangeCase>::for_operator("test");
    registry
        .store
        .write_blocking(permit, move |session| session.change_case(change))
        .map(|saved| saved.revision)
}

on_both_stores! {
    fn of_fifty_parallel_edits_exactly_one_wins_each_revision(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        for revision in 1..=3 {
            let results: Vec<_> = thread::scope(|scope| {
                let edits: Vec<_> =
                    (0..50).map(|number| scope.spawn(move || change(registry, code, revision, 100 * revision as usize + number))).collect();
                edits.into_iter().map(|edit| edit.join().unwrap()).collect()
            });
            let won: Vec<_> = results.iter().filter_map(|result| result.as_ref().ok()).collect();
            assert_eq!(won, [&(revision + 1)]);
            let lost = results.iter().filter(|result| matches!(result, Err(StoreError::Conflict(_)))).count();
            assert_eq!(lost, 49);
        }
        assert_eq!(registry.raw().count("case_revision"), 4);
        assert_eq!(registry.raw().count("case_revision WHERE superseded_by_seq IS NULL"), 1);
        assert_eq!(registry.raw().count("audit_event WHERE deed = 'case_changed'"), 3);
    }

    fn a_stale_edit_says_what_is_current(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        assert_eq!(change(registry, code, 1, 7).unwrap(), 2);
        let error = change(registry, code, 1, 8).unwrap_err();
        let StoreError::Conflict(conflict) = error else { panic!("{error}") };
        assert_eq!(conflict, Conflict::StaleRevision { expected: 1, current: 2 });
    }

    fn a_change_that_changes_nothing_leaves_no_trace(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        let events = registry.raw().count("audit_event");
        assert_eq!(change(registry, code, 1, 0).unwrap(), 1);
        assert_eq!(registry.raw().count("case_revision"), 1);
        assert_eq!(registry.raw().count("audit_event"), events);
    }

    fn a_code_takes_one_case_and_must_have_been_issued(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        let submit = |code| {
            let new = NewCase { code, content: content(1) };
            let permit = Permit::<SubmitCase>::for_operator("test");
            registry.store.write_blocking(permit, move |session| session.save_new_case(new)).unwrap_err()
        };
        assert!(matches!(submit(code), StoreError::Conflict(Conflict::CaseExists)));
        assert!(matches!(submit(CaseCode::from_random([9; 16])), StoreError::Absent("case code")));
    }

    fn what_is_read_back_is_what_was_written(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        change(registry, code, 1, 9).unwrap();
        let permit = Permit::<ReadCase>::for_operator("test");
        let store = registry.reopen();
        let row = store.read_blocking(permit, move |session| session.current_case(code)).unwrap();
        assert_eq!((row.code, row.centre, row.revision), (code, centre, 2));
        assert_eq!(row.content, content(9));
        assert_eq!(row.reason.as_deref(), Some("typing error"));
    }
}
