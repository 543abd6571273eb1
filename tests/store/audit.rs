//! No write without its audit event, no audit event without its write.

use quietbeam::access::Permit;
use quietbeam::access::action::{ChangeCase, ImportFiles, ReadHistory, SubmitCase};
use quietbeam::store::{Broken, Change, NewCase, StoreError};
use quietbeam_schema::audit::{Deed, Subject};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::{Engine, Registry, content};
use serde_json::json;

/// Makes every further audit event fail.
fn break_audit(registry: &Registry) {
    registry
        .raw()
        .run(match registry.engine {
            Engine::Sqlite => {
                "CREATE TRIGGER audit_fails BEFORE INSERT ON audit_event BEGIN SELECT RAISE(ABORT, 'no audit'); END"
            }
            Engine::Postgres => {
                "CREATE FUNCTION audit_fails() RETURNS trigger LANGUAGE plpgsql AS
                 $$ BEGIN RAISE EXCEPTION 'no audit'; END $$;
                 CREATE TRIGGER audit_fails BEFORE INSERT ON audit_event
                 FOR EACH ROW EXECUTE FUNCTION audit_fails()"
            }
        })
        .unwrap();
}

on_both_stores! {
    fn when_the_audit_event_fails_nothing_is_written(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        let spare = registry.codes(centre, 1)[0];
        break_audit(registry);

        let new = NewCase { code: spare, content: content(5) };
        let submit = Permit::<SubmitCase>::for_operator("test");
        let error = registry.store.write_blocking(submit, move |session| session.save_new_case(new)).unwrap_err();
        assert!(matches!(error, StoreError::Broken(Broken::Database(_))), "{error}");

        let change = Change { code, expected_revision: 1, content: content(6), reason: "typing error".parse().unwrap() };
        let permit = Permit::<ChangeCase>::for_operator("test");
        registry.store.write_blocking(permit, move |session| session.change_case(change)).unwrap_err();
        assert_eq!(registry.raw().count("case_revision"), 1);
        assert_eq!(registry.raw().count("case_revision WHERE superseded_by_seq IS NOT NULL"), 0);
    }

    fn every_case_of_an_import_has_its_own_event(registry) {
        let centre = registry.centre("S07");
        let codes = registry.cases(centre, 1_203);
        let events = "audit_event WHERE deed = 'case_submitted'";
        assert_eq!(registry.raw().count(events), codes.len() as u64);

        // All or nothing: one code that has a case already keeps the whole batch out.
        let mut new: Vec<NewCase> =
            registry.codes(centre, 10).into_iter().map(|code| NewCase { code, content: content(1) }).collect();
        new.push(NewCase { code: codes[700], content: content(1) });
        let permit = Permit::<ImportFiles>::for_operator("test");
        registry.store.write_blocking(permit, move |session| session.save_new_cases(new)).unwrap_err();
        assert_eq!(registry.raw().count(events), codes.len() as u64);
        assert_eq!(registry.raw().count("case_revision"), codes.len() as u64);
    }

    fn the_history_tells_who_when_what_and_why(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        for (revision, number) in [(1, 10), (2, 11), (3, 12)] {
            registry.hand.advance(60);
            let reason = format!("correction {revision}").parse().unwrap();
            let change = Change { code, expected_revision: revision, content: content(number), reason };
            let permit = Permit::<ChangeCase>::for_operator("correction by hand");
            registry.store.write_blocking(permit, move |session| session.change_case(change)).unwrap();
        }
        let permit = Permit::<ReadHistory>::for_operator("test");
        let history = registry.store.read_blocking(permit, move |session| session.case_history(code)).unwrap();
        let numbers: Vec<String> = history.revisions.iter().map(|row| row.content.record.clone()).collect();
        let expected: Vec<String> = [0, 10, 11, 12].iter().map(|number| content(*number).record).collect();
        assert_eq!(numbers, expected);
        let last = history.trail.last().unwrap();
        assert_eq!((last.event.deed, last.event.subject, last.event.revision), (Deed::CaseChanged, Subject::Case, Some(4)));
        assert_eq!(last.event.before, Some(json!({ "number": 11 })));
        assert_eq!(last.event.after, Some(json!({ "number": 12 })));
        assert_eq!(last.event.reason.as_deref(), Some("correction 3"));
        assert_eq!(last.at.to_string(), "2026-11-25T09:03:00.000Z");
        assert_eq!((last.role.as_str(), last.request_id.as_str()), ("operator", "correction by hand"));

        // Who reads the whole trail sees that it happened, but no clinical value.
        let seen = registry.audit().into_iter().find(|row| row.seq == last.seq).unwrap();
        assert_eq!((seen.event.before, seen.event.after), (None, None));
    }

    fn a_clock_that_went_back_is_noted_and_order_comes_from_seq(registry) {
        registry.centre("S07");
        registry.hand.advance(-7_200);
        registry.centre("S08");
        registry.centre("S09");
        let deeds: Vec<Deed> = registry.audit().iter().rev().map(|row| row.event.deed).collect();
        let created = Deed::CentreCreated;
        assert_eq!(deeds, [created, Deed::ClockWentBack, created, created]);
    }
}
