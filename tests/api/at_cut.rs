//! What a plan leaves out for how things stood when a cut was taken: approvals, screening logs and
//! open questions. All of it is mended afterwards, and the cut stays as it was.

use crate::network::{central, coordinator, other, submit, submitted, text};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::plan::plan;
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

fn approve(administrator: &SignedIn<'_>, centre: &str) {
    for kind in ["ethics_approval", "data_agreement"] {
        let terms = json!({ "kind": kind, "reference": "file 7", "valid_from": "2025-01-01", "valid_until": "2027-12-31" });
        administrator.post(&format!("/centres/{centre}/approvals"), &terms).expect(201);
    }
}

/// Enters and signs the line of the log that the sample cases belong to.
fn sign(served: &Served<'_>, member: &SignedIn<'_>, centre: &str, counts: Value) {
    let line = format!("/centres/{centre}/screening-log/2025Q3/af_first");
    let entered = member.send(&Asked::new("PUT", &line).json(&json!({ "counts": counts }))).expect(200);
    let name = format!("lead.{}", centre.to_lowercase());
    let lead = served.member(&name, Role::CentreLead, &[centre.parse().unwrap()]);
    let signature = Asked::new("POST", format!("{line}/signature")).json(&json!({ "password": PASSWORD }));
    lead.send(&signature.if_match(&entered.etag())).expect(200);
}

fn answer(member: &SignedIn<'_>, id: &str) {
    let body = json!({ "answer": "Yes, it was looked up." });
    member.send(&Asked::new("POST", format!("/queries/{id}/answer")).json(&body)).expect(200);
}

/// A cut's comparisons, and what plans with one exclusion leave out there: cases and arms.
fn left_out(investigator: &SignedIn<'_>, cut: &str, title: &str) -> Vec<(String, u64, u64, u64)> {
    let rules = ["approval_missing", "denominator_unsigned", "question_open", "low_capture"];
    let of = |rule: &str| {
        let mut plan = plan();
        plan["title"] = json!(format!("{title}, {rule}"));
        plan["eligibility"]["exclude"] = json!([rule]);
        if rule == "low_capture" {
            plan["eligibility"]["least_capture"] = json!(0.9);
        }
        let registered = investigator.post("/plans", &plan).expect(201).json();
        let made = investigator.post(cut, &json!({ "plan": registered["id"] })).expect(201).json();
        let report = format!("/comparisons/{}/report", text(&made, "id"));
        let flow = investigator.get(&report).expect(200).json()["flow"].clone();
        assert_eq!(flow["left_out"], made["result"]["cases"]["left_out"]);
        let lines = flow["left_out"].as_array().unwrap().clone();
        assert!(lines.len() <= 1, "{lines:?}");
        let line = lines.first()?;
        assert_eq!(line["reason"], json!({ "excluded": rule }));
        let number = |value: &Value| value.as_u64().unwrap();
        let arms = &line["arms"];
        Some((
            rule.to_owned(),
            number(&line["cases"]),
            number(&arms["zero_fluoroscopy"]),
            number(&arms["conventional"]),
        ))
    };
    rules.into_iter().filter_map(of).collect()
}

fn cut(investigator: &SignedIn<'_>, name: &str) -> String {
    let cut = investigator.post("/data-cuts", &json!({ "name": name })).expect(201).json();
    format!("/data-cuts/{}/comparisons", text(&cut, "id"))
}

on_both_stores! {
    fn a_cut_keeps_how_things_stood_around_its_cases(registry) {
        let served = Served::new(registry);
        let (member, outsider) = (coordinator(&served), other(&served));
        let (administrator, monitor) = (central(&served, Role::Administrator), central(&served, Role::Monitor));
        let investigator = central(&served, Role::Investigator);
        let asked = submitted(&member);
        submit(&member, &conventional_case());
        for case in [zero_fluoroscopy_case(), conventional_case(), conventional_case()] {
            submit(&outsider, &case);
        }
        // S07 is in order but for a question; at S08 nothing is.
        approve(&administrator, "S07");
        sign(&served, &member, "S07", json!({ "performed": 2, "eligible": 2, "submitted": 2, "excluded": {} }));
        let raise = |field: &str| {
            let question = json!({ "case_code": asked, "field": field, "sentence": "Is this what happened?" });
            text(&monitor.post("/queries", &question).expect(201).json(), "id")
        };
        raise("/bmi");
        let first = cut(&investigator, "first");
        assert_eq!(
            left_out(&investigator, &first, "before the question"),
            [("approval_missing".to_owned(), 3, 1, 2), ("denominator_unsigned".to_owned(), 3, 1, 2), ("low_capture".to_owned(), 3, 1, 2)]
        );
        let question = raise("/fluoro_used");
        let second = cut(&investigator, "second");
        // Everything is mended after the second cut.
        answer(&member, &question);
        approve(&administrator, "S08");
        sign(&served, &outsider, "S08", json!({ "performed": 3, "eligible": 3, "submitted": 3, "excluded": {} }));
        let stood = [("approval_missing", 3, 1, 2), ("denominator_unsigned", 3, 1, 2), ("question_open", 1, 1, 0), ("low_capture", 3, 1, 2)];
        let stood = stood.map(|(rule, cases, zero, conventional)| (rule.to_owned(), cases, zero, conventional));
        assert_eq!(left_out(&investigator, &second, "after"), stood);
        assert_eq!(left_out(&investigator, &cut(&investigator, "third"), "mended"), []);
        // An approval that is taken back is missing from then on.
        let approvals = administrator.get("/centres/S07/approvals").expect(200).json();
        let id = text(&approvals["items"][0], "id");
        let back = Asked::new("POST", format!("/centres/S07/approvals/{id}/withdrawal"));
        administrator.send(&back.json(&json!({ "reason": "recorded in error" }))).expect(200);
        let fourth = left_out(&investigator, &cut(&investigator, "fourth"), "taken back");
        assert_eq!(fourth, [("approval_missing".to_owned(), 2, 1, 1)]);
        assert_eq!(left_out(&investigator, &second, "still"), stood);
    }

    fn a_least_share_stands_with_its_exclusion_and_not_alone(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        for (exclude, least) in [
            (json!(["low_capture"]), Value::Null),
            (json!(["low_capture"]), json!(90)),
            (json!(["epicardial"]), json!(0.9)),
        ] {
            let mut plan = plan();
            plan["eligibility"] = json!({ "procedure_groups": ["svt"], "exclude": exclude, "least_capture": least });
            let problem = investigator.post("/plans", &plan).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, "/eligibility/least_capture", "{problem}");
        }
    }
}
