//! Lists: filters, pages and cursors.

use crate::network::{central, code, coordinator, other, submit, submitted};
use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

/// Reads a list to its end, two rows at a time.
fn whole(person: &SignedIn<'_>, path: &str) -> Vec<Value> {
    let joint = if path.contains('?') { '&' } else { '?' };
    let (mut items, mut next) = (Vec::new(), String::new());
    loop {
        let page = person.get(&format!("{path}{joint}limit=2{next}")).expect(200).json();
        let rows = page["items"].as_array().unwrap();
        assert!(!rows.is_empty() && rows.len() <= 2, "{page}");
        items.extend(rows.iter().cloned());
        match page["next"].as_str() {
            Some(cursor) => next = format!("&cursor={cursor}"),
            None => return items,
        }
    }
}

on_both_stores! {
    fn pages_join_to_the_whole_list_newest_first(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let mut codes: Vec<String> = (0..5).map(|_| submitted(&member)).collect();
        codes.reverse();
        let listed: Vec<Value> = whole(&member, "/cases").into_iter().map(|case| case["code"].clone()).collect();
        assert_eq!(json!(listed), json!(codes));
        let administrator = central(&served, Role::Administrator);
        let trail = whole(&administrator, "/audit");
        let order: Vec<i64> = trail.iter().map(|event| event["seq"].as_i64().unwrap()).collect();
        assert!(order.is_sorted_by(|a, b| a > b) && order.len() > 5, "{order:?}");
        let of_cases = whole(&administrator, "/audit?subject=case");
        assert_eq!(of_cases.len(), 5);
        assert!(of_cases.iter().all(|event| event["after"] == Value::Null && event["before"] == Value::Null));
    }

    fn filters_narrow_a_list(registry) {
        let served = Served::new(registry);
        let (member, outsider) = (coordinator(&served), other(&served));
        submit(&member, &sample::zero_fluoroscopy_case());
        submit(&member, &sample::with(sample::conventional_case(), json!({ "period": "2025Q2" })));
        submit(&outsider, &sample::zero_fluoroscopy_case());
        let monitor = central(&served, Role::Monitor);
        for (query, expected) in [
            ("", 3),
            ("?centre=S07", 2),
            ("?centre=S99", 0),
            ("?period=2025Q2", 1),
            ("?strategy_intended=zero", 2),
            ("?strategy_intended=zero&centre=S08", 1),
            ("?procedure_group=svt", 0),
        ] {
            let items = monitor.get(&format!("/cases{query}")).expect(200).json()["items"].as_array().unwrap().len();
            assert_eq!(items, expected, "{query}");
        }
        for (field, query, allowed) in [
            ("/period", "period=%27%20OR%201%3D1%20--", "such as 2025Q3"),
            ("/procedure", "procedure=heart", "use one of: avnrt, avrt_ap"),
            ("/procedure_group", "procedure_group=heart", "use one of: svt, flutter"),
            ("/state", "state=locked", "use one of: submitted, queried"),
            ("/completeness", "completeness=half", "use one of: complete, something_left"),
            ("/open_query", "open_query=true", "use one of: yes, no"),
        ] {
            let refused = monitor.get(&format!("/cases?{query}&strategy_intended=zero")).problem(400, "bad_query");
            let error = &refused["errors"][0];
            assert_eq!(error["pointer"], field);
            assert!(error["sentence"].as_str().unwrap().contains(allowed), "{error}");
        }
    }

    fn cases_are_found_by_what_is_left_to_do(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let awaited = json!({ "follow_up": null });
        let pending = code(&submit(&member, &sample::with(sample::zero_fluoroscopy_case(), awaited)));
        let earlier = json!({ "period": "2025Q2" });
        let complete = code(&submit(&member, &sample::with(sample::zero_fluoroscopy_case(), earlier)));
        let monitor = central(&served, Role::Monitor);
        let question = json!({ "case_code": complete, "field": "/bmi", "sentence": "Is the weight right?" });
        let query = monitor.post("/queries", &question).expect(201).json()["id"].as_str().unwrap().to_owned();
        let listed = |query: &str| -> Vec<String> {
            let items = member.get(&format!("/cases{query}")).expect(200).json()["items"].clone();
            items.as_array().unwrap().iter().map(|case| case["code"].as_str().unwrap().to_owned()).collect()
        };
        let (only_pending, only_complete) = ([pending.clone()], [complete.clone()]);
        assert_eq!(listed("?completeness=complete"), only_complete);
        assert_eq!(listed("?completeness=something_left"), only_pending);
        assert_eq!(listed("?completeness=complete&period=2025Q3"), [""; 0]);
        assert_eq!(listed("?open_query=yes"), only_complete);
        assert_eq!(listed("?open_query=no&state=submitted"), only_pending);
        let procedure = sample::zero_fluoroscopy_case()["proc_primary"].as_str().unwrap().to_owned();
        assert_eq!(listed(&format!("?procedure={procedure}")).len(), 2);
        assert_eq!(listed("?procedure=vt_epi"), [""; 0]);
        // An answer waits for a look: nothing is open, and the case is still asked about.
        member.post(&format!("/queries/{query}/answer"), &json!({ "answer": "Weighed twice." })).expect(200);
        assert_eq!(listed("?open_query=yes"), [""; 0]);
        assert_eq!(listed("?state=queried"), only_complete);
        monitor.post(&format!("/queries/{query}/accept"), &json!({})).expect(200);
        assert_eq!(listed("?state=queried"), [""; 0]);
        // Who does not see the questions does not learn of them by asking for them.
        let investigator = central(&served, Role::Investigator);
        investigator.get("/cases?completeness=complete").expect(200);
        investigator.get("/cases?open_query=yes").problem(403, "not_allowed");
        investigator.get("/cases?state=queried").problem(403, "not_allowed");
    }

    fn the_complete_cases_are_read_page_by_page(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let awaited = sample::with(sample::zero_fluoroscopy_case(), json!({ "follow_up": null }));
        let mut expected = Vec::new();
        for _ in 0..3 {
            submit(&member, &awaited);
            expected.insert(0, submitted(&member));
        }
        let (mut found, mut cursor) = (Vec::new(), String::new());
        loop {
            let page = member.get(&format!("/cases?completeness=complete&limit=2{cursor}")).expect(200).json();
            found.extend(page["items"].as_array().unwrap().iter().map(|case| case["code"].as_str().unwrap().to_owned()));
            let Some(next) = page["next"].as_str() else { break };
            assert_eq!(found.len(), 2, "a page before the last is full");
            cursor = format!("&cursor={next}");
        }
        assert_eq!(found, expected);
    }

    fn a_cursor_serves_its_owner_and_its_list_alone(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        submitted(&member);
        submitted(&member);
        let monitor = central(&served, Role::Monitor);
        let cursor = member.get("/cases?limit=1").expect(200).json()["next"].as_str().unwrap().to_owned();
        member.get(&format!("/cases?limit=1&cursor={cursor}")).expect(200);
        monitor.get(&format!("/cases?limit=1&cursor={cursor}")).problem(400, "bad_cursor");
        member.get(&format!("/cases?limit=1&period=2025Q3&cursor={cursor}")).problem(400, "bad_cursor");
        member.get(&format!("/queries?cursor={cursor}")).problem(400, "bad_cursor");
        for wrong in ["", "0", "zz", "1.000000000000000000000000", "%27--", "-1.0"] {
            member.get(&format!("/cases?cursor={wrong}")).problem(400, "bad_cursor");
        }
    }

    fn a_parameter_that_is_not_known_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for query in [
            "limit=0", "limit=201", "limit=-1", "limit=ten", "limit=1&limit=2", "limit=99999999999999999999",
            "sort=id%3B%20DROP%20TABLE", "order=asc", "centre=7", "centre=S7%00", "case_code=123",
        ] {
            member.get(&format!("/cases?{query}")).expect(400);
        }
        member.get("/queries?state=lost").problem(400, "bad_query");
        member.get("/audit?subject=patient").problem(400, "bad_query");
        member.post("/imports?dry_run=perhaps", &json!({})).expect(400);
    }
}
