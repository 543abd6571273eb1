//! Cases: checked, submitted, read, listed, changed, followed up.

use crate::network::{central, change, code, coordinator, only_mend, other, submit, submitted, text};
use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CaseCode;
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

fn zero(changes: Value) -> Value {
    sample::with(sample::zero_fluoroscopy_case(), changes)
}

on_both_stores! {
    fn a_check_tells_everything_and_stores_nothing(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let check = |case: &Value| member.send(&Asked::new("POST", "/cases/check").json(case)).expect(200).json();
        let fine = check(&sample::zero_fluoroscopy_case());
        assert_eq!(fine, json!({ "acceptable": true, "findings": [] }));
        let odd = check(&zero(json!({ "fluoro_used": "planned_used", "sex": "q" })));
        assert_eq!(odd["acceptable"], false);
        let places: Vec<&str> = odd["findings"].as_array().unwrap().iter().map(|one| one["pointer"].as_str().unwrap()).collect();
        assert!(places.contains(&"/sex"), "{odd}");
        assert!(odd["findings"].as_array().unwrap().iter().all(|one| one["sentence"].as_str().unwrap().len() > 20), "{odd}");
        assert_eq!(member.get("/cases").expect(200).json()["items"], json!([]));
        assert_eq!(registry.raw().count("case_code"), 0);
    }

    fn a_case_is_submitted_and_read_with_what_the_rules_derive(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let answer = submit(&member, &sample::case_with_tamponade());
        let code = code(&answer);
        assert!(code.parse::<CaseCode>().is_ok());
        assert_eq!(answer.header("location"), Some(format!("/api/v1/cases/{code}").as_str()));
        assert_eq!(answer.etag(), "\"r1\"");
        let made = answer.json();
        assert_eq!((made["centre"].as_str(), made["revision"].as_i64()), (Some("S07"), Some(1)));
        assert_eq!(text(&made, "record_hash").len(), 64);

        let answer = member.get(&format!("/cases/{code}")).expect(200);
        assert_eq!(answer.etag(), "\"r1\"");
        assert_eq!(answer.header("cache-control"), Some("no-store"));
        let seen = answer.json();
        assert_eq!(seen["record"]["complications"][0]["ae_code"], "tamponade");
        assert_eq!(seen["record"]["age_band"], "60_69");
        assert_eq!(seen["at"], "2026-11-25T09:00:00.000Z");
        assert!(seen["derived"].is_object(), "{seen}");
        let lower = member.get(&format!("/cases/{}", code.to_lowercase())).expect(200).json();
        assert_eq!(lower["code"], seen["code"]);
    }

    fn what_must_be_mended_is_told_field_by_field_and_not_repeated(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let refused = |case: &Value| member.post("/cases", case).problem(422, "must_be_mended");
        let problem = refused(&zero(json!({ "sex": "canary-7391", "bmi": 900 })));
        assert!(!problem.to_string().contains("canary-7391"), "{problem}");
        let places: Vec<String> = Answer::mends(&problem).into_iter().map(|(place, _)| place).collect();
        assert!(places.contains(&"/sex".to_owned()) && places.contains(&"/bmi".to_owned()), "{problem}");
        assert_eq!(only_mend(&refused(&zero(json!({ "shoe_size": 43 })))).0, "/shoe_size");
        for identifying in ["mrn", "date_of_birth", "name"] {
            let problem = refused(&zero(json!({ identifying: "x" })));
            assert_eq!(Answer::mends(&problem)[0].0, format!("/{identifying}"), "{problem}");
        }
        let nested = refused(&zero(json!({ "follow_up": { "fu30_status": "contacted", "fu30_day": 33, "fu30_no_events": "yes", "death": "no", "mrn": "1" } })));
        assert!(Answer::mends(&nested).contains(&("/follow_up/mrn".to_owned(), "identifier_field".to_owned())), "{nested}");
        for wrong in [json!({}), json!([]), json!(null), json!("case"), json!(7)] {
            refused(&wrong);
        }
        assert_eq!(registry.raw().count("case_revision"), 0);
    }

    fn a_zero_fluoroscopy_case_says_so_in_full(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let refused = |changes: Value| member.post("/cases", &zero(changes)).problem(422, "must_be_mended");
        refused(json!({ "fluoro_used": "planned_used" }));
        refused(json!({ "fluoro_time": 30, "fluoro_time_unit": "s" }));
        refused(json!({ "air_kerma": 4, "air_kerma_unit": "mGy" }));
        refused(json!({ "age_band": 95 }));
        refused(json!({ "period": "2025-07-01" }));
        refused(json!({ "period": "2027Q1" }));
        refused(json!({ "case_code": "12345678" }));
        let conventional = sample::conventional_case();
        for changes in [json!({ "air_kerma_unit": "mSv" }), json!({ "kap_unit": "mGy/cm2" }), json!({ "air_kerma": "25,2 Gy" })] {
            member.post("/cases", &sample::with(conventional.clone(), changes)).problem(422, "must_be_mended");
        }
    }

    fn the_centre_comes_from_the_sign_in(registry) {
        let served = Served::new(registry);
        let (member, outsider) = (coordinator(&served), other(&served));
        let case = zero(json!({ "centre": "S08" }));
        assert_eq!(only_mend(&member.post("/cases", &case).problem(422, "must_be_mended")).0, "/centre");
        member.post("/cases?centre=S08", &sample::zero_fluoroscopy_case()).problem(404, "not_found");
        member.post("/cases?centre=nowhere", &sample::zero_fluoroscopy_case()).problem(400, "bad_query");
        // A code that was issued to one centre is no code for another.
        let issued = member.post("/centres/S07/case-codes", &json!({ "number": 1 })).expect(201).json();
        let own = zero(json!({ "case_code": issued["codes"][0] }));
        outsider.post("/cases", &own).problem(404, "not_found");
        assert_eq!(json!(code(&submit(&member, &own))), issued["codes"][0]);
        member.post("/cases", &own).problem(409, "taken");
    }

    fn a_member_of_two_centres_names_the_centre(registry) {
        let served = Served::new(registry);
        let centres = [registry.centre("S07"), registry.centre("S08")];
        let member = served.member("both", Role::CentreLead, &centres);
        member.post("/cases", &sample::zero_fluoroscopy_case()).problem(400, "bad_query");
        let made = member.post("/cases?centre=S08", &sample::zero_fluoroscopy_case()).expect(201).json();
        assert_eq!(made["centre"], "S08");
        assert_eq!(member.get("/cases?centre=S07").expect(200).json()["items"], json!([]));
    }

    fn a_change_needs_the_version_read_and_a_reason(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let path = format!("/cases/{}", submitted(&member));
        let heavier = zero(json!({ "bmi": 28.4 }));
        for silent in ["", "  ", "ab", &"x".repeat(501), "two\nlines"] {
            let problem = member.put(&path, "\"r1\"", &change(&heavier, silent)).problem(422, "must_be_mended");
            assert_eq!(only_mend(&problem), ("/reason".to_owned(), "reason_required".to_owned()), "{problem}");
        }
        member.put(&path, "\"r1\"", &json!({ "case": heavier })).problem(422, "must_be_mended");
        member.put(&path, "\"r1\"", &change(&heavier, "Mr John Smith 12/03/1961 called 555-0199")).problem(422, "must_be_mended");
        let changed = member.put(&path, "\"r1\"", &change(&heavier, "weighed again")).expect(200);
        assert_eq!(changed.etag(), "\"r2\"");
        assert_eq!(member.get(&path).expect(200).json()["record"]["bmi"], 28.4);
        let problem = member.put(&path, "\"r2\"", &change(&zero(json!({ "sex": "q" })), "typing error")).problem(422, "must_be_mended");
        assert_eq!(only_mend(&problem).0, "/sex");
        let other_code = registry.codes("S07".parse().unwrap(), 1)[0];
        let problem = member.put(&path, "\"r2\"", &change(&zero(json!({ "case_code": other_code })), "other code")).problem(422, "must_be_mended");
        assert_eq!(only_mend(&problem).0, "/case/case_code");
    }

    fn the_history_holds_every_value_in_order(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let path = format!("/cases/{}", submitted(&member));
        for (revision, weight) in [(1, 28.1), (2, 28.2), (3, 28.3)] {
            registry.hand.advance(60);
            let body = change(&zero(json!({ "bmi": weight })), &format!("weighing number {revision}"));
            member.put(&path, &format!("\"r{revision}\""), &body).expect(200);
        }
        let monitor = central(&served, Role::Monitor);
        let history = monitor.get(&format!("{path}/history")).expect(200).json();
        let revisions = history["revisions"].as_array().unwrap();
        let weights: Vec<&Value> = revisions.iter().map(|one| &one["record"]["bmi"]).collect();
        assert_eq!(json!(weights), json!([27.4, 28.1, 28.2, 28.3]));
        let reasons: Vec<&Value> = revisions.iter().map(|one| &one["reason"]).collect();
        assert_eq!(json!(reasons), json!([null, "weighing number 1", "weighing number 2", "weighing number 3"]));
        assert_eq!(revisions[3]["at"], "2026-11-25T09:03:00.000Z");
        let me = member.get("/me").expect(200).json();
        assert!(revisions.iter().all(|one| one["by"] == me["id"]), "{history}");
        let deeds: Vec<&Value> = history["trail"].as_array().unwrap().iter().map(|one| &one["deed"]).collect();
        assert_eq!(json!(deeds), json!(["case_submitted", "case_changed", "case_changed", "case_changed"]));
    }

    fn follow_up_is_added_freely_and_changed_with_a_reason(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let made = submit(&member, &zero(json!({ "follow_up": null })));
        let path = format!("/cases/{}", code(&made));
        let seen = sample::zero_fluoroscopy_case()["follow_up"].clone();
        let record = |etag: &str, body: &Value| member.put(&format!("{path}/follow-up"), etag, body);
        assert_eq!(record("\"r1\"", &json!({ "follow_up": seen })).expect(200).etag(), "\"r2\"");
        let later = sample::with(seen, json!({ "fu30_day": 35 }));
        let problem = record("\"r2\"", &json!({ "follow_up": later })).problem(422, "must_be_mended");
        assert_eq!(only_mend(&problem), ("/reason".to_owned(), "reason_required".to_owned()));
        record("\"r2\"", &json!({ "follow_up": later, "reason": "day was misread" })).expect(200);
        let contradiction = json!({ "fu30_status": "lost", "fu30_no_events": "yes" });
        record("\"r3\"", &json!({ "follow_up": contradiction, "reason": "lost after all" })).problem(422, "must_be_mended");
        let record = member.get(&path).expect(200).json();
        assert_eq!(record["record"]["follow_up"]["fu30_day"], 35);
        let history = member.get(&format!("{path}/history")).expect(200).json();
        assert_eq!(history["revisions"][1]["reason"], "follow-up added");
    }
}
