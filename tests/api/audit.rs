//! The trail: each route that changes something adds exactly its deeds, with who and why;
//! what is refused adds nothing.

use std::collections::BTreeSet;

use crate::network::{central, change, coordinator, sheet, step, text};
use quietbeam::intake::FileKind;
use quietbeam_schema::access::Role;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

/// Sends requests and holds the trail to what each of them should add.
struct Witness<'s> {
    served: &'s Served<'s>,
    routes: BTreeSet<String>,
}

impl Witness<'_> {
    fn events(&self) -> u64 {
        self.served.registry.raw().count("audit_event")
    }

    /// The newest deeds, oldest first.
    fn deeds_since(&self, before: u64) -> Vec<String> {
        let new = usize::try_from(self.events() - before).unwrap();
        let rows = self.served.registry.audit();
        rows[..new].iter().rev().map(|row| row.event.deed.name().to_owned()).collect()
    }

    /// Sends what must succeed, and says what came back.
    fn sees(&mut self, route: &str, asked: impl FnOnce() -> Answer, deeds: &[&str]) -> Answer {
        let before = self.events();
        let answer = asked();
        assert!(answer.status < 300, "{route}: {}", answer.text());
        assert_eq!(self.deeds_since(before), deeds, "{route}");
        if !deeds.is_empty() {
            let newest = &self.served.registry.audit()[0];
            assert_eq!(Some(newest.request_id.as_str()), answer.header("x-request-id"), "{route}");
        }
        self.routes.insert(route.to_owned());
        answer
    }
}

fn put(person: &SignedIn<'_>, path: &str, etag: Option<&str>, body: &Value) -> Answer {
    let asked = Asked::new("PUT", path).json(body);
    person.send(&etag.into_iter().fold(asked, |asked, etag| asked.if_match(etag)))
}

fn cases(witness: &mut Witness<'_>, member: &SignedIn<'_>) -> String {
    let case = sample::zero_fluoroscopy_case();
    witness.sees("POST /cases/check", || member.send(&Asked::new("POST", "/cases/check").json(&case)), &[]);
    let report = include_bytes!("../intake/dose_reports/single_plane.dcm").as_slice();
    let sent = Asked::new("POST", "/dose-reports").bytes("application/dicom", report);
    witness.sees("POST /dose-reports", || member.send(&sent), &[]);
    let rows = json!({ "columns": ["x", "n"], "rows": [[3, 120]] });
    let asked = Asked::new("POST", "/calculations/wilson").json(&rows);
    witness.sees("POST /calculations/{method}", || member.send(&asked), &[]);
    let codes = json!({ "number": 3 });
    witness.sees(
        "POST /centres/{code}/case-codes",
        || member.post("/centres/S07/case-codes", &codes),
        &["case_codes_issued"],
    );
    let odd = sample::with(sample::conventional_case(), json!({ "air_kerma": 9.0, "kap": 81.0 }));
    let made = witness.sees(
        "POST /cases",
        || member.post("/cases", &odd),
        &["case_codes_issued", "case_submitted", "query_raised"],
    );
    let code = text(&made.json(), "code");
    let path = format!("/cases/{code}");
    let mended = change(&sample::conventional_case(), "read from the console again");
    witness.sees(
        "PUT /cases/{code}",
        || put(member, &path, Some("\"r1\""), &mended),
        &["case_changed", "query_closed"],
    );
    let seen = sample::with(case["follow_up"].clone(), json!({ "fu30_day": 36 }));
    let body = json!({ "follow_up": seen, "reason": "day was misread" });
    witness.sees(
        "PUT /cases/{code}/follow-up",
        || put(member, &format!("{path}/follow-up"), Some("\"r2\""), &body),
        &["follow_up_recorded"],
    );
    let file = "period,strategy_intended\n2025Q3,zero\n";
    let form = Asked::new("POST", "/imports").files(&[("cases", file.as_bytes())]);
    witness.sees("POST /imports", || member.send(&form), &[]);
    import_jobs(witness, member);
    code
}

