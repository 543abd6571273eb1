//! What people write into the checklist of a report.

use crate::network::{central, coordinator, submit, submitted, text};
use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::plan::plan;
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

const FUNDING: &str = "Nobody paid for it; the writing group has no conflicts of interest.";

/// A comparison as planned, and one without a plan.
pub(crate) fn compared(served: &Served<'_>, investigator: &SignedIn<'_>) -> (String, String) {
    let registered = investigator.post("/plans", &plan()).expect(201).json();
    let member = coordinator(served);
    submit(&member, &zero_fluoroscopy_case());
    submit(&member, &conventional_case());
    let cut = investigator.post("/data-cuts", &json!({ "name": "first look" })).expect(201).json();
    let path = format!("/data-cuts/{}/comparisons", text(&cut, "id"));
    let id = |question: Value| text(&investigator.post(&path, &question).expect(201).json(), "id");
    (id(json!({ "plan": registered["id"] })), id(json!({})))
}

pub(crate) fn write(person: &SignedIn<'_>, path: &str, read: Option<&str>, text: &str) -> Answer {
    let asked = Asked::new("PUT", path).json(&json!({ "text": text }));
    person.send(&read.into_iter().fold(asked, |asked, etag| asked.if_match(etag)))
}

fn standing(person: &SignedIn<'_>, id: &str) -> Value {
    person.get(&format!("/comparisons/{id}/report")).expect(200).json()["checklist"].clone()
}

on_both_stores! {
    fn a_text_is_written_changed_and_taken_back_and_every_version_stays(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        let (id, unplanned) = compared(&served, &investigator);
        let item = format!("/comparisons/{id}/checklist/23");
        assert_eq!(standing(&investigator, &id)["standing"], json!({ "standing": "draft", "missing": [23] }));

        let written = write(&investigator, &item, None, FUNDING).expect(200);
        assert_eq!((&written.json()["version"], &written.json()["text"]), (&json!(1), &json!(FUNDING)));
        let list = standing(&investigator, &id);
        assert_eq!(list["standing"], json!({ "standing": "final" }));
        assert_eq!(list["items"][22]["state"], "written");
        assert_eq!((&list["items"][22]["text"], &list["items"][22]["at"]), (&json!(FUNDING), &written.json()["at"]));

        // Nobody's text is written over unread.
        write(&investigator, &item, None, "Another text of more than twenty.").problem(428, "if_match_required");
        write(&investigator, &item, Some("\"r7\""), "Another text of more than twenty.").problem(412, "stale");
        let second = write(&investigator, &item, Some(&written.etag()), "Paid for by the members' own fund.").expect(200);
        assert_eq!(second.json()["version"], 2);
        let same = write(&investigator, &item, Some(&second.etag()), "Paid for by the members' own fund.").expect(200);
        assert_eq!(same.json()["version"], 2, "the same text is no further version");
        write(&investigator, &item, Some(&second.etag()), "  ").expect(200);
        assert_eq!(standing(&investigator, &id)["standing"]["missing"], json!([23]), "taken back");
        let list = investigator.get(&format!("/comparisons/{id}/checklist")).expect(200).json();
        assert_eq!((&list["items"][3]["version"], &list["items"][3]["text"]), (&json!(3), &Value::Null));

        let trail = registry.audit().into_iter().filter(|row| row.event.deed == Deed::ReportWritten);
        let told: Vec<_> = trail.map(|row| row.event.revision).collect();
        assert_eq!(told, [Some(3), Some(2), Some(1)], "newest first");
        let values = "SELECT coalesce(before, 'nothing') FROM audit_event WHERE deed = 'report_written' ORDER BY seq";
        let replaced = registry.raw().texts(values);
        assert!(replaced[0] == "nothing" && replaced[1].contains(FUNDING) && replaced[2].contains("own fund"), "{replaced:?}");
        let mut raw = registry.raw();
        for statement in ["UPDATE report_text SET text = ''", "DELETE FROM report_text"] {
            let error = raw.run(statement).expect_err(statement);
            assert!(error.contains("append-only"), "{statement}: {error}");
        }
        // Without a plan there is no report to write into; nor has every item a person's text.
        write(&investigator, &format!("/comparisons/{unplanned}/checklist/23"), None, FUNDING).problem(404, "not_found");
        for none in [0, 1, 24, 26] {
            write(&investigator, &format!("/comparisons/{id}/checklist/{none}"), None, FUNDING).problem(404, "not_found");
        }
    }

    fn what_says_nothing_or_names_a_patient_is_refused(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        let (id, _) = compared(&served, &investigator);
        let item = format!("/comparisons/{id}/checklist/22");
        for wrong in ["", "too short", &"x".repeat(4_001), "a bell \u{7} in more than twenty characters",
            "Mrs Margaret Okonkwo-Larsen was the hardest case of all."] {
            let problem = write(&investigator, &item, None, wrong).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, "/text", "{wrong}");
        }
        let lines = write(&investigator, &item, None, "  Of one country.\r\nNot of the others.  ").expect(200);
        assert_eq!(lines.json()["text"], "Of one country.\nNot of the others.");
        central(&served, Role::Monitor).send(&Asked::new("PUT", &*item).json(&json!({ "text": FUNDING }))).problem(403, "not_allowed");
        assert_eq!(registry.raw().count("report_text"), 1);
    }

    fn reading_what_people_wrote_is_no_look_at_what_was_found(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        let (id, _) = compared(&served, &investigator);
        let looks = || registry.audit().into_iter().filter(|row| row.event.deed == Deed::ComparisonOpened).count();
        let before = looks();
        let list = central(&served, Role::Monitor).get(&format!("/comparisons/{id}/checklist")).expect(200).json();
        assert_eq!(list["items"].as_array().unwrap().len(), 4);
        write(&investigator, &format!("/comparisons/{id}/checklist/3"), None, FUNDING).expect(200);
        assert_eq!(looks(), before);
        standing(&investigator, &id);
        assert_eq!(looks(), before + 1);
    }

    fn a_question_counts_as_it_stood_when_the_cut_was_taken(registry) {
        let served = Served::new(registry);
        let investigator = central(&served, Role::Investigator);
        let member = coordinator(&served);
        let monitor = central(&served, Role::Monitor);
        let registered = investigator.post("/plans", &plan()).expect(201).json();
        let code = submitted(&member);
        submit(&member, &conventional_case());
        let ask = |field: &str| {
            let question = json!({ "case_code": code, "field": field, "sentence": "Is it right?" });
            text(&monitor.post("/queries", &question).expect(201).json(), "id")
        };
        let (weight, _result, success) = (ask("/bmi"), ask("/endpoint_shown"), ask("/fluoro_used"));
        let answer = |id: &str| {
            member.send(&Asked::new("POST", format!("/queries/{id}/answer")).json(&json!({ "answer": "Yes." }))).expect(200);
        };
        answer(&success);
        let cut = investigator.post("/data-cuts", &json!({ "name": "first look" })).expect(201).json();
        // What happens later changes nothing of the cut.
        answer(&weight);
        ask("/proc_primary");
        let path = format!("/data-cuts/{}/comparisons", text(&cut, "id"));
        let made = investigator.post(&path, &json!({ "plan": registered["id"] })).expect(201).json();
        let quality = standing(&investigator, &text(&made, "id"))["items"][19]["text"].clone();
        let quality = quality.as_str().unwrap();
        assert!(quality.contains("3 questions had been asked about them when the cut was taken; 2 were not answered, 1 of those"), "{quality}");
    }
}
