//! The same request twice writes once.

use std::thread;

use quietbeam::access::Permit;
use quietbeam::access::action::SubmitCase;
use quietbeam::store::{Conflict, NewCase, Refused, RequestKey, Session, StoreError, StoredReply, Writing};
use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::content;

fn key(fingerprint: &str) -> RequestKey {
    RequestKey {
        route: "POST /api/v1/cases".to_owned(),
        key: "4f1c".to_owned(),
        fingerprint: fingerprint.to_owned(),
    }
}

/// What a handler does: give the old reply, or write and keep the new one.
fn submit(
    session: &mut Session<'_, SubmitCase, Writing>,
    centre: CentreCode,
    request: &RequestKey,
) -> Result<StoredReply, StoreError> {
    if let Some(reply) = session.recall(request)? {
        return Ok(reply);
    }
    let code = session.issue_case_codes(centre, 1)?[0];
    session.save_new_case(NewCase { code, content: content(1) })?;
    let reply = StoredReply { status: 201, body: code.to_string() };
    session.remember(request, &reply)?;
    Ok(reply)
}

on_both_stores! {
    fn the_second_request_gets_the_first_reply(registry) {
        let centre = registry.centre("S07");
        let send = |fingerprint: &'static str| {
            let permit = Permit::<SubmitCase>::for_operator("test");
            registry.store.write_blocking(permit, move |session| submit(session, centre, &key(fingerprint)))
        };
        let first = send("one body").unwrap();
        assert_eq!(send("one body").unwrap(), first);
        assert!(matches!(send("another body"), Err(StoreError::Refused(Refused::KeyReused))));
        assert_eq!(registry.raw().count("case_revision"), 1);

        registry.hand.advance(24 * 60 * 60);
        assert_ne!(send("another body").unwrap(), first);
        assert_eq!(registry.raw().count("idempotency"), 1);
    }

    fn equal_requests_at_once_write_one_case(registry) {
        let centre = registry.centre("S07");
        let results: Vec<_> = thread::scope(|scope| {
            let requests: Vec<_> = (0..8)
                .map(|_| {
                    scope.spawn(move || {
                        let permit = Permit::<SubmitCase>::for_operator("test");
                        registry.store.write_blocking(permit, move |session| submit(session, centre, &key("body")))
                    })
                })
                .collect();
            requests.into_iter().map(|request| request.join().unwrap()).collect()
        });
        assert_eq!(registry.raw().count("case_revision"), 1);
        assert!(results.iter().any(Result::is_ok));
        for result in results {
            match result {
                Ok(reply) => assert_eq!(reply.status, 201),
                Err(error) => assert!(matches!(error, StoreError::Conflict(Conflict::Race)), "{error}"),
            }
        }
    }

    fn a_key_belongs_to_whoever_sent_it(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("first", Role::Coordinator, &[centre]);
        desk.member("second", Role::Coordinator, &[centre]);
        for (name, body) in [("first", "one body"), ("second", "another body")] {
            let permit = desk.caller(name).permit::<SubmitCase>().unwrap();
            registry.store.write_blocking(permit, move |session| submit(session, centre, &key(body))).unwrap();
        }
        assert_eq!(registry.raw().count("case_revision"), 2);
    }

    fn a_failed_write_keeps_no_reply(registry) {
        let centre = registry.centre("S07");
        let permit = || Permit::<SubmitCase>::for_operator("test");
        let failed: Result<(), StoreError> = registry.store.write_blocking(permit(), move |session| {
            submit(session, centre, &key("body"))?;
            Err(StoreError::Absent("anything"))
        });
        failed.unwrap_err();
        assert_eq!(registry.raw().count("idempotency"), 0);
        assert_eq!(registry.raw().count("case_revision"), 0);
    }
}