fn import_jobs(witness: &mut Witness<'_>, member: &SignedIn<'_>) {
    let case = sample::with(sample::conventional_case(), json!({ "follow_up": null }));
    let file = sheet(FileKind::Cases, &[case]);
    let begin = || member.send(&Asked::new("POST", "/import-jobs").new_key().files(&[("cases", &file)]));
    let mut begun = || witness.sees("POST /import-jobs", begin, &["import_begun"]);
    let (kept, dropped) = (text(&begun().json(), "id"), text(&begun().json(), "id"));
    let address = format!("/import-jobs/{kept}");
    let etag = member.get(&address).expect(200).etag();
    let step = |step: &str| {
        member.send(&Asked::new("POST", format!("{address}/{step}")).if_match(&etag).json(&json!({})))
    };
    witness.sees("POST /import-jobs/{id}/answers", || step("answers"), &[]);
    // The work itself is done in the name of the job.
    let before = witness.events();
    step("store").expect(200);
    assert_eq!(witness.deeds_since(before), ["case_codes_issued", "case_submitted", "files_imported"]);
    assert_eq!(witness.served.registry.audit()[0].request_id, format!("import job {kept}"));
    witness.routes.insert("POST /import-jobs/{id}/store".to_owned());
    let drop = Asked::new("DELETE", format!("/import-jobs/{dropped}"));
    witness.sees("DELETE /import-jobs/{id}", || member.send(&drop), &["import_dropped"]);
}

fn centre(
    witness: &mut Witness<'_>,
    administrator: &SignedIn<'_>,
    member: &SignedIn<'_>,
    lead: &SignedIn<'_>,
) {
    let new = json!({ "code": "S31", "name": "House", "kind": "academic", "annual_volume": "200_499" });
    let made = witness.sees("POST /centres", || administrator.post("/centres", &new), &["centre_created"]);
    let other = json!({ "name": "House on the hill", "kind": "academic", "annual_volume": "200_499" });
    witness.sees(
        "PUT /centres/{code}",
        || put(administrator, "/centres/S31", Some(&made.etag()), &other),
        &["centre_changed"],
    );
    let room = json!({ "kap_unit": "uGy.m2", "air_kerma_shown": true });
    witness.sees(
        "PUT /centres/{code}/rooms/{room}",
        || put(administrator, "/centres/S31/rooms/R1", None, &room),
        &["room_recorded"],
    );
    let approval = json!({ "kind": "ethics_approval", "reference": "board file 7", "valid_from": "2010-01-01", "valid_until": "2099-12-31" });
    let path = "/centres/S31/approvals";
    let recorded = witness.sees(
        "POST /centres/{code}/approvals",
        || administrator.post(path, &approval),
        &["approval_recorded"],
    );
    let withdrawal = Asked::new("POST", format!("{path}/{}/withdrawal", text(&recorded.json(), "id")))
        .json(&json!({ "reason": "recorded twice" }));
    witness.sees(
        "POST /centres/{code}/approvals/{id}/withdrawal",
        || administrator.send(&withdrawal),
        &["approval_withdrawn"],
    );
    let line = "/centres/S07/screening-log/2026Q3/svt";
    let counts = json!({ "counts": { "performed": 4, "eligible": 4, "submitted": 4 } });
    let template = "/centres/{code}/screening-log/{period}/{group}";
    witness.sees(&format!("PUT {template}"), || put(member, line, None, &counts), &["screening_recorded"]);
    let signature = Asked::new("POST", format!("{line}/signature"))
        .if_match("\"r1\"")
        .json(&json!({ "password": PASSWORD }));
    witness.sees(&format!("POST {template}/signature"), || lead.send(&signature), &["screening_signed"]);
}

fn questions(witness: &mut Witness<'_>, monitor: &SignedIn<'_>, member: &SignedIn<'_>, code: &str) {
    let question = json!({ "case_code": code, "sentence": "Is the weight right?" });
    let made = witness.sees("POST /queries", || monitor.post("/queries", &question), &["query_raised"]);
    let path = format!("/queries/{}", text(&made.json(), "id"));
    let send = |person: &SignedIn<'_>, to: &str, body: Value| {
        person.send(&Asked::new("POST", format!("{path}/{to}")).json(&body))
    };
    witness.sees(
        "POST /queries/{id}/answer",
        || send(member, "answer", json!({ "answer": "Yes." })),
        &["query_answered"],
    );
    witness.sees("POST /queries/{id}/accept", || step(monitor, &format!("{path}/accept")), &["query_closed"]);
    witness.sees(
        "POST /queries/{id}/reopen",
        || send(monitor, "reopen", json!({ "sentence": "Weighed when?" })),
        &["query_reopened"],
    );
    witness.sees(
        "POST /queries/{id}/take-back",
        || send(monitor, "take-back", json!({ "reason": "asked twice" })),
        &["query_closed"],
    );
}

