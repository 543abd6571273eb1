//! A comparison that is published with a summary: which may be, what everyone reads of it, and what the
//! society does not.

use crate::network::{central, only_mend, step, text};
use crate::report_texts::{compared, write};
use crate::summaries::Staff;
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::plan::plan;
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

const FUNDING: &str = "Nobody paid for it; the writing group has no conflicts of interest.";

fn asking(cut: &str, comparison: &str) -> Value {
    json!({ "data_cut": cut, "design": { "comparison": comparison } })
}

/// Three centres with so many cases of each strategy, some of which fail, and the comparison of a plan
/// registered before.
fn of_three_centres(
    served: &Served<'_>,
    investigator: &SignedIn<'_>,
    plan: &Value,
    (cases, failing): (usize, usize),
) -> (String, String) {
    let registered = investigator.post("/plans", plan).expect(201).json();
    for centre in ["S01", "S02", "S03"] {
        served.registry.centre(centre);
        let coordinator =
            served.member(&centre.to_lowercase(), Role::Coordinator, &[centre.parse().unwrap()]);
        for place in 0..cases {
            for mut case in [zero_fluoroscopy_case(), conventional_case()] {
                if place < failing {
                    case["acute_success_override"] = json!("no");
                    case["acute_success_override_reason"] = json!("conduction came back");
                }
                coordinator.post("/cases", &case).expect(201);
            }
        }
    }
    let cut = text(&investigator.post("/data-cuts", &json!({ "name": "spring" })).expect(201).json(), "id");
    let path = format!("/data-cuts/{cut}/comparisons");
    let made = investigator.post(&path, &json!({ "plan": registered["id"] })).expect(201).json();
    (cut, text(&made, "id"))
}

/// Fills in what only a person knows, then drafts, approves and publishes.
fn publish(staff: &Staff<'_>, investigator: &SignedIn<'_>, (cut, comparison): (&str, &str)) {
    write(investigator, &format!("/comparisons/{comparison}/checklist/23"), None, FUNDING).expect(200);
    let made = staff.author.post("/summary-drafts", &asking(cut, comparison)).expect(201);
    let path = made.header("location").unwrap().trim_start_matches("/api/v1").to_owned();
    staff.approve(&path, &made.etag());
    step(&staff.publisher, &format!("{path}/publication")).expect(200);
}

