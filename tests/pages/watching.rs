//! Watching: signals counted again from the records, what belongs to whom, and what a centre's
//! lead learns of the others.

use quietbeam_schema::access::Role;
use quietbeam_tests::demo;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::{Value, json};

fn main_of(page: &str) -> &str {
    page.split("<main").nth(1).unwrap()
}

fn rule_count(page: &str, rule: &str) -> usize {
    main_of(page).matches(&format!(">{rule}</td>")).count()
}

/// Whether a stored complication is of a kind and began within 30 days, or nobody knows when.
fn soon(event: &Value, kind: &str) -> bool {
    event["ae_code"] == kind && event["onset_day"].as_f64().is_none_or(|day| day <= 30.0)
}

fn has(case: &Value, told: impl Fn(&Value) -> bool) -> bool {
    case["complications"].as_array().is_some_and(|events| events.iter().any(told))
}

/// Signals about single cases are counted a second time from the stored records.
#[test]
fn a_monitor_sees_every_grave_harm_of_the_network() {
    let registry = Registry::new(Engine::Sqlite);
    demo::take_in(&registry, 1, 1_400);
    let served = Served::new(&registry);
    let monitor = Visitor::member(&served, "monitor", Role::Monitor, &[]);
    let page = monitor.get("/watching").expect(200).text();
    let records: Vec<Value> = registry
        .raw()
        .texts("SELECT record FROM case_revision WHERE superseded_by_seq IS NULL")
        .iter()
        .map(|record| serde_json::from_str(record).unwrap())
        .collect();
    let strokes = records.iter().filter(|case| has(case, |event| soon(event, "stroke"))).count();
    let fistulas = records.iter().filter(|case| has(case, |event| event["ae_code"] == "ae_fistula")).count();
    assert!(strokes > 0, "the demo has strokes");
    assert_eq!(rule_count(&page, "A stroke within 30 days was reported."), strokes);
    assert_eq!(rule_count(&page, "A fistula between atrium and oesophagus was reported."), fistulas);
    for centre in 1..=7 {
        assert!(main_of(&page).contains(&format!("S{centre:02}, ")), "S{centre:02} stands among the limits");
    }
    assert!(page.contains("By chance alone a chart does so about once in"), "the price of the line is told");
}

on_both_stores! {
    fn each_sees_what_is_its_own(registry) {
        let served = Served::new(registry);
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        served.desk.member("sender", Role::Coordinator, &[other]);
        let coordinator = served.sign_in("sender");
        let tamponade = || sample::with(sample::case_with_tamponade(), json!({ "strategy_intended": "zero" }));
        let codes: Vec<String> = (0..2)
            .map(|_| coordinator.post("/cases", &tamponade()).expect(201).json()["code"].as_str().unwrap().to_owned())
            .collect();
        let theirs = Visitor::member(&served, "their.lead", Role::CentreLead, &[other]);
        let monitor = Visitor::member(&served, "monitor", Role::Monitor, &[]);
        for visitor in [&theirs, &monitor] {
            let page = visitor.get("/watching").expect(200).text();
            assert_eq!(rule_count(&page, "Two tamponades in thirty zero-fluoroscopy cases in a row."), 1, "{page}");
            assert!(page.contains(&format!("/cases/{}", codes[1])), "the second one completes the pair");
        }
        let lead = Visitor::member(&served, "own.lead", Role::CentreLead, &[own]);
        let page = lead.get("/watching").expect(200).text();
        assert!(page.contains("There is no case yet."), "{page}");
        for trace in ["S08", codes[0].as_str(), codes[1].as_str()] {
            assert!(!main_of(&page).contains(trace), "another centre's lead sees {trace}");
        }
        for role in [Role::Coordinator, Role::Adjudicator, Role::Investigator, Role::Society, Role::Administrator] {
            let centres = if role.belongs_to_centres() { vec![own] } else { vec![] };
            Visitor::member(&served, role.name(), role, &centres).get("/watching").expect(403);
        }
    }
}