fn judging(witness: &mut Witness<'_>, member: &SignedIn<'_>) {
    member.post("/cases", &sample::case_with_tamponade()).expect(201);
    let judge = central(witness.served, Role::Adjudicator);
    let docket = judge.get("/adjudication/events").expect(200).json();
    let path = format!("/adjudication/events/{}/judgement", text(&docket["items"][0], "event"));
    let said = json!({ "ruling": "major", "sentence": "it needed drainage" });
    witness.sees(
        "POST /adjudication/events/{event}/judgement",
        || judge.post(&path, &said),
        &["event_judged"],
    );
}

fn study(witness: &mut Witness<'_>, monitor: &SignedIn<'_>) {
    let served = witness.served;
    let investigator = central(served, Role::Investigator);
    let (author, publisher) =
        (served.member("author", Role::Society, &[]), served.member("publisher", Role::Society, &[]));
    let plan = quietbeam_tests::plan::plan();
    let registered = witness.sees("POST /plans", || investigator.post("/plans", &plan), &["plan_registered"]);
    let mut amended = plan.clone();
    amended["level"] = json!(0.99);
    let path = format!("/plans/{}/amendments", text(&registered.json(), "id"));
    witness.sees(
        "POST /plans/{id}/amendments",
        || investigator.post(&path, &json!({ "plan": amended, "reason": "a stricter level" })),
        &["plan_amended"],
    );
    let cut = witness.sees(
        "POST /data-cuts",
        || investigator.post("/data-cuts", &json!({ "name": "first" })),
        &["data_cut_taken"],
    );
    let id = text(&cut.json(), "id");
    let path = format!("/data-cuts/{id}/comparisons");
    witness.sees(
        "POST /data-cuts/{id}/comparisons",
        || investigator.post(&path, &json!({})),
        &["comparison_run"],
    );
    let planned =
        investigator.post(&path, &json!({ "plan": text(&registered.json(), "id") })).expect(201).json();
    let path = format!("/comparisons/{}/checklist/23", text(&planned, "id"));
    let body = json!({ "text": "No funding, no conflicts of interest." });
    witness.sees(
        "PUT /comparisons/{id}/checklist/{item}",
        || put(&investigator, &path, None, &body),
        &["report_written"],
    );
    let draft = witness.sees(
        "POST /summary-drafts",
        || author.post("/summary-drafts", &json!({ "data_cut": id })),
        &["summary_drafted"],
    );
    let path = format!("/summary-drafts/{}", text(&draft.json(), "id"));
    let approval = Asked::new("POST", format!("{path}/approval")).if_match(&draft.etag());
    witness.sees("POST /summary-drafts/{id}/approval", || monitor.send(&approval), &["summary_approved"]);
    witness.sees(
        "POST /summary-drafts/{id}/publication",
        || step(&publisher, &format!("{path}/publication")),
        &["summary_published"],
    );
    let withdrawal =
        Asked::new("POST", format!("{path}/withdrawal")).json(&json!({ "reason": "counted twice" }));
    witness.sees(
        "POST /summary-drafts/{id}/withdrawal",
        || publisher.send(&withdrawal),
        &["summary_withdrawn"],
    );
}

