//! Data cuts and comparisons.

use crate::network::{central, coordinator, submit};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

fn take(investigator: &SignedIn<'_>, name: &str) -> Value {
    investigator.post("/data-cuts", &json!({ "name": name })).expect(201).json()
}

on_both_stores! {
    fn a_cut_holds_what_stood_there_and_no_later_case(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        investigator.post("/data-cuts", &json!({ "name": "too early" })).problem(409, "illegal_step");
        submit(&member, &zero_fluoroscopy_case());
        let first = take(&investigator, "first look");
        assert_eq!(first["cases"], 1);
        submit(&member, &conventional_case());
        let second = take(&investigator, "second look");
        assert_eq!(second["cases"], 2);
        assert_ne!(first["content_hash"], second["content_hash"]);
        let read = investigator.get(&format!("/data-cuts/{}", first["id"].as_str().unwrap())).expect(200).json();
        assert_eq!(read, first);
        investigator.post("/data-cuts", &json!({ "name": "first look" })).problem(409, "taken");
        for wrong in ["", "ask jane@example.org", &"x".repeat(200)] {
            let problem = investigator.post("/data-cuts", &json!({ "name": wrong })).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, "/name");
        }
        assert_eq!(central(&served, Role::Monitor).get("/data-cuts").expect(200).json()["items"].as_array().unwrap().len(), 2);
    }

    fn a_comparison_carries_the_cut_the_software_and_the_caution(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for _ in 0..3 {
            submit(&member, &zero_fluoroscopy_case());
            submit(&member, &conventional_case());
        }
        let investigator = central(&served, Role::Investigator);
        let cut = take(&investigator, "first look");
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        let made = investigator.post(&path, &json!({ "success_margin": 0.05, "major_harm_margin": 0.02 })).expect(201);
        let location = made.header("location").unwrap().trim_start_matches("/api/v1").to_owned();
        let result = made.json();
        assert_eq!(result["result"]["data_cut_hash"], cut["content_hash"]);
        assert!(result["software"].as_str().unwrap().starts_with("quietbeam "));
        assert_eq!(result["result"]["cases"]["in_cohort"], 6);
        assert!(!result["result"]["cautions"].as_array().unwrap().is_empty());
        let monitor = central(&served, Role::Monitor);
        assert_eq!(monitor.get(&location).expect(200).json(), result);
        assert_eq!(monitor.get(&path).expect(200).json()["items"], json!([result]));
    }

    fn margins_that_cannot_be_meant_are_refused(registry) {
        let served = Served::new(registry);
        submit(&coordinator(&served), &zero_fluoroscopy_case());
        let investigator = central(&served, Role::Investigator);
        let cut = take(&investigator, "first look");
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        for (field, value) in [
            ("success_margin", json!(3)),
            ("success_margin", json!(0)),
            ("success_margin", json!("0.03")),
            ("major_harm_margin", json!(-0.01)),
            ("level", json!(95)),
            ("procedure_groups", json!([])),
            ("procedure_groups", json!(["hearts"])),
            ("margin", json!(0.03)),
        ] {
            let problem = investigator.post(&path, &json!({ field: value })).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, format!("/{field}"), "{problem}");
        }
        // Points typed for a proportion: the sentence says what was probably meant.
        let points = investigator.post(&path, &json!({ "success_margin": 3 })).problem(422, "must_be_mended");
        let sentence = points["errors"][0]["sentence"].as_str().unwrap();
        assert!(sentence.contains("300 %") && sentence.contains("write 0.03"), "{sentence}");
        assert_eq!(registry.raw().count("comparison"), 0);
    }

    fn only_investigators_look_by_strategy_and_nobody_past_a_cut(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        submit(&member, &zero_fluoroscopy_case());
        let investigator = central(&served, Role::Investigator);
        let cut = take(&investigator, "first look");
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        let society = central(&served, Role::Society);
        for caller in [&member, &society, &central(&served, Role::Monitor), &central(&served, Role::Administrator)] {
            caller.post(&path, &json!({})).problem(403, "not_allowed");
        }
        society.get(&path).problem(403, "not_allowed");
        member.get("/data-cuts").problem(403, "not_allowed");
        let never = "/data-cuts/01900000-0000-7000-8000-000000000000";
        investigator.get(never).problem(404, "not_found");
        investigator.post(&format!("{never}/comparisons"), &json!({})).problem(404, "not_found");
        investigator.get(&format!("{never}/comparisons")).problem(404, "not_found");
        let asked = Asked::new("GET", "/comparisons/not-an-identifier");
        investigator.send(&asked).problem(404, "not_found");
    }
}
