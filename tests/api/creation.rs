//! Creation that is repeated: one thing is made, and every repetition gets the first answer.

use crate::network::{central, coordinator};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};
use std::thread;

fn create(member: &SignedIn<'_>, path: &str, key: &str, body: &Value) -> Answer {
    member.send(&Asked::new("POST", path).header("idempotency-key", key).json(body))
}

fn cases(member: &SignedIn<'_>) -> usize {
    member.get("/cases").expect(200).json()["items"].as_array().unwrap().len()
}

on_both_stores! {
    fn the_same_request_again_gets_the_same_answer(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let first = create(&member, "/cases", "one-key-1", &zero_fluoroscopy_case()).expect(201);
        let trail = registry.audit().len();
        let again = create(&member, "/cases", "one-key-1", &zero_fluoroscopy_case()).expect(201);
        assert_eq!(again.json(), first.json());
        assert_eq!(again.header("location"), first.header("location"));
        assert_eq!(again.etag(), first.etag());
        assert_eq!(cases(&member), 1);
        assert_eq!(registry.audit().len(), trail);
    }

    fn the_same_key_with_another_body_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        create(&member, "/cases", "one-key-1", &zero_fluoroscopy_case()).expect(201);
        create(&member, "/cases", "one-key-1", &conventional_case()).problem(422, "idempotency_key_reused");
        create(&member, "/cases?centre=S07", "one-key-1", &zero_fluoroscopy_case()).problem(422, "idempotency_key_reused");
        assert_eq!(cases(&member), 1);
    }

    fn a_key_serves_one_member_and_one_route(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let lead = served.member("lead.s07", Role::CentreLead, &["S07".parse().unwrap()]);
        create(&member, "/cases", "one-key-1", &zero_fluoroscopy_case()).expect(201);
        create(&lead, "/cases", "one-key-1", &zero_fluoroscopy_case()).expect(201);
        create(&member, "/centres/S07/case-codes", "one-key-1", &json!({ "number": 1 })).expect(201);
        assert_eq!(cases(&member), 2);
    }

    fn what_was_refused_can_be_mended_under_the_same_key(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        create(&member, "/cases", "one-key-1", &json!({})).problem(422, "must_be_mended");
        create(&member, "/cases", "one-key-1", &zero_fluoroscopy_case()).expect(201);
    }

    fn every_creation_asks_for_a_key(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let monitor = central(&served, Role::Monitor);
        let investigator = central(&served, Role::Investigator);
        let administrator = central(&served, Role::Administrator);
        for (caller, path) in [
            (&member, "/cases"),
            (&member, "/centres/S07/case-codes"),
            (&monitor, "/queries"),
            (&investigator, "/data-cuts"),
            (&investigator, "/data-cuts/01900000-0000-7000-8000-000000000000/comparisons"),
            (&administrator, "/members"),
            (&administrator, "/centres"),
        ] {
            caller.send(&Asked::new("POST", path).json(&json!({}))).problem(400, "idempotency_key_required");
            for wrong in ["short", "with space in it", &"x".repeat(129)] {
                create(caller, path, wrong, &json!({})).problem(400, "bad_header");
            }
        }
    }

    /// The lost answer of a slow network, sent again by ten impatient clients at once.
    fn of_ten_equal_requests_at_once_one_creates(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let answers: Vec<Answer> = thread::scope(|scope| {
            let sent: Vec<_> = (0..10)
                .map(|_| scope.spawn(|| create(&member, "/cases", "one-key-1", &zero_fluoroscopy_case())))
                .collect();
            sent.into_iter().map(|sent| sent.join().unwrap()).collect()
        });
        let made: Vec<Value> = answers.iter().filter(|answer| answer.status == 201).map(Answer::json).collect();
        assert!(!made.is_empty() && made.iter().all(|one| *one == made[0]), "{made:?}");
        assert!(answers.iter().all(|answer| matches!(answer.status, 201 | 409)), "{answers:?}");
        assert_eq!(cases(&member), 1);
        assert_eq!(create(&member, "/cases", "one-key-1", &zero_fluoroscopy_case()).expect(201).json(), made[0]);
    }

    fn an_answer_is_kept_for_a_day(registry) {
        let served = Served::new(registry);
        coordinator(&served);
        let first = create(&served.sign_in("coordinator.s07"), "/cases", "one-key-1", &zero_fluoroscopy_case());
        registry.hand.advance(24 * 3600 - 60);
        let again = create(&served.sign_in("coordinator.s07"), "/cases", "one-key-1", &zero_fluoroscopy_case());
        assert_eq!(again.json(), first.json());
        registry.hand.advance(120);
        let new = create(&served.sign_in("coordinator.s07"), "/cases", "one-key-1", &zero_fluoroscopy_case());
        assert_ne!(new.json(), first.json());
    }
}
