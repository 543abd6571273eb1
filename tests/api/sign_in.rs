//! Signing in and out, and the own account.

use crate::network::{central, coordinator};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use serde_json::json;

on_both_stores! {
    fn a_member_signs_in_reads_the_own_account_and_signs_out(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let me = member.get("/me").expect(200).json();
        assert_eq!(me["sign_in_name"], "coordinator.s07");
        assert_eq!(me["role"], "coordinator");
        assert_eq!(me["centres"], json!(["S07"]));
        member.send(&Asked::new("DELETE", "/sessions/current")).expect(204);
        member.get("/me").problem(401, "signed_out");
        let refresh = json!({ "refresh_token": member.refresh_token });
        served.stranger().post("/sessions/refresh", &refresh).problem(401, "sign_in_failed");
    }

    /// Unknown name, wrong password and disabled member must not be told apart.
    fn nobody_learns_why_a_sign_in_failed(registry) {
        let served = Served::new(registry);
        coordinator(&served);
        let administrator = central(&served, Role::Administrator);
        let disabled = served.desk.member("gone", Role::Monitor, &[]);
        let path = format!("/members/{disabled}");
        let etag = administrator.get(&path).expect(200).etag();
        administrator.put(&format!("{path}/enabled"), &etag, &json!({ "enabled": false })).expect(200);
        let attempt = |name: &str, password: &str| {
            let body = json!({ "sign_in_name": name, "password": password });
            let mut problem = served.stranger().post("/sessions", &body).problem(401, "sign_in_failed");
            problem.as_object_mut().unwrap().remove("instance");
            problem
        };
        let wrong = attempt("coordinator.s07", "quite another sentence");
        assert_eq!(attempt("nobody.here", PASSWORD), wrong);
        assert_eq!(attempt("no such name, and no name at all", PASSWORD), wrong);
        assert_eq!(attempt("gone", PASSWORD), wrong);
        assert_eq!(attempt("coordinator.s07", &"x".repeat(300)), wrong);
    }

    fn a_refresh_token_serves_once_and_its_reuse_ends_the_sign_in(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let stranger = served.stranger();
        let first = json!({ "refresh_token": member.refresh_token });
        let granted = stranger.post("/sessions/refresh", &first).expect(200).json();
        let renewed = member.with_token(granted["access_token"].as_str().unwrap());
        renewed.get("/me").expect(200);
        // An answer that got lost may be asked for again at once; later it is theft.
        registry.hand.advance(11);
        stranger.post("/sessions/refresh", &first).problem(401, "sign_in_failed");
        renewed.get("/me").problem(401, "signed_out");
        let second = json!({ "refresh_token": granted["refresh_token"] });
        stranger.post("/sessions/refresh", &second).problem(401, "sign_in_failed");
    }

    fn a_new_password_ends_every_sign_in(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let elsewhere = served.sign_in("coordinator.s07");
        let change = |present: &str, new: &str| {
            member.send(&Asked::new("PUT", "/me/password").json(&json!({ "present": present, "new": new })))
        };
        let problem = change(PASSWORD, "too short").problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem), [("/new".to_owned(), "password".to_owned())]);
        let problem = change("not the present one", "another good sentence").problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem), [("/present".to_owned(), "password".to_owned())]);
        change(PASSWORD, "another good sentence").expect(204);
        for old in [&member, &elsewhere] {
            old.get("/me").problem(401, "signed_out");
        }
        let body = json!({ "sign_in_name": "coordinator.s07", "password": "another good sentence" });
        served.stranger().post("/sessions", &body).expect(200);
    }

    /// Mass assignment: nothing but the own password can be changed by the member.
    fn nobody_gives_the_own_account_another_role(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let raise = json!({ "role": "administrator" });
        member.send(&Asked::new("PATCH", "/me").json(&raise)).problem(405, "method_not_allowed");
        for field in ["role", "Role", "roles", "centres"] {
            let body = json!({ "present": PASSWORD, "new": "another good sentence", field: "administrator" });
            let problem = member.send(&Asked::new("PUT", "/me/password").json(&body)).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem), [(format!("/{field}"), "unknown_field".to_owned())]);
        }
        assert_eq!(member.get("/me").expect(200).json()["role"], "coordinator");
    }

    /// The token names the sign-in only; what the member may do is read at each request.
    fn a_demoted_member_is_stopped_at_the_next_request(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        let id = served.desk.member("monitor.a", Role::Monitor, &[]);
        let monitor = served.sign_in("monitor.a");
        monitor.get("/queries").expect(200);
        let etag = administrator.get(&format!("/members/{id}")).expect(200).etag();
        let demoted = json!({ "role": "society" });
        administrator.put(&format!("/members/{id}/membership"), &etag, &demoted).expect(200);
        monitor.get("/queries").problem(401, "signed_out");
        served.sign_in("monitor.a").get("/queries").problem(403, "not_allowed");
    }
}
