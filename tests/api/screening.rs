//! The screening log: entered, corrected, signed.

use crate::network::{central, coordinator, other};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use serde_json::{Value, json};

const LINE: &str = "/centres/S07/screening-log/2025Q3/af_first";

fn counts(performed: u32, eligible: u32, submitted: u32) -> Value {
    let excluded = if performed > eligible { json!({ "age": performed - eligible }) } else { json!({}) };
    json!({ "counts": { "performed": performed, "eligible": eligible, "submitted": submitted, "excluded": excluded } })
}

on_both_stores! {
    fn a_line_is_entered_corrected_signed_and_unsigned_by_a_correction(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let lead = served.member("lead.s07", Role::CentreLead, &["S07".parse().unwrap()]);
        let entered = member.send(&Asked::new("PUT", LINE).json(&counts(40, 36, 36))).expect(200);
        assert_eq!(entered.etag(), "\"r1\"");
        let signature = format!("{LINE}/signature");
        let with = |password: &str| Asked::new("POST", &signature).json(&json!({ "password": password }));
        lead.send(&with(PASSWORD)).problem(428, "if_match_required");
        lead.send(&with(PASSWORD).if_match("\"r9\"")).problem(412, "stale");
        // Who found a token lying about cannot sign with it.
        let wrong = lead.send(&with("quiet rooms need no heavy apron").if_match("\"r1\"")).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&wrong)[0].0, "/password");
        lead.send(&Asked::new("POST", &signature).if_match("\"r1\"").json(&json!({}))).expect(422);
        assert_eq!(lead.get("/screening-log").expect(200).json()["items"][0]["signed_by"], Value::Null);
        let signed = lead.send(&with(PASSWORD).if_match("\"r1\"")).expect(200);
        assert_ne!(signed.json()["signed_by"], Value::Null);
        lead.send(&with(PASSWORD).if_match(&signed.etag())).problem(409, "illegal_step");
        member.send(&with(PASSWORD).if_match(&signed.etag())).problem(403, "not_allowed");
        let mut corrected = counts(41, 36, 36);
        let problem = member.put(LINE, &signed.etag(), &corrected).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/reason");
        corrected["reason"] = json!("one procedure was forgotten");
        let line = member.put(LINE, &signed.etag(), &corrected).expect(200).json();
        assert_eq!(line["signed_by"], Value::Null);
        assert_eq!(line["revision"], 3);
    }

    fn what_stands_there_is_not_overwritten_unread(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        member.send(&Asked::new("PUT", LINE).json(&counts(40, 36, 36))).expect(200);
        member.send(&Asked::new("PUT", LINE).json(&counts(1, 1, 1))).problem(428, "if_match_required");
        member.put(LINE, "\"r7\"", &counts(1, 1, 1)).problem(412, "stale");
        member.put("/centres/S07/screening-log/2025Q2/vt", "\"r1\"", &counts(1, 1, 1)).problem(404, "not_found");
        let log = member.get("/screening-log").expect(200).json();
        assert_eq!(log["items"][0]["counts"]["performed"], 40);
    }

    fn counts_that_do_not_add_up_are_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for body in [
            counts(10, 11, 5),
            counts(10, 9, 10),
            json!({ "counts": { "performed": 10, "eligible": 8, "submitted": 8, "excluded": { "age": 1 } } }),
            json!({ "counts": { "performed": 5000, "eligible": 5000, "submitted": 5000 } }),
            json!({ "counts": { "performed": -1, "eligible": 0, "submitted": 0 } }),
            json!({ "counts": { "performed": 1, "eligible": 1, "submitted": 1, "signed": true } }),
            json!({ "counts": { "performed": 1, "eligible": 1, "submitted": 1, "excluded": { "weather": 0 } } }),
        ] {
            let problem = member.send(&Asked::new("PUT", LINE).json(&body)).problem(422, "must_be_mended");
            assert!(Answer::mends(&problem)[0].0.starts_with("/counts"), "{problem}");
        }
        for path in ["/centres/S07/screening-log/2025Q5/af_first", "/centres/S07/screening-log/2025Q3/af"] {
            member.send(&Asked::new("PUT", path).json(&counts(1, 1, 1))).problem(404, "not_found");
        }
    }

    fn another_centres_log_is_neither_read_nor_written(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let theirs = "/centres/S08/screening-log/2025Q3/af_first";
        other(&served).send(&Asked::new("PUT", theirs).json(&counts(40, 36, 36))).expect(200);
        member.send(&Asked::new("PUT", theirs).json(&counts(1, 1, 1))).problem(404, "not_found");
        member.put(theirs, "\"r1\"", &counts(1, 1, 1)).problem(404, "not_found");
        assert_eq!(member.get("/screening-log").expect(200).json()["items"], json!([]));
        let investigator = central(&served, Role::Investigator);
        assert_eq!(investigator.get("/screening-log").expect(200).json()["items"].as_array().unwrap().len(), 1);
    }
}
