//! Creation that can be repeated safely.

use crate::network::{central, code, coordinator, text};
use quietbeam_schema::access::Role;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

fn create(person: &SignedIn<'_>, path: &str, key: &str, body: &Value) -> Answer {
    person.send(&Asked::new("POST", path).header("idempotency-key", key).json(body))
}

on_both_stores! {
    fn a_repetition_gets_the_first_answer_again(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let case = sample::zero_fluoroscopy_case();
        let first = create(&member, "/cases", "first-key", &case).expect(201);
        registry.hand.advance(60);
        let again = create(&member, "/cases", "first-key", &case).expect(201);
        assert_eq!(first.text(), again.text());
        assert_eq!((first.etag(), first.header("location")), (again.etag(), again.header("location")));
        assert_eq!(registry.raw().count("case_revision"), 1);
        assert_ne!(code(&create(&member, "/cases", "other-key", &case).expect(201)), code(&first));
    }

    fn the_same_key_for_another_request_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        create(&member, "/cases", "first-key", &sample::zero_fluoroscopy_case()).expect(201);
        create(&member, "/cases", "first-key", &sample::conventional_case()).problem(422, "idempotency_key_reused");
        create(&member, "/cases?centre=S07", "first-key", &sample::zero_fluoroscopy_case()).problem(422, "idempotency_key_reused");
        // A key belongs to one member and one route.
        create(&member, "/centres/S07/case-codes", "first-key", &json!({ "number": 1 })).expect(201);
        let colleague = served.member("colleague", Role::Coordinator, &["S07".parse().unwrap()]);
        create(&colleague, "/cases", "first-key", &sample::conventional_case()).expect(201);
        assert_eq!(registry.raw().count("case_revision"), 2);
    }

    fn what_was_refused_leaves_its_key_free(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let odd = sample::with(sample::zero_fluoroscopy_case(), json!({ "sex": "q" }));
        create(&member, "/cases", "first-key", &odd).problem(422, "must_be_mended");
        create(&member, "/cases", "first-key", &sample::zero_fluoroscopy_case()).expect(201);
    }

    fn each_creation_needs_a_key(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let (monitor, investigator) = (central(&served, Role::Monitor), central(&served, Role::Investigator));
        let (society, administrator) = (central(&served, Role::Society), central(&served, Role::Administrator));
        let nobody = "0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b";
        let comparisons = format!("/data-cuts/{nobody}/comparisons");
        for (person, path, body) in [
            (&member, "/cases", sample::zero_fluoroscopy_case()),
            (&member, "/centres/S07/case-codes", json!({ "number": 1 })),
            (&monitor, "/queries", json!({ "case_code": "23456789AB", "sentence": "Why?" })),
            (&investigator, "/plans", quietbeam_tests::plan::plan()),
            (&investigator, "/data-cuts", json!({ "name": "first" })),
            (&investigator, comparisons.as_str(), json!({})),
            (&society, "/summary-drafts", json!({ "data_cut": nobody })),
            (&administrator, "/centres", json!({ "code": "S11", "name": "House", "kind": "academic", "annual_volume": "200_499" })),
            (&administrator, "/members", json!({ "sign_in_name": "someone", "printed_name": "S", "role": "monitor", "password": PASSWORD })),
        ] {
            person.send(&Asked::new("POST", path).json(&body)).problem(400, "idempotency_key_required");
            for odd in ["", "short", "with space in it", &"k".repeat(129)] {
                create(person, path, odd, &body).problem(400, "bad_header");
            }
            let twice = Asked::new("POST", path).json(&body).header("idempotency-key", "key-number-1").header("idempotency-key", "key-number-2");
            person.send(&twice).problem(400, "bad_header");
        }
        assert_eq!(registry.raw().count("idempotency"), 0);
    }

    fn eight_repetitions_at_once_create_one_case(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let case = sample::zero_fluoroscopy_case();
        let answers: Vec<Answer> = std::thread::scope(|scope| {
            let jobs: Vec<_> = (0..8).map(|_| scope.spawn(|| create(&member, "/cases", "first-key", &case))).collect();
            jobs.into_iter().map(|job| job.join().unwrap()).collect()
        });
        let made: Vec<&Answer> = answers.iter().filter(|answer| answer.status == 201).collect();
        assert!(!made.is_empty());
        for answer in &answers {
            assert!(matches!(answer.status, 201 | 409), "{}", answer.text());
        }
        let codes: Vec<String> = made.iter().map(|answer| text(&answer.json(), "code")).collect();
        assert!(codes.iter().all(|code| *code == codes[0]), "{codes:?}");
        assert_eq!(registry.raw().count("case_revision"), 1);
        assert_eq!(create(&member, "/cases", "first-key", &case).expect(201).json()["code"], codes[0]);
    }
}
