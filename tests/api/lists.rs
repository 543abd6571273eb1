//! Lists: filters, pages and cursors.

use crate::network::{central, coordinator, other, submit, submitted};
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
            ("?period=%27%20OR%201%3D1%20--", 0),
        ] {
            let items = monitor.get(&format!("/cases{query}")).expect(200).json()["items"].as_array().unwrap().len();
            assert_eq!(items, expected, "{query}");
        }
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
