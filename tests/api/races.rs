//! The same thing asked for several times at once is done once.

use crate::network::{at_once, central, coordinator, sheet, step, submitted, text};
use quietbeam::intake::FileKind;
use quietbeam_schema::access::Role;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::json;

/// Exactly one success; the others were told that somebody was faster.
fn one_wins(statuses: &[u16], success: u16) {
    assert_eq!(statuses[0], success, "{statuses:?}");
    assert!(statuses[1..].iter().all(|status| matches!(status, 409 | 412)), "{statuses:?}");
}

on_both_stores! {
    /// Rows without a code would become new cases each time.
    fn the_same_files_at_once_are_stored_once(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let cases = sheet(FileKind::Cases, &[sample::conventional_case(), sample::zero_fluoroscopy_case()]);
        let form = Asked::new("POST", "/imports").files(&[("cases", &cases)]);
        let statuses = at_once(4, |_| member.send(&form).status);
        assert!(statuses.contains(&200), "{statuses:?}");
        assert!(statuses.iter().all(|status| matches!(status, 200 | 409)), "{statuses:?}");
        assert_eq!(registry.raw().count("case_revision"), 2);
        assert_eq!(registry.raw().count("import_receipt"), 1);
        assert_eq!(registry.raw().count("case_code"), 2);
    }

    fn one_name_is_taken_once(registry) {
        let served = Served::new(registry);
        submitted(&coordinator(&served));
        let (administrator, investigator) = (central(&served, Role::Administrator), central(&served, Role::Investigator));
        let member = json!({ "sign_in_name": "new.one", "printed_name": "N", "role": "monitor", "password": PASSWORD });
        one_wins(&at_once(3, |_| administrator.post("/members", &member).status), 201);
        let centre = json!({ "code": "S31", "name": "House", "kind": "academic", "annual_volume": "200_499" });
        one_wins(&at_once(3, |_| administrator.post("/centres", &centre).status), 201);
        one_wins(&at_once(3, |_| investigator.post("/data-cuts", &json!({ "name": "first" })).status), 201);
        assert_eq!(registry.raw().count("data_cut"), 1);
    }

    fn one_key_serves_one_request(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let statuses = at_once(4, |number| {
            let case = sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": 20 + number }));
            member.send(&Asked::new("POST", "/cases").header("idempotency-key", "one-key-for-all").json(&case)).status
        });
        assert_eq!(statuses[0], 201);
        assert!(statuses[1..].iter().all(|status| matches!(status, 409 | 422)), "{statuses:?}");
        assert_eq!(registry.raw().count("case_revision"), 1);
    }

    fn one_line_is_entered_and_signed_once(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let lead = served.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
        let line = "/centres/S07/screening-log/2026Q3/svt";
        let statuses = at_once(4, |number| {
            let counts = json!({ "performed": number, "eligible": number, "submitted": number });
            member.send(&Asked::new("PUT", line).json(&json!({ "counts": counts }))).status
        });
        assert_eq!(statuses[0], 200, "{statuses:?}");
        assert!(statuses[1..].iter().all(|status| matches!(status, 409 | 412 | 428)), "{statuses:?}");
        let signature = Asked::new("POST", format!("{line}/signature")).if_match("\"r1\"").json(&json!({ "password": PASSWORD }));
        one_wins(&at_once(4, |_| lead.send(&signature).status), 200);
        assert_eq!(registry.raw().count("screening_revision"), 2);
    }

    fn one_summary_takes_each_step_once(registry) {
        let served = Served::new(registry);
        submitted(&coordinator(&served));
        let (investigator, monitor) = (central(&served, Role::Investigator), central(&served, Role::Monitor));
        let (author, publisher) = (served.member("author", Role::Society, &[]), served.member("publisher", Role::Society, &[]));
        let cut = investigator.post("/data-cuts", &json!({ "name": "first" })).expect(201).json();
        let draft = author.post("/summary-drafts", &json!({ "data_cut": cut["id"] })).expect(201);
        let path = format!("/summary-drafts/{}", text(&draft.json(), "id"));
        let approval = Asked::new("POST", format!("{path}/approval")).if_match(&draft.etag());
        one_wins(&at_once(3, |_| monitor.send(&approval).status), 200);
        one_wins(&at_once(3, |_| step(&publisher, &format!("{path}/publication")).status), 200);
        let withdrawal = Asked::new("POST", format!("{path}/withdrawal")).json(&json!({ "reason": "counted twice" }));
        one_wins(&at_once(3, |_| publisher.send(&withdrawal).status), 200);
        let deeds: Vec<&str> = registry.audit().iter().take(3).map(|row| row.event.deed.name()).collect();
        assert_eq!(deeds, ["summary_withdrawn", "summary_published", "summary_approved"]);
    }

    /// A case submitted while a cut is taken is in it or is not, but never half.
    fn a_cut_among_writers_is_whole(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        submitted(&member);
        let investigator = central(&served, Role::Investigator);
        let statuses = at_once(8, |number| match number {
            3 | 6 => investigator.post("/data-cuts", &json!({ "name": format!("cut {number}") })).status,
            _ => member.post("/cases", &sample::zero_fluoroscopy_case()).status,
        });
        assert_eq!(statuses, [201; 8]);
        for cut in investigator.get("/data-cuts").expect(200).json()["items"].as_array().unwrap() {
            let path = format!("/data-cuts/{}/comparisons", text(cut, "id"));
            let result = investigator.post(&path, &json!({})).expect(201).json();
            assert_eq!(result["result"]["cases"]["in_cohort"], cut["cases"]);
        }
    }
}
