//! The approvals of a centre, and the gate that they are for new cases.

use quietbeam::intake::FileKind;
use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_tests::server::{Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

use crate::network::{central, change, coordinator, only_mend, other, sheet, submit, submitted, text};

const DAY: i64 = 24 * 60 * 60;
const OWN: &str = "/centres/S07/approvals";

/// The tests begin on 25 November 2026; the typical case is of 2025Q3.
fn ethics(from: &str, until: &str) -> Value {
    json!({ "kind": "ethics_approval", "reference": "board file 7", "valid_from": from, "valid_until": until })
}

fn record(administrator: &SignedIn<'_>, approval: &Value) -> Value {
    administrator.post(OWN, approval).expect(201).json()
}

fn withdraw(id: &str, reason: &str) -> Asked {
    Asked::new("POST", format!("{OWN}/{id}/withdrawal")).json(&json!({ "reason": reason }))
}

on_both_stores! {
    fn an_approval_is_recorded_renewed_and_withdrawn_and_all_of_it_stays(registry) {
        let served = Served::new(registry);
        let (member, outsider) = (coordinator(&served), other(&served));
        let administrator = central(&served, Role::Administrator);
        let first = record(&administrator, &ethics("2025-01-01", "2026-12-31"));
        let mut renewal = ethics("2027-01-01", "2027-12-31");
        renewal["renews"] = first["id"].clone();
        let second = record(&administrator, &renewal);
        assert_eq!(second["renews"], first["id"]);
        let id = text(&second, "id");
        let without_reason = administrator.send(&withdraw(&id, " ")).problem(422, "must_be_mended");
        assert_eq!(only_mend(&without_reason), ("/reason".to_owned(), "reason_required".to_owned()));
        let taken_back = administrator.send(&withdraw(&id, "recorded too early")).expect(200).json();
        assert_eq!(taken_back["withdrawn_because"], "recorded too early");
        administrator.send(&withdraw(&id, "once more")).problem(409, "illegal_step");
        let listed = member.get(OWN).expect(200).json()["items"].clone();
        assert_eq!((&listed[0]["id"], &listed[1]["id"], &listed[1]["withdrawn_at"]), (&second["id"], &first["id"], &Value::Null));
        assert_eq!(listed[0]["withdrawn_because"], "recorded too early");
        for deed in [Deed::ApprovalRecorded, Deed::ApprovalRenewed, Deed::ApprovalWithdrawn] {
            let told: Vec<_> = registry.audit().into_iter().filter(|row| row.event.deed == deed).collect();
            assert_eq!(told.len(), 1, "{deed:?}");
            assert_eq!(told[0].event.centre, Some("S07".parse().unwrap()));
        }
        outsider.get(OWN).problem(404, "not_found");
        member.post(OWN, &ethics("2025-01-01", "2026-12-31")).problem(403, "not_allowed");
        for table in ["centre_approval", "approval_withdrawal"] {
            for statement in [format!("DELETE FROM {table}"), format!("UPDATE {table} SET actor = 'nobody'")] {
                let error = registry.raw().run(&statement).expect_err(&statement);
                assert!(error.contains("append-only"), "{statement}: {error}");
            }
        }
    }

    fn what_must_be_mended_in_an_approval_is_named(registry) {
        let served = Served::new(registry);
        coordinator(&served);
        other(&served);
        let administrator = central(&served, Role::Administrator);
        let first = record(&administrator, &ethics("2025-01-01", "2026-12-31"));
        for (key, value, pointer) in [
            ("reference", json!("  "), "/reference"),
            ("reference", json!("asked Dr Anna Smith"), "/reference"),
            ("valid_until", json!("2024-12-31"), "/valid_until"),
            ("valid_from", json!("31.12.2024"), "/valid_from"),
            ("kind", json!("promise"), "/kind"),
        ] {
            let mut wrong = ethics("2025-01-01", "2026-12-31");
            wrong[key] = value;
            let problem = administrator.post(OWN, &wrong).problem(422, "must_be_mended");
            assert_eq!(only_mend(&problem).0, pointer, "{problem}");
        }
        let mut another = ethics("2027-01-01", "2027-12-31");
        another["renews"] = first["id"].clone();
        another["kind"] = json!("data_agreement");
        let problem = administrator.post(OWN, &another).problem(422, "must_be_mended");
        assert_eq!(only_mend(&problem).0, "/kind");
        // An approval of one centre renews none of another.
        another["kind"] = json!("ethics_approval");
        administrator.post("/centres/S08/approvals", &another).problem(404, "not_found");
        administrator.post("/centres/S99/approvals", &ethics("2025-01-01", "2026-12-31")).problem(404, "not_found");
    }

    fn cases_are_taken_until_the_last_day_and_not_after_it(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        // Without any approval ever recorded nothing hangs on one.
        let before = submitted(&member);
        let administrator = central(&served, Role::Administrator);
        let approval = record(&administrator, &ethics("2025-07-01", "2026-11-25"));
        submit(&member, &sample::zero_fluoroscopy_case());
        let stored = registry.raw().count("case_revision");
        let earlier = sample::with(sample::zero_fluoroscopy_case(), json!({ "period": "2025Q2" }));
        let problem = member.post("/cases", &earlier).problem(403, "approval_expired");
        assert!(text(&problem, "detail").contains("does not cover the whole of 2025Q2"), "{problem}");

        registry.hand.advance(DAY);
        let member = served.sign_in("coordinator.s07");
        let problem = member.post("/cases", &sample::zero_fluoroscopy_case()).problem(403, "approval_expired");
        assert!(text(&problem, "detail").contains("ended on 2026-11-25"), "{problem}");
        let file = sheet(FileKind::Cases, &[sample::zero_fluoroscopy_case()]);
        let outcome = member.send(&Asked::new("POST", "/imports").files(&[("cases", file.as_slice())])).expect(200).json();
        assert_eq!(outcome["stored"], json!(false), "{outcome}");
        assert!(outcome.to_string().contains("ended on 2026-11-25"), "{outcome}");
        assert_eq!(registry.raw().count("case_revision"), stored);
        // What was sent before can still be corrected: safety goes before paper.
        let mended = sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": 26.1 }));
        member.put(&format!("/cases/{before}"), "\"r1\"", &change(&mended, "weighed again")).expect(200);

        let administrator = served.sign_in("administrator");
        let mut renewal = ethics("2026-11-26", "2027-11-25");
        renewal["renews"] = approval["id"].clone();
        let renewed = record(&administrator, &renewal);
        submit(&member, &sample::zero_fluoroscopy_case());
        administrator.send(&withdraw(&text(&renewed, "id"), "the board took it back")).expect(200);
        member.post("/cases", &sample::zero_fluoroscopy_case()).problem(403, "approval_expired");
    }
}