fn people(witness: &mut Witness<'_>, administrator: &SignedIn<'_>) {
    let stranger = witness.served.stranger();
    let new =
        json!({ "sign_in_name": "new.one", "printed_name": "N", "role": "monitor", "password": PASSWORD });
    let made = witness.sees("POST /members", || administrator.post("/members", &new), &["member_created"]);
    let path = format!("/members/{}", text(&made.json(), "id"));
    let enable = |etag: &str, enabled: bool| {
        put(administrator, &format!("{path}/enabled"), Some(etag), &json!({ "enabled": enabled }))
    };
    let off = witness.sees("PUT /members/{id}/enabled", || enable(&made.etag(), false), &["member_disabled"]);
    let on = witness.sees("PUT /members/{id}/enabled", || enable(&off.etag(), true), &["member_enabled"]);
    let moved = json!({ "role": "society" });
    witness.sees(
        "PUT /members/{id}/membership",
        || put(administrator, &format!("{path}/membership"), Some(&on.etag()), &moved),
        &["member_changed"],
    );
    let sign_in =
        Asked::new("POST", "/sessions").json(&json!({ "sign_in_name": "new.one", "password": PASSWORD }));
    let granted = witness.sees("POST /sessions", || stranger.send(&sign_in), &["signed_in"]).json();
    let refresh =
        Asked::new("POST", "/sessions/refresh").json(&json!({ "refresh_token": granted["refresh_token"] }));
    witness.sees("POST /sessions/refresh", || stranger.send(&refresh), &[]);
    let member = administrator.with_token(text(&granted, "access_token"));
    let password = json!({ "present": PASSWORD, "new": "another good sentence" });
    witness.sees("PUT /me/password", || put(&member, "/me/password", None, &password), &["password_changed"]);
    let sign_in = Asked::new("POST", "/sessions")
        .json(&json!({ "sign_in_name": "new.one", "password": "another good sentence" }));
    let granted = stranger.send(&sign_in).expect(200).json();
    let member = administrator.with_token(text(&granted, "access_token"));
    witness.sees(
        "DELETE /sessions/current",
        || member.send(&Asked::new("DELETE", "/sessions/current")),
        &["signed_out"],
    );
}

on_both_stores! {
    fn each_route_that_changes_something_leaves_its_deeds(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let lead = served.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
        let (monitor, administrator) = (central(&served, Role::Monitor), central(&served, Role::Administrator));
        let mut witness = Witness { served: &served, routes: BTreeSet::new() };
        let code = cases(&mut witness, &member);
        centre(&mut witness, &administrator, &member, &lead);
        questions(&mut witness, &monitor, &member, &code);
        judging(&mut witness, &member);
        study(&mut witness, &monitor);
        people(&mut witness, &administrator);

        let document = served.stranger().get("/openapi.json").expect(200).json();
        let mut changing = BTreeSet::new();
        for (path, item) in document["paths"].as_object().unwrap() {
            for method in item.as_object().unwrap().keys().filter(|method| *method != "get") {
                changing.insert(format!("{} {}", method.to_uppercase(), path.trim_start_matches("/api/v1")));
            }
        }
        assert_eq!(witness.routes, changing);
    }

    fn what_is_refused_or_read_leaves_nothing(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let code = crate::network::submitted(&member);
        let before = registry.raw().count("audit_event");
        member.get("/cases").expect(200);
        member.get(&format!("/cases/{code}")).expect(200);
        member.post("/cases", &json!({})).expect(422);
        member.put(&format!("/cases/{code}"), "\"r9\"", &change(&sample::conventional_case(), "other")).expect(412);
        member.post("/data-cuts", &json!({ "name": "mine" })).expect(403);
        served.stranger().get("/cases").expect(401);
        assert_eq!(registry.raw().count("audit_event"), before);
        // But a failed sign-in is noted, without the name that was tried.
        let wrong = json!({ "sign_in_name": "coordinator.s07", "password": "some other sentence" });
        served.stranger().post("/sessions", &wrong).expect(401);
        let rows = registry.audit();
        assert_eq!((rows[0].event.deed.name(), registry.raw().count("audit_event")), ("sign_in_failed", before + 1));
    }

    fn the_trail_says_who_and_why_and_no_clinical_value(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let code = crate::network::submitted(&member);
        let heavier = sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": 33.3 }));
        let changed = member.put(&format!("/cases/{code}"), "\"r1\"", &change(&heavier, "weighed again")).expect(200);
        let administrator = central(&served, Role::Administrator);
        let trail = administrator.get(&format!("/audit?subject=case&subject_id={code}")).expect(200).json();
        let event = &trail["items"][0];
        let me = member.get("/me").expect(200).json();
        assert_eq!((&event["by"], &event["role"], &event["deed"]), (&me["id"], &json!("coordinator"), &json!("case_changed")));
        assert_eq!((&event["reason"], &event["revision"], &event["centre"]), (&json!("weighed again"), &json!(2), &json!("S07")));
        assert_eq!(event["request_id"], json!(changed.header("x-request-id")));
        assert!(!trail.to_string().contains("33.3"), "{trail}");
    }
}