on_both_stores! {
    fn only_a_planned_comparison_with_a_final_report_is_published(registry) {
        let served = Served::new(registry);
        let (staff, investigator) = (Staff::new(&served), central(&served, Role::Investigator));
        let (planned, unplanned) = compared(&served, &investigator);
        let cut = text(&investigator.get(&format!("/comparisons/{planned}")).expect(200).json(), "data_cut");
        let other = text(&investigator.post("/data-cuts", &json!({ "name": "later" })).expect(201).json(), "id");
        let refused = |asked: &Value| {
            let problem = staff.author.post("/summary-drafts", asked).problem(422, "must_be_mended");
            assert!(only_mend(&problem).0.ends_with("/comparison"), "{problem}");
            problem.to_string()
        };
        let draft = refused(&asking(&cut, &planned));
        assert!(draft.contains("its checklist lacks 23"), "{draft}");
        write(&investigator, &format!("/comparisons/{planned}/checklist/23"), None, FUNDING).expect(200);
        assert!(refused(&asking(&other, &planned)).contains("another data cut"));
        assert!(refused(&asking(&cut, &unplanned)).contains("carries out no plan"));
        assert!(refused(&asking(&cut, "0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b")).contains("no such comparison"));
        assert!(refused(&asking(&cut, "the newest")).contains("no identifier"));
        let mut part = asking(&cut, &planned);
        part["design"]["first_year"] = json!(2024);
        assert!(refused(&part).contains("every case of its data cut"));
        let alone = json!({ "data_cut": cut, "design": { "told_first": "comparison" } });
        let problem = staff.author.post("/summary-drafts", &alone).problem(422, "must_be_mended");
        assert!(only_mend(&problem).0.ends_with("/told_first"), "{problem}");
        let made = staff.author.post("/summary-drafts", &asking(&cut, &planned)).expect(201).json();
        // Two cases of one centre: neither they nor what was found of them.
        let found = &made["content"]["comparison"];
        assert_eq!(found["endpoints"][0]["claim"], Value::Null, "{found}");
        assert_eq!(found["registered"]["fully_prespecified"], true);
        // The society reads what passed the check, and nothing else of the comparison.
        staff.author.get(&format!("/comparisons/{planned}")).problem(403, "not_allowed");
        staff.author.get(&format!("/comparisons/{planned}/report")).problem(403, "not_allowed");
    }

    fn a_published_comparison_is_read_by_everyone_as_it_was_approved(registry) {
        let served = Served::new(registry);
        let (staff, investigator) = (Staff::new(&served), central(&served, Role::Investigator));
        let (cut, comparison) = of_three_centres(&served, &investigator, &plan(), (14, 0));
        publish(&staff, &investigator, (&cut, &comparison));
        let stranger = served.stranger();
        let said = stranger.get("/summaries/1").expect(200).json();
        let table = said["tables"].as_array().unwrap().iter().find(|table| table["key"] == "comparison").unwrap();
        // 3 × 14 in each arm, none in neither.
        let cases: Vec<&Value> = table["rows"][0]["cells"].as_array().unwrap().iter().collect();
        assert_eq!(cases, [42, 42, 0, 84].map(|cases| json!({ "count": { "shown": cases } })).iter().collect::<Vec<_>>());
        // Everything went as it was intended.
        let per_protocol = said["tables"].as_array().unwrap().iter().find(|table| table["key"] == "comparison_per_protocol");
        assert_eq!(per_protocol.unwrap()["rows"][0]["cells"], table["rows"][0]["cells"]);
        assert!(said["comparison"]["endpoints"][0]["per_protocol"].is_object(), "{said}");
        assert_eq!(said["comparison"]["plan"]["question"], plan()["question"]);
        assert!(said["comparison"]["endpoints"][0]["claim"].is_string(), "{said}");
        let page = stranger.send(&Asked::new("GET", "//summaries/1").header("accept", "text/html")).expect(200).text();
        for shown in [
            "The comparison, as it was planned",
            "Is zero-fluoroscopy no worse",
            "Nobody was randomised.",
            "Per protocol: the difference cannot be estimated.",
            "Of 84 cases, 42 are in the zero-fluoroscopy arm, 42 in the conventional one and 0 in neither. Of the first arm 0 crossed over, of the second 0.",
        ] {
            assert!(page.contains(shown), "{shown}: {page}");
        }
        let lines = stranger.get("//summaries/1/tables.csv").expect(200).text();
        assert!(lines.contains("comparison,cases,Cases,conventional,Conventional,yes,42,"), "{lines}");
        assert!(lines.contains("comparison_difference,acute_success,Acute success,margin,Margin,yes,0.03,"), "{lines}");
        assert!(lines.contains("comparison_difference,acute_success.per_protocol,\"Acute success, per protocol\",margin,"), "{lines}");
        // A second summary of the same cut that tells the same tells nothing new.
        staff.author.post("/summary-drafts", &asking(&cut, &comparison)).expect(201);
    }

    fn a_margin_that_is_a_ratio_is_published_as_one(registry) {
        let served = Served::new(registry);
        let (staff, investigator) = (Staff::new(&served), central(&served, Role::Investigator));
        let mut asked = plan();
        (asked["method"], asked["covariates"]) = (json!("within_centres"), json!([]));
        for endpoint in asked["endpoints"].as_array_mut().unwrap() {
            (endpoint["scale"], endpoint["margin"]) = (json!("risk_ratio"), json!(1.5));
            endpoint["worse_when"] = json!("higher");
        }
        let (cut, comparison) = of_three_centres(&served, &investigator, &asked, (30, 12));
        publish(&staff, &investigator, (&cut, &comparison));
        let stranger = served.stranger();
        let said = stranger.get("/summaries/1").expect(200).json();
        let found = &said["comparison"]["endpoints"][0];
        assert_eq!((&found["scale"], &found["margin"]), (&json!("risk_ratio"), &json!(1.5)));
        assert!(found["claim"].as_str().unwrap().contains("less than 1.5 times as frequent"), "{found}");
        let page = stranger.send(&Asked::new("GET", "//summaries/1").header("accept", "text/html")).expect(200).text();
        assert!(page.contains("Margin a ratio of 1.5:"), "{page}");
        assert!(page.contains("A ratio is of what nobody wants"), "{page}");
        // 36 of 90 failed in both arms; within centres alike, so the ratio is 1.
        assert_eq!(found["ratio"]["estimate"], json!(1.0), "{found}");
        let told = found["ratio"]["upper"].as_f64().unwrap();
        assert!(page.contains("As intended: risk ratio of failure to reach acute success 1.00 (95 % interval "), "{page}");
        assert!((told * 100.0 - (told * 100.0).round()).abs() < 1e-9, "two decimals: {told}");
        // Nobody was harmed, so of harm no ratio exists, and no number stands where there is none.
        assert_eq!(said["comparison"]["endpoints"][1]["ratio"], Value::Null, "{said}");
        let lines = stranger.get("//summaries/1/tables.csv").expect(200).text();
        assert!(lines.contains("comparison_difference,acute_success,Acute success,ratio,"), "{lines}");
    }
}
