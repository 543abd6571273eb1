//! Files that are looked through, mended and only then stored, by a program.

use crate::network::{central, coordinator, only_mend, other, sheet, text};
use quietbeam::intake::FileKind;
use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::time::{Duration, Instant};

fn case(changes: Value) -> Value {
    sample::with(sample::with(sample::conventional_case(), json!({ "follow_up": null })), changes)
}

fn cases(rows: &[Value]) -> Vec<u8> {
    sheet(FileKind::Cases, rows)
}

fn begin(member: &SignedIn<'_>, bytes: &[u8]) -> Answer {
    member.send(&Asked::new("POST", "/import-jobs").new_key().files(&[("cases", bytes)]))
}

/// A job that was looked through, and its address.
fn begun(member: &SignedIn<'_>, bytes: &[u8]) -> (String, Answer) {
    let begun = begin(member, bytes).expect(201);
    let address = format!("/import-jobs/{}", text(&begun.json(), "id"));
    assert_eq!(begun.header("location"), Some(format!("/api/v1{address}").as_str()));
    let job = member.get(&address).expect(200);
    assert_eq!(text(&job.json(), "stage"), "checked", "{}", job.json());
    (address, job)
}

fn step(member: &SignedIn<'_>, address: &str, etag: &str, body: &Value) -> Answer {
    member.send(&Asked::new("POST", address).if_match(etag).json(body))
}

