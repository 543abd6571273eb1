//! Every figure of a report, of the planning aids, of the watching, of a centre's own picture and of a public
//! summary: as it was kept, with its words and its numbers, and the same on both stores. `QUIETBEAM_KEEP_FIGURES=1`
//! keeps them anew; the difference is for a reviewer to read.

use std::path::PathBuf;

use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::demo;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::plan::plan;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::{Value, json};

use crate::releases::{freeze, publish};

/// The figures of a report with two endpoints, in its order.
const OF_A_REPORT: [&str; 11] = [
    "centres-success",
    "centres-harm",
    "flow",
    "balance",
    "overlap",
    "dose-and-minutes",
    "recurrence",
    "routes",
    "dose-in-two-parts",
    "limits",
    "sums",
];

/// The figures of a centre's own picture, in its order.
const OF_AN_OWN_PICTURE: [&str; 9] = [
    "completeness",
    "denominators",
    "x-ray",
    "dose",
    "levels",
    "digits",
    "cross-overs",
    "detection",
    "learning",
];

/// The report of the tests' plan on the demo: as a page and as JSON, without names that are drawn by
/// chance, and without the hashes that the codes of cases enter, which are drawn too.
fn reported(registry: &Registry, plan: &Value) -> (String, String) {
    let served = Served::new(registry);
    let program = served.member("reckoner", Role::Investigator, &[]);
    let plan = program.post("/plans", plan).expect(201).json()["id"].clone();
    demo::take_in(registry, 5, 500);
    let cut = program.post("/data-cuts", &json!({ "name": "figures" })).expect(201).json();
    let [cut, hash] = ["id", "content_hash"].map(|name| cut[name].as_str().unwrap().to_owned());
    let made = program.post(&format!("/data-cuts/{cut}/comparisons"), &json!({ "plan": plan })).expect(201);
    let id = made.json()["id"].as_str().unwrap().to_owned();
    let report = program.get(&format!("/comparisons/{id}/report")).expect(200).text();
    assert!(report.contains(&hash), "{report}");
    let report = report.replace(&hash, "the cut's");
    let reader = Visitor::member(&served, "reader", Role::Monitor, &[]);
    let page = reader.get(&format!("/comparisons/{id}")).expect(200).text();
    let kept = made.json()["result_hash"].as_str().unwrap().to_owned();
    let plan = plan.as_str().unwrap().to_owned();
    let drawn = [
        (plan, "the plan"),
        (id, "the comparison"),
        (cut, "the cut"),
        (hash, "the cut's"),
        (kept, "the result's"),
    ];
    let said = page.split("<main").nth(1).expect("a main part").to_owned();
    (drawn.iter().fold(said, |said, (by_chance, name)| said.replace(by_chance, name)), report)
}

fn figures(page: &str) -> Vec<(&str, &str)> {
    let of = |part: &'static str, text: &'_ str| text.find(part).unwrap_or_else(|| panic!("no {part}"));
    let starts = page.match_indices("<figure class=\"figure\" id=\"");
    starts
        .map(|(at, start)| {
            let rest = &page[at..];
            let id = rest[start.len()..].split('"').next().unwrap();
            (id, &rest[..of("</figure>", rest)])
        })
        .collect()
}

/// A published summary with a comparison of three centres, as everyone reads it: in each arm of each centre
/// 12 of 30 cases fail.
fn summed_up(registry: &Registry) -> String {
    let served = Served::new(registry);
    let investigator = served.member("compares", Role::Investigator, &[]);
    let mut asked = plan();
    (asked["method"], asked["covariates"]) = (json!("within_centres"), json!([]));
    let plan = investigator.post("/plans", &asked).expect(201).json();
    for centre in ["S01", "S02", "S03"] {
        registry.centre(centre);
        let coordinator = served.member(centre, Role::Coordinator, &[centre.parse().unwrap()]);
        for place in 0..30 {
            for mut case in [zero_fluoroscopy_case(), conventional_case()] {
                if place < 12 {
                    case["acute_success_override"] = json!("no");
                    case["acute_success_override_reason"] = json!("conduction came back");
                }
                coordinator.post("/cases", &case).expect(201);
            }
        }
    }
    let cut = freeze(&served, "spring");
    let asked = json!({ "plan": plan["id"] });
    let made = investigator.post(&format!("/data-cuts/{cut}/comparisons"), &asked).expect(201).json();
    let comparison = made["id"].as_str().unwrap();
    let funding = json!({ "text": "Nobody paid for it; the group has no conflicts of interest." });
    let item = format!("/comparisons/{comparison}/checklist/23");
    investigator.send(&Asked::new("PUT", item).json(&funding)).expect(200);
    publish(&served, &cut, &[("comparison", comparison)]);
    let asked = Asked::new("GET", "//summaries/1").header("accept", "text/html");
    served.stranger().send(&asked).expect(200).text()
}

/// The pictures of intervals beside their verdicts, each with what it says to whoever does not see it.
fn intervals(page: &str) -> Vec<&str> {
    let starts = page.match_indices("<div class=\"picture\">");
    starts.map(|(at, _)| page[at..].split("</div>").next().unwrap()).collect()
}

