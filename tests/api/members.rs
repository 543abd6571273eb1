//! Members: created, given roles and centres, disabled.

use crate::network::{central, coordinator, own};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use serde_json::json;

on_both_stores! {
    fn an_administrator_creates_members_who_can_sign_in(registry) {
        let served = Served::new(registry);
        own(&served);
        let administrator = central(&served, Role::Administrator);
        let body = json!({
            "sign_in_name": "new.one", "printed_name": "Dr New One", "role": "coordinator",
            "centres": ["S07"], "password": PASSWORD
        });
        let created = administrator.post("/members", &body).expect(201);
        let location = created.header("location").unwrap().trim_start_matches("/api/v1").to_owned();
        let read = administrator.get(&location).expect(200);
        assert_eq!(read.json(), created.json());
        assert_eq!(read.etag(), created.etag());
        assert!(!read.text().contains("password"), "{}", read.text());
        assert_eq!(served.sign_in("new.one").get("/me").expect(200).json()["role"], "coordinator");
        administrator.post("/members", &body).problem(409, "taken");
        assert_eq!(administrator.get("/members").expect(200).json()["items"].as_array().unwrap().len(), 2);
    }

    fn each_wrong_field_of_a_member_is_named(registry) {
        let served = Served::new(registry);
        own(&served);
        let administrator = central(&served, Role::Administrator);
        let good = json!({
            "sign_in_name": "new.one", "printed_name": "Dr New One", "role": "coordinator",
            "centres": ["S07"], "password": PASSWORD
        });
        for (field, value) in [
            ("sign_in_name", json!("a b")),
            ("printed_name", json!("")),
            ("role", json!("nurse")),
            ("centres", json!([])),
            ("password", json!("short")),
            ("password", json!("aaaaaaaaaaaaaaaaaaaa")),
            ("id", json!("x")),
            ("enabled", json!(true)),
        ] {
            let mut body = good.clone();
            body[field] = value;
            let problem = administrator.post("/members", &body).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, format!("/{field}"), "{problem}");
        }
        let mut central_with_centre = good.clone();
        central_with_centre["role"] = json!("monitor");
        administrator.post("/members", &central_with_centre).problem(422, "must_be_mended");
        let mut elsewhere = good;
        elsewhere["centres"] = json!(["S99"]);
        let status = administrator.post("/members", &elsewhere).status;
        assert!(matches!(status, 404 | 422), "{status}");
    }

    fn a_membership_changes_from_the_version_that_was_read(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        let id = served.desk.member("monitor.a", Role::Monitor, &[]);
        let path = format!("/members/{id}");
        let etag = administrator.get(&path).expect(200).etag();
        let body = json!({ "role": "investigator" });
        let membership = format!("{path}/membership");
        administrator.send(&Asked::new("PUT", &membership).json(&body)).problem(428, "if_match_required");
        administrator.put(&membership, "\"other\"", &body).problem(412, "stale");
        let changed = administrator.put(&membership, &etag, &body).expect(200);
        assert_eq!(changed.json()["role"], "investigator");
        assert_ne!(changed.etag(), etag);
        administrator.put(&membership, &etag, &body).problem(412, "stale");
        administrator.get("/members/01900000-0000-7000-8000-000000000000").problem(404, "not_found");
    }

    fn nobody_changes_the_own_role_and_the_last_administrator_stays(registry) {
        let served = Served::new(registry);
        let first = served.desk.member("first", Role::Administrator, &[]);
        let first_path = format!("/members/{first}");
        let administrator = served.sign_in("first");
        let etag = administrator.get(&first_path).expect(200).etag();
        let demote = json!({ "role": "monitor" });
        administrator.put(&format!("{first_path}/membership"), &etag, &demote).problem(409, "illegal_step");
        let off = json!({ "enabled": false });
        administrator.put(&format!("{first_path}/enabled"), &etag, &off).problem(409, "illegal_step");
        administrator.get("/members").expect(200);
    }

    fn a_disabled_member_is_out_at_once_and_can_come_back(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        let member = coordinator(&served);
        let id = member.get("/me").expect(200).json()["id"].as_str().unwrap().to_owned();
        let path = format!("/members/{id}");
        let etag = administrator.get(&path).expect(200).etag();
        let off = administrator.put(&format!("{path}/enabled"), &etag, &json!({ "enabled": false })).expect(200);
        member.get("/me").problem(401, "signed_out");
        let body = json!({ "sign_in_name": "coordinator.s07", "password": PASSWORD });
        served.stranger().post("/sessions", &body).problem(401, "sign_in_failed");
        administrator.put(&format!("{path}/enabled"), &off.etag(), &json!({ "enabled": true })).expect(200);
        served.sign_in("coordinator.s07").get("/me").expect(200);
    }
}
