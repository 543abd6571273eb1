//! Changes: from the version that was read, with a reason, nothing lost.

use crate::network::{central, code, coordinator, submit};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{with, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use serde_json::{Value, json};
use std::thread;

fn change(bmi: f64, reason: &str) -> Value {
    json!({ "case": with(zero_fluoroscopy_case(), json!({ "bmi": bmi })), "reason": reason })
}

on_both_stores! {
    fn three_changes_leave_four_readable_revisions(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let code = code(&submit(&member, &zero_fluoroscopy_case()));
        let path = format!("/cases/{code}");
        for (revision, bmi) in [(1, 28.0), (2, 29.0), (3, 30.0)] {
            let changed = member.put(&path, &format!("\"r{revision}\""), &change(bmi, "weighed again")).expect(200);
            assert_eq!(changed.etag(), format!("\"r{}\"", revision + 1));
        }
        let monitor = central(&served, Role::Monitor);
        let history = monitor.get(&format!("{path}/history")).expect(200).json();
        let bmi: Vec<f64> =
            history["revisions"].as_array().unwrap().iter().map(|one| one["record"]["bmi"].as_f64().unwrap()).collect();
        assert_eq!(bmi, [27.4, 28.0, 29.0, 30.0]);
        assert_eq!(history["revisions"][0]["reason"], Value::Null);
        assert_eq!(history["revisions"][3]["reason"], "weighed again");
        let trail = history["trail"].as_array().unwrap();
        assert_eq!(trail.last().unwrap()["before"], json!({ "bmi": 29.0 }));
        assert_eq!(trail.last().unwrap()["after"], json!({ "bmi": 30.0 }));
    }

    fn a_change_needs_the_version_that_was_read(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let path = format!("/cases/{}", code(&submit(&member, &zero_fluoroscopy_case())));
        let body = change(28.0, "weighed again");
        member.send(&Asked::new("PUT", &path).json(&body)).problem(428, "if_match_required");
        for stale in ["\"r0\"", "\"r2\"", "W/\"r1\"", "*"] {
            member.put(&path, stale, &body).problem(412, "stale");
        }
        for broken in ["r1", "\"r1", "\"\""] {
            member.put(&path, broken, &body).problem(400, "bad_header");
        }
        member.put(&path, "\"r7\", \"r1\"", &body).expect(200);
        member.put(&path, "\"r1\"", &body).problem(412, "stale");
    }

    fn a_change_needs_a_reason_that_says_something(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let path = format!("/cases/{}", code(&submit(&member, &zero_fluoroscopy_case())));
        for reason in [None, Some(""), Some("   "), Some("ab"), Some("mail jane@example.org"), Some("two\nlines")] {
            let mut body = change(28.0, reason.unwrap_or_default());
            if reason.is_none() {
                body.as_object_mut().unwrap().remove("reason");
            }
            let problem = member.put(&path, "\"r1\"", &body).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem), [("/reason".to_owned(), "reason_required".to_owned())]);
            assert!(!problem.to_string().contains("jane"), "{problem}");
        }
        assert_eq!(member.get(&path).expect(200).etag(), "\"r1\"");
    }

    fn findings_of_a_change_point_into_its_body(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let path = format!("/cases/{}", code(&submit(&member, &zero_fluoroscopy_case())));
        let body = json!({ "case": with(zero_fluoroscopy_case(), json!({ "sex": "x?" })), "reason": "typing error" });
        let problem = member.put(&path, "\"r1\"", &body).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/case/sex");
        let body = json!({ "case": zero_fluoroscopy_case(), "reason": "typing error", "centre": "S08" });
        let problem = member.put(&path, "\"r1\"", &body).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem), [("/centre".to_owned(), "unknown_field".to_owned())]);
    }

    /// Fifty edits at once from the same version: one is kept, none is lost unnoticed.
    fn of_many_changes_at_once_one_wins(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let path = format!("/cases/{}", code(&submit(&member, &zero_fluoroscopy_case())));
        let statuses: Vec<u16> = thread::scope(|scope| {
            let edits: Vec<_> = (0..50)
                .map(|number| {
                    let (member, path) = (&member, &path);
                    scope.spawn(move || {
                        member.put(path, "\"r1\"", &change(20.0 + f64::from(number) / 10.0, "weighed again")).status
                    })
                })
                .collect();
            edits.into_iter().map(|edit| edit.join().unwrap()).collect()
        });
        assert_eq!(statuses.iter().filter(|status| **status == 200).count(), 1, "{statuses:?}");
        assert!(statuses.iter().all(|status| matches!(status, 200 | 409 | 412)), "{statuses:?}");
        let read = member.get(&path).expect(200);
        assert_eq!(read.etag(), "\"r2\"");
    }

    fn the_first_follow_up_needs_no_reason_a_later_one_does(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let case = with(zero_fluoroscopy_case(), json!({ "follow_up": null }));
        let path = format!("/cases/{}/follow-up", code(&submit(&member, &case)));
        let seen = json!({ "fu30_status": "contacted", "fu30_day": 33, "fu30_no_events": "yes", "death": "no" });
        member.send(&Asked::new("PUT", &path).json(&json!({ "follow_up": seen }))).problem(428, "if_match_required");
        let added = member.put(&path, "\"r1\"", &json!({ "follow_up": seen })).expect(200);
        assert_eq!(added.etag(), "\"r2\"");
        let later = with(seen, json!({ "fu30_day": 34 }));
        let problem = member.put(&path, "\"r2\"", &json!({ "follow_up": later })).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem), [("/reason".to_owned(), "reason_required".to_owned())]);
        member.put(&path, "\"r2\"", &json!({ "follow_up": later, "reason": "day misread" })).expect(200);
    }

    /// "No events" cannot be stated about somebody whom nobody reached.
    fn no_events_needs_somebody_who_was_reached(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let case = with(zero_fluoroscopy_case(), json!({ "follow_up": null }));
        let path = format!("/cases/{}/follow-up", code(&submit(&member, &case)));
        let lost = json!({ "follow_up": { "fu30_status": "lost", "fu30_no_events": "yes", "death": "no" } });
        let problem = member.put(&path, "\"r1\"", &lost).problem(422, "must_be_mended");
        assert!(Answer::mends(&problem).iter().any(|(pointer, _)| pointer == "/follow_up/fu30_no_events"), "{problem}");
        let hidden = json!({ "follow_up": { "fu30_status": "pending", "mrn": "4711" } });
        let problem = member.put(&path, "\"r1\"", &hidden).problem(422, "must_be_mended");
        assert!(Answer::mends(&problem).contains(&("/follow_up/mrn".to_owned(), "identifier_field".to_owned())), "{problem}");
    }
}
