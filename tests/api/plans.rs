//! Analysis plans: registered, amended, carried out.

use crate::network::{central, coordinator, submit};
use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::plan::plan;
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Sends, Served};
use serde_json::json;

on_both_stores! {
    fn a_plan_is_registered_with_what_was_known_by_then(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        let before = investigator.post("/plans", &plan()).expect(201).json();
        assert_eq!((&before["number"], &before["version"]), (&json!(1), &json!(1)));
        assert_eq!((&before["cases_before"], &before["comparisons_before"]), (&json!(0), &json!(0)));
        assert_eq!(before["plan"], plan());
        assert_eq!(before["always"].as_array().unwrap().len(), 6);
        submit(&member, &zero_fluoroscopy_case());
        submit(&member, &conventional_case());
        let cut = investigator.post("/data-cuts", &json!({ "name": "first look" })).expect(201).json();
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        investigator.post(&path, &json!({})).expect(201);
        let after = investigator.post("/plans", &plan()).expect(201).json();
        assert_eq!((&after["number"], &after["version"]), (&json!(2), &json!(1)));
        assert_eq!((&after["cases_before"], &after["comparisons_before"]), (&json!(2), &json!(1)));
        assert_eq!(after["plan_hash"], before["plan_hash"]);
        let of_monitor = central(&served, Role::Monitor).get("/plans").expect(200).json();
        assert_eq!(of_monitor["items"], json!([after, before]));
        let deeds: Vec<Deed> = registry.audit().into_iter().map(|row| row.event.deed).collect();
        assert_eq!(deeds.iter().filter(|deed| **deed == Deed::PlanRegistered).count(), 2);
    }

    fn what_must_be_mended_is_named_all_at_once_and_nothing_is_kept(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        let mut wrong = plan();
        wrong["endpoints"][0]["worse_when"] = json!("higher");
        wrong["endpoints"][1]["reason"] = json!("");
        wrong["covariates"] = json!(["shoe_size"]);
        let problem = investigator.post("/plans", &wrong).problem(422, "must_be_mended");
        let pointers: Vec<String> = Answer::mends(&problem).into_iter().map(|(pointer, _)| pointer).collect();
        assert_eq!(pointers, ["/covariates/0", "/endpoints/0/worse_when", "/endpoints/1/reason"]);
        let mut named = plan();
        named["question"] = json!("Is Mrs Margaret Okonkwo-Larsen no worse without fluoroscopy?");
        let problem = investigator.post("/plans", &named).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/question");
        let mut unknown = plan();
        unknown["p_value"] = json!(0.4);
        investigator.post("/plans", &unknown).expect(422);
        assert_eq!(investigator.get("/plans").expect(200).json()["items"], json!([]));
    }

    fn a_margin_may_be_a_ratio_and_is_decided_by_one(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        let mut asked = plan();
        let endpoint = &mut asked["endpoints"][0];
        (endpoint["scale"], endpoint["margin"]) = (json!("risk_ratio"), json!(1.5));
        let problem = investigator.post("/plans", &asked).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/endpoints/0/worse_when");
        let mut beyond = asked.clone();
        (beyond["endpoints"][0]["margin"], beyond["endpoints"][0]["expected"]) = (json!(3), json!(0.6));
        beyond["endpoints"][0]["worse_when"] = json!("higher");
        let refused = investigator.post("/plans", &beyond).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&refused)[0].0, "/endpoints/0/margin", "{refused}");
        let said = "a ratio of failure to reach acute success is worse when it is higher";
        assert!(problem.to_string().contains(said), "{problem}");
        asked["endpoints"][0]["worse_when"] = json!("higher");
        let registered = investigator.post("/plans", &asked).expect(201).json();
        assert_eq!(registered["plan"], asked);
        for _ in 0..3 {
            submit(&member, &zero_fluoroscopy_case());
            submit(&member, &conventional_case());
        }
        let cut = investigator.post("/data-cuts", &json!({ "name": "first" })).expect(201).json();
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        let result = investigator.post(&path, &json!({ "plan": registered["id"] })).expect(201).json()["result"].clone();
        let found = &result["endpoints"][0];
        assert_eq!((&found["margin"], &found["scale"]), (&json!(1.5), &json!("risk_ratio")));
        assert!(found["claim_in_words"].as_str().unwrap().contains("less than 1.5 times as frequent as"), "{found}");
        let other = &result["endpoints"][1];
        assert_eq!((&other["margin"], &other["scale"]), (&json!(0.01), &json!("risk_difference")));
    }

    fn strata_finer_than_a_centre_are_registered_and_carried_out(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        let mut asked = plan();
        (asked["method"], asked["covariates"]) = (json!("within_centres"), json!([]));
        asked["strata"] = json!("site");
        let problem = investigator.post("/plans", &asked).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/strata");
        assert!(problem.to_string().contains("centre, centre_and_procedure_group"), "{problem}");
        asked["strata"] = json!("centre_and_procedure_group");
        let registered = investigator.post("/plans", &asked).expect(201).json();
        assert_eq!(registered["plan"], asked);
        for _ in 0..2 {
            submit(&member, &zero_fluoroscopy_case());
            submit(&member, &conventional_case());
        }
        let cut = investigator.post("/data-cuts", &json!({ "name": "first" })).expect(201).json();
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        let result = investigator.post(&path, &json!({ "plan": registered["id"] })).expect(201).json()["result"].clone();
        let within = &result["endpoints"][0]["as_intended"]["crude"]["difference"]["estimated"]["within_centres"];
        let counted = &within["estimated"];
        let strata = |name: &str| counted[name].as_u64().unwrap_or_else(|| panic!("{within}"));
        assert_eq!(strata("strata_used") + strata("strata_left_out"), 1, "{within}");
    }

    fn types_and_ages_are_named_and_an_amendment_sets_them_side_by_side(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        let older = investigator.post("/plans", &plan()).expect(201).json();
        let mut narrow = plan();
        narrow["eligibility"] = json!({
            "procedure_groups": ["af_first"], "procedures": ["cti_afl"], "age_bands": ["60_69", "70_79"],
            "exclude": ["epicardial", "congenital"],
        });
        let first = investigator.post("/plans", &narrow).expect(201).json();
        assert_eq!(first["plan"], narrow);
        assert_ne!(first["plan_hash"], older["plan_hash"]);
        narrow["eligibility"]["age_bands"] = json!(["70_79"]);
        let body = json!({ "reason": "Older patients are what is asked.", "plan": narrow });
        let amended = format!("/plans/{}/amendments", first["id"].as_str().unwrap());
        let second = investigator.post(&amended, &body).expect(201).json();
        let change = &second["changes"][0];
        assert_eq!(change["pointer"], "/eligibility/age_bands", "{second}");
        assert_eq!((&change["before"], &change["after"]), (&json!(["60_69", "70_79"]), &json!(["70_79"])));
        let twice = json!({ "procedure_groups": ["flutter"], "procedures": ["cti_afl", "diag_only"], "exclude": [] });
        let mut wrong = plan();
        wrong["eligibility"] = twice;
        let problem = investigator.post("/plans", &wrong).problem(422, "must_be_mended");
        let pointers: Vec<String> = Answer::mends(&problem).into_iter().map(|(pointer, _)| pointer).collect();
        assert_eq!(pointers, ["/eligibility/procedures", "/eligibility/procedures"]);
    }

    fn an_amendment_is_a_further_version_that_tells_what_changed(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        let first = investigator.post("/plans", &plan()).expect(201).json();
        let path = format!("/plans/{}/amendments", first["id"].as_str().unwrap());
        let amendment = |changed: &serde_json::Value, reason: &str| json!({ "plan": changed, "reason": reason });
        let mut narrower = plan();
        narrower["endpoints"][0]["margin"] = json!(0.02);
        investigator.post(&path, &amendment(&narrower, " ")).problem(422, "must_be_mended");
        let problem = investigator.post(&path, &amendment(&plan(), "nothing to change")).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/plan");
        let second = investigator.post(&path, &amendment(&narrower, "The group agreed on less.")).expect(201).json();
        assert_eq!((&second["number"], &second["version"]), (&json!(1), &json!(2)));
        assert_eq!(second["changes"], json!([{ "pointer": "/endpoints/0/margin", "before": 0.03, "after": 0.02 }]));
        assert_eq!(investigator.get(&format!("/plans/{}", first["id"].as_str().unwrap())).expect(200).json(), first);
        let mut raw = registry.raw();
        for statement in ["UPDATE analysis_plan SET content = '{}'", "DELETE FROM analysis_plan"] {
            let error = raw.run(statement).expect_err(statement);
            assert!(error.contains("append-only"), "{statement}: {error}");
        }
    }

    fn a_plan_is_carried_out_and_stands_in_the_result(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        let registered = investigator.post("/plans", &plan()).expect(201).json();
        let id = registered["id"].as_str().unwrap();
        for _ in 0..3 {
            submit(&member, &zero_fluoroscopy_case());
            submit(&member, &conventional_case());
        }
        let cut = investigator.post("/data-cuts", &json!({ "name": "first look" })).expect(201).json();
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        let result = investigator.post(&path, &json!({ "plan": id })).expect(201).json()["result"].clone();
        assert_eq!(result["registered"]["plan_hash"], registered["plan_hash"]);
        assert_eq!(result["fully_prespecified"], true);
        assert_eq!(result["plan"], plan());
        assert_eq!(result["cases"]["as_intended"], json!({ "zero_fluoroscopy": 3, "conventional": 3 }));
        assert_eq!(result["endpoints"].as_array().unwrap().len(), 2);
        registry.hand.advance(60);
        let late = investigator.post("/plans", &plan()).expect(201).json();
        let result = investigator.post(&path, &json!({ "plan": late["id"] })).expect(201).json()["result"].clone();
        assert_eq!(result["fully_prespecified"], false);
        assert_eq!(result["registered"]["cut_taken_before"], true);
        let both = json!({ "plan": id, "success_margin": 0.1 });
        let problem = investigator.post(&path, &both).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/plan");
        investigator.post(&path, &json!({ "plan": "1" })).problem(422, "must_be_mended");
        let never = "0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b";
        investigator.post(&path, &json!({ "plan": never })).problem(404, "not_found");
    }

    fn a_comparison_is_computed_again_by_those_who_may_take_rows_out(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        let registered = investigator.post("/plans", &plan()).expect(201).json();
        submit(&member, &zero_fluoroscopy_case());
        submit(&member, &conventional_case());
        let cut = investigator.post("/data-cuts", &json!({ "name": "first look" })).expect(201).json();
        let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
        let kit_of = |question: serde_json::Value| {
            let made = investigator.post(&path, &question).expect(201).json();
            format!("/comparisons/{}/recheck", made["id"].as_str().unwrap())
        };
        let kit = kit_of(json!({ "plan": registered["id"] }));
        let answer = investigator.get(&kit).expect(200);
        assert_eq!(answer.header("content-type"), Some("application/zip"));
        let mut archive = zip::ZipArchive::new(std::io::Cursor::new(answer.body())).unwrap();
        for name in ["README.txt", "recheck.R", "counts.csv", "patterns-acute_success-as_intended.csv"] {
            assert!(archive.by_name(name).is_ok(), "{name}");
        }
        let notes: Vec<_> = registry.audit().into_iter().filter(|row| row.event.deed == Deed::RowsExported).collect();
        assert_eq!(notes.len(), 1, "taken out as rows are");
        assert_eq!(notes[0].event.after.as_ref().unwrap()["rows"], 2);
        central(&served, Role::Monitor).get(&kit).problem(403, "not_allowed");
        // Without a plan there is nothing to compute again.
        investigator.get(&kit_of(json!({}))).problem(404, "not_found");
    }
}