on_both_stores! {
    fn a_file_is_looked_through_mended_and_stored(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let file = cases(&[case(json!({})), case(json!({ "sex": "q", "bmi": 31 })), case(json!({ "sex": "q", "bmi": 28 }))]);
        let (address, job) = begun(&member, &file);
        let (etag, job) = (job.etag(), job.json());
        assert_eq!((&job["rows"], &job["centre"], &job["files"][0]["name"]), (&json!(3), &json!("S07"), &json!("cases.csv")));
        assert_eq!((&job["found"]["refused"], &job["found"]["rows"]["ready"]), (&json!(2), &json!(1)), "{job}");
        assert_eq!((&job["receipt"], &job["failure"]), (&Value::Null, &Value::Null));
        let group = &job["found"]["groups"][0];
        assert_eq!((&group["column"], &group["rows"], &group["cell"]), (&json!("sex"), &json!([2, 3]), &json!("q")), "{group}");
        assert_eq!(registry.raw().count("case_revision"), 0);

        let store = format!("{address}/store");
        let refused = step(&member, &store, &etag, &json!({})).problem(409, "illegal_step");
        assert!(refused["detail"].as_str().unwrap().contains("Mend the rows first"), "{refused}");
        let answers = format!("{address}/answers");
        member.send(&Asked::new("POST", answers.as_str()).json(&json!({}))).problem(428, "if_match_required");
        let nowhere = json!({ "mends": [{ "group": 9, "text": "m" }] });
        assert_eq!(only_mend(&step(&member, &answers, &etag, &nowhere).problem(422, "must_be_mended")).0, "/mends");
        let no_unit = json!({ "unit": "parsec" });
        assert_eq!(only_mend(&step(&member, &answers, &etag, &no_unit).problem(422, "must_be_mended")).0, "/unit");
        step(&member, &answers, &etag, &json!({ "mend": [] })).problem(422, "must_be_mended");

        let mended = step(&member, &answers, &etag, &json!({ "mends": [{ "group": 0, "text": "f" }] })).expect(200);
        assert_eq!((&mended.json()["stage"], &mended.json()["found"]["refused"]), (&json!("checked"), &json!(0)), "{}", mended.json());
        assert_ne!(mended.etag(), etag);
        step(&member, &store, &etag, &json!({})).problem(412, "stale");
        step(&member, &answers, &etag, &json!({})).problem(412, "stale");
        let stored = step(&member, &store, &mended.etag(), &json!({})).expect(200).json();
        assert_eq!((&stored["stage"], &stored["came_before"], &stored["found"]), (&json!("stored"), &json!(false), &Value::Null));
        assert_eq!(registry.raw().count("case_revision"), 3);
        assert_eq!(member.get("/imports").expect(200).json()["items"][0]["id"], stored["receipt"]);
        let after = member.get(&address).expect(200);
        step(&member, &store, &after.etag(), &json!({})).problem(409, "illegal_step");
        member.send(&Asked::new("DELETE", address.as_str())).problem(409, "race");
        assert_eq!(member.get("/import-jobs").expect(200).json()["items"][0]["stage"], "stored");
    }

    fn the_good_rows_can_be_stored_alone_and_a_job_can_be_thrown_away(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let (address, job) = begun(&member, &cases(&[case(json!({})), case(json!({ "sex": "q" }))]));
        let good = json!({ "accept_good_rows": true });
        let stored = step(&member, &format!("{address}/store"), &job.etag(), &good).expect(200).json();
        assert_eq!(stored["stage"], "stored");
        assert_eq!(registry.raw().count("case_revision"), 1);
        let (address, _) = begun(&member, &cases(&[case(json!({ "bmi": 33 }))]));
        assert_eq!(member.send(&Asked::new("DELETE", address.as_str())).expect(204).text(), "");
        member.get(&address).problem(404, "not_found");
        member.send(&Asked::new("DELETE", address.as_str())).problem(404, "not_found");
        assert_eq!(registry.raw().count("import_job_file"), 0);
    }

    fn columns_and_units_are_asked_about_first(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let text_of = String::from_utf8(cases(&[case(json!({ "air_kerma": 25.5, "air_kerma_unit": null }))])).unwrap();
        let mut lines = text_of.lines();
        let file = format!("{},shoe_size\n{},43\n", lines.next().unwrap(), lines.next().unwrap());
        let (address, job) = begun(&member, file.as_bytes());
        let found = job.json();
        assert_eq!(found["files"][0]["without_field"], json!(["shoe_size"]), "{found}");
        assert_eq!(found["found"]["question"]["key"], "air_kerma", "{found}");
        let store = format!("{address}/store");
        let refused = step(&member, &store, &job.etag(), &json!({})).problem(409, "illegal_step");
        assert!(refused["detail"].as_str().unwrap().contains("which unit"), "{refused}");
        let answers = format!("{address}/answers");
        let unit = step(&member, &answers, &job.etag(), &json!({ "unit": "mGy" })).expect(200);
        let refused = step(&member, &store, &unit.etag(), &json!({})).problem(409, "illegal_step");
        assert!(refused["detail"].as_str().unwrap().contains("left out"), "{refused}");
        let rest = step(&member, &answers, &unit.etag(), &json!({ "leave_out": true })).expect(200);
        assert_eq!(step(&member, &store, &rest.etag(), &json!({})).expect(200).json()["stage"], "stored");
        let code = member.get("/cases").expect(200).json()["items"][0]["code"].as_str().unwrap().to_owned();
        let stored = member.get(&format!("/cases/{code}")).expect(200).json();
        let kerma = [&stored["record"]["air_kerma"], &stored["record"]["air_kerma_unit"]];
        assert_eq!(kerma, [&json!(25.5), &json!("mGy")], "{stored}");
    }

    fn a_repeated_beginning_is_one_job(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let file = cases(&[case(json!({}))]);
        let asked = Asked::new("POST", "/import-jobs").new_key();
        let send = |bytes: &[u8]| member.send(&asked.clone().files(&[("cases", bytes)]));
        let (first, again) = (send(&file).expect(201), send(&file).expect(201));
        assert_eq!((first.json(), first.etag()), (again.json(), again.etag()));
        send(&cases(&[case(json!({ "bmi": 40 }))])).problem(422, "idempotency_key_reused");
        member.send(&Asked::new("POST", "/import-jobs").files(&[("cases", &file)])).problem(400, "idempotency_key_required");
        assert_eq!(registry.raw().count("import_job"), 1);
        // The very files that were stored are told as such.
        let address = format!("/import-jobs/{}", text(&first.json(), "id"));
        let etag = member.get(&address).expect(200).etag();
        let stored = step(&member, &format!("{address}/store"), &etag, &json!({})).expect(200).json();
        let second = begin(&member, &file).expect(201).json();
        let second = member.get(&format!("/import-jobs/{}", text(&second, "id"))).expect(200).json();
        assert_eq!((&second["stage"], &second["came_before"], &second["receipt"]), (&json!("stored"), &json!(true), &stored["receipt"]));
        assert_eq!(registry.raw().count("case_revision"), 1);
    }

    fn what_is_no_table_is_refused_and_what_points_to_a_person_is_not_kept(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        assert_eq!(only_mend(&begin(&member, b"").problem(422, "must_be_mended")).0, "/cases");
        assert_eq!(only_mend(&begin(&member, b"PK\x03\x04rest").problem(422, "must_be_mended")).0, "/cases");
        let named = Asked::new("POST", "/import-jobs").new_key().files(&[("patients", b"x")]);
        member.send(&named).problem(400, "broken_body");
        assert_eq!(registry.raw().count("import_job"), 0);
        let told = "Seen by Dr. Ada Lovelace on 17.08.2025, tel. 030 1234567";
        let (_, job) = begun(&member, &cases(&[case(json!({ "bmi": 33, "sex": told }))]));
        assert!(!job.text().contains("Lovelace"), "{}", job.text());
        assert_eq!(job.json()["found"]["groups"][0]["withheld"], true, "{}", job.json());
        assert!(!registry.raw().everything().contains("Lovelace"));
    }

    fn another_centres_job_is_not_there(registry) {
        let served = Served::new(registry);
        let (member, outsider, monitor) = (coordinator(&served), other(&served), central(&served, Role::Monitor));
        let (address, job) = begun(&member, &cases(&[case(json!({}))]));
        outsider.get(&address).problem(404, "not_found");
        step(&outsider, &format!("{address}/store"), &job.etag(), &json!({})).problem(404, "not_found");
        step(&outsider, &format!("{address}/answers"), &job.etag(), &json!({})).problem(404, "not_found");
        outsider.send(&Asked::new("DELETE", address.as_str())).problem(404, "not_found");
        assert_eq!(outsider.get("/import-jobs").expect(200).json(), json!({ "items": [] }));
        let theirs = Asked::new("POST", "/import-jobs?centre=S07").new_key().files(&[("cases", &cases(&[case(json!({}))]))]);
        outsider.send(&theirs).problem(404, "not_found");
        monitor.get(&address).problem(403, "not_allowed");
        assert_eq!(member.get(&address).expect(200).etag(), job.etag());
    }

    /// More than is done while its author waits.
    fn a_large_file_is_taken_up_by_the_server(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let rows: Vec<Value> = (0..2_500).map(|n| case(json!({ "skin_to_skin_min": 60 + n % 200 }))).collect();
        let file = cases(&rows);
        assert!(file.len() > 512 * 1024, "{}", file.len());
        let begun = begin(&member, &file).expect(201).json();
        assert_eq!((&begun["stage"], &begun["rows"]), (&json!("checking"), &json!(2_500)));
        let address = format!("/import-jobs/{}", text(&begun, "id"));
        let mut looked = Vec::new();
        let checked = wait_for(&member, &address, "checked", |done| looked.push(done));
        assert!(looked.is_sorted(), "it went back: {looked:?}");
        assert_eq!(checked.json()["found"]["refused"], 0, "{:.600}", checked.text());
        step(&member, &format!("{address}/store"), &checked.etag(), &json!({})).expect(200);
        // How far it is moves while the rows are stored, which is one transaction.
        let mut told = Vec::new();
        wait_for(&member, &address, "stored", |done| told.push(done));
        assert!(told.is_sorted(), "it went back: {told:?}");
        let told: BTreeSet<u64> = told.into_iter().collect();
        // Never more than there is.
        assert!(told.iter().all(|done| *done <= 2_500), "{told:?}");
        assert!(told.range(1..1_250).next().is_some(), "{told:?}");
        assert!(told.range(1_500..2_500).next().is_some(), "{told:?}");
        assert_eq!(registry.raw().count("case_revision"), 2_500);
    }
}

/// Reads a job until it is at this stage; before that, hands on the rows that are done.
fn wait_for(member: &SignedIn<'_>, address: &str, stage: &str, mut before: impl FnMut(u64)) -> Answer {
    let begin = Instant::now();
    loop {
        let job = member.get(address).expect(200);
        let told = job.json();
        if text(&told, "stage") == stage {
            return job;
        }
        before(told["rows_done"].as_u64().unwrap());
        assert!(begin.elapsed() < Duration::from_secs(120), "{stage} never came: {:.600}", job.text());
    }
}