/// The text between the marks, without marks.
fn words(markup: &str) -> String {
    let parts = markup.split('<').map(|part| part.split_once('>').map_or(part, |(_, text)| text));
    parts.collect::<Vec<_>>().join(" ")
}

fn kept(page: &str, id: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("pages/figures/{page}/{id}.html"))
}

/// Holds each figure of a page against what was kept of it.
fn compare(name: &str, page: &str, expected: &[&str]) {
    let drawn = figures(page);
    assert_eq!(drawn.iter().map(|(id, _)| *id).collect::<Vec<_>>(), expected, "{name}");
    for (id, figure) in drawn {
        says_it_in_words_and_in_numbers((id, figure));
        is_as_kept((name, id), figure);
    }
}

fn is_as_kept((name, id): (&str, &str), figure: &str) {
    // A line a part, so that a difference can be read.
    let text = figure.replace("><", ">\n<") + "\n";
    if std::env::var_os("QUIETBEAM_KEEP_FIGURES").is_some() {
        std::fs::write(kept(name, id), &text).unwrap();
    }
    let before = std::fs::read_to_string(kept(name, id)).unwrap_or_default();
    let differs = text.lines().zip(before.lines()).find(|(now, then)| now != then);
    assert!(text == before, "{id} of {name} is not as it was kept: {differs:?}");
}

fn says_it_in_words_and_in_numbers((id, figure): (&str, &str)) {
    // Where there is nothing to draw, as when no field is open, the words stand alone.
    let drawings = ["on-a-desk", "on-a-phone"].map(|drawing| figure.matches(drawing).count());
    assert!(drawings == [1, 1] || drawings == [0, 0], "{id} is drawn for a desk and for a phone");
    let said = figure.split("In words:").nth(1).unwrap_or_else(|| panic!("{id} says nothing"));
    assert!(words(said.split("<details").next().unwrap()).trim().len() > 20, "{id}: {said}");
    let table = figure.split("<table").nth(1).unwrap_or_else(|| panic!("{id} has no numbers"));
    assert!(table.matches("<tr").count() > 1, "{id}: {table}");
}

on_both_stores! {
    fn the_figures_of_a_report_are_as_they_were_kept(registry) {
        compare("report", &reported(registry, &plan()).0, &OF_A_REPORT);
    }

    fn centres_are_drawn_on_the_scale_of_a_ratio(registry) {
        let mut asked = plan();
        for endpoint in asked["endpoints"].as_array_mut().unwrap() {
            (endpoint["scale"], endpoint["margin"]) = (json!("risk_ratio"), json!(1.5));
            endpoint["worse_when"] = json!("higher");
        }
        let page = reported(registry, &asked).0;
        let centres = page.split("<figure class=\"figure\" id=\"flow\"").next().unwrap();
        compare("ratio", centres, &OF_A_REPORT[..2]);
    }

    fn those_of_the_planning_aids_the_watching_and_the_own_picture_are_too(registry) {
        demo::take_in(registry, 5, 500);
        let served = Served::new(registry);
        let page = |role: Role, centres: &[CentreCode], path: &str| {
            Visitor::member(&served, role.name(), role, centres).get(path).expect(200).text()
        };
        let planner = Visitor::member(&served, "planner", Role::Investigator, &[]);
        for (name, margin) in [("planning", "margin=3"), ("planning-ratio", "scale=risk_ratio&margin=1.5")] {
            let asked = format!("/plans/outlook?endpoint=acute_success&{margin}&expected=95&level=95&group=");
            compare(name, &planner.get(&asked).expect(200).text(), &["power", "precision", "by-when"]);
        }
        compare("watching", &page(Role::Monitor, &[], "/watching"), &["limits", "sums"]);
        let own = "S01".parse().unwrap();
        compare("own", &page(Role::CentreLead, &[own], "/our-picture"), &OF_AN_OWN_PICTURE);
    }

    fn those_of_a_public_summary_and_its_comparison_are_too(registry) {
        let page = summed_up(registry);
        compare("summary", &page, &["x-ray-used", "cases-compared"]);
        let [success, harm] = intervals(&page)[..] else { panic!("a picture an endpoint: {page}") };
        for (id, said, picture) in [
            ("intervals-success", "Acute success, as intended", success),
            ("intervals-harm", "Major complication", harm),
        ] {
            let words = picture.split("aria-label=\"").nth(1).and_then(|rest| rest.split('"').next());
            assert!(words.is_some_and(|words| words.starts_with(said) && words.contains("margin")), "{words:?}");
            is_as_kept(("summary", id), picture);
        }
    }
}

/// The whole report: as a file, and as the page that is laid out for paper word for word.
#[test]
fn a_report_is_the_same_bytes_on_both_stores() {
    let [one, other] =
        [Engine::Sqlite, Engine::Postgres].map(|engine| reported(&Registry::new(engine), &plan()));
    for (one, other) in [(one.0.as_str(), other.0.as_str()), (one.1.as_str(), other.1.as_str())] {
        assert!(one.len() > 50_000, "{one}");
        let apart = one.bytes().zip(other.bytes()).position(|(one, other)| one != other);
        let around = apart.map(|at| &one[at.saturating_sub(200)..(at + 200).min(one.len())]);
        assert!(one == other, "they differ around {around:?}");
    }
}
