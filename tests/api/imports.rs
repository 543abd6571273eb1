//! Files of a centre, sent as a form.

use crate::network::{coordinator, other, sheet, text};
use quietbeam::intake::FileKind;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, open_document, sample};
use rust_xlsxwriter::Workbook;
use serde_json::{Value, json};

fn case(changes: Value) -> Value {
    sample::with(sample::conventional_case(), changes)
}

fn send(member: &SignedIn<'_>, query: &str, files: &[(&str, &[u8])]) -> Answer {
    member.send(&Asked::new("POST", format!("/imports{query}")).files(files))
}

/// Workbooks of each kind with one sheet of cases.
fn workbooks(cases: &[Value]) -> [Vec<u8>; 2] {
    let rows = sheet(FileKind::Cases, cases);
    [office_open(&rows), open_document::workbook(&[("cases", &open_document::rows(&rows))])]
}

fn office_open(rows: &[u8]) -> Vec<u8> {
    let mut workbook = Workbook::new();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(rows);
    let sheet = workbook.add_worksheet().set_name("cases").unwrap();
    for (row, record) in (0..).zip(reader.records()) {
        for (column, field) in (0..).zip(record.unwrap().iter()) {
            sheet.write_string(row, column, field).unwrap();
        }
    }
    workbook.save_to_buffer().unwrap()
}

on_both_stores! {
    fn a_workbook_is_taken_in_once(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let [bytes, open] = workbooks(&[case(json!({ "follow_up": null }))]);
        for (stored, bytes) in [(1, &bytes), (2, &open)] {
            let outcome = send(&member, "", &[("workbook", bytes)]).expect(200).json();
            assert_eq!((&outcome["stored"], &outcome["changes"]["new"]), (&json!(true), &json!(1)), "{outcome}");
            let again = send(&member, "", &[("workbook", bytes)]).expect(200).json();
            assert_eq!(again["already_imported"], outcome["receipt"]);
            assert_eq!(registry.raw().count("case_revision"), stored);
        }
        let beside = send(&member, "", &[("workbook", &bytes), ("cases", b"x")]).problem(400, "broken_body");
        assert!(beside["detail"].as_str().unwrap().contains("a workbook alone"), "{beside}");
        let locked = send(&member, "", &[("workbook", b"\xD0\xCF\x11\xE0rest")]).problem(422, "must_be_mended");
        assert!(locked["detail"].as_str().unwrap().contains("password"), "{locked}");
    }

    fn the_template_is_given_to_everyone(registry) {
        let served = Served::new(registry);
        let answer = served.stranger().get("/dictionary/workbook").expect(200);
        assert!(answer.header("content-disposition").unwrap().contains("quietbeam-cases.xlsx"));
        assert!(answer.header("content-type").unwrap().contains("spreadsheetml.sheet"));
    }

    fn a_dry_run_reports_and_stores_nothing(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let cases = sheet(FileKind::Cases, &[case(json!({})), case(json!({ "sex": "q" }))]);
        let outcome = send(&member, "?dry_run=true", &[("cases", &cases)]).expect(200).json();
        assert_eq!((&outcome["stored"], &outcome["receipt"]), (&json!(false), &Value::Null));
        let problem = &outcome["report"]["problems"][0];
        assert_eq!((&problem["row"], &problem["line"], &problem["column"]), (&json!(2), &json!(3), &json!("sex")), "{outcome}");
        assert_eq!(registry.raw().count("case_revision"), 0);
        assert_eq!(member.get("/imports").expect(200).json()["items"], json!([]));
    }

    fn three_files_are_taken_in_together_and_once(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let issued = member.post("/centres/S07/case-codes", &json!({ "number": 1 })).expect(201).json();
        let code = issued["codes"][0].clone();
        let affected = sample::case_with_seen_effusion();
        let mut event = affected["complications"][0].clone();
        event["case_code"] = code.clone();
        let mut seen = affected["follow_up"].clone();
        seen["case_code"] = code.clone();
        let mut row = sample::with(affected, json!({ "complications": null, "follow_up": null }));
        row["case_code"] = code.clone();
        let cases = sheet(FileKind::Cases, &[row, case(json!({ "follow_up": null }))]);
        let (events, follow_ups) = (sheet(FileKind::Complications, &[event]), sheet(FileKind::FollowUps, &[seen]));
        let files: [(&str, &[u8]); 3] = [("follow_ups", &follow_ups), ("cases", &cases), ("complications", &events)];
        let outcome = send(&member, "", &files).expect(200).json();
        assert_eq!((&outcome["stored"], &outcome["changes"]["new"]), (&json!(true), &json!(2)), "{outcome}");
        let stored = member.get(&format!("/cases/{}", code.as_str().unwrap())).expect(200).json();
        assert_eq!(stored["record"]["complications"][0]["ae_code"], "effusion");
        assert_eq!(stored["record"]["follow_up"]["fu30_day"], 33);

        let again = send(&member, "", &files).expect(200).json();
        assert_eq!((&again["stored"], &again["already_imported"]), (&json!(false), &outcome["receipt"]));
        assert_eq!(again["changes"]["codes"], outcome["changes"]["codes"]);
        assert_eq!(registry.raw().count("case_revision"), 2);
        let receipts = member.get("/imports").expect(200).json();
        assert_eq!(receipts["items"].as_array().unwrap().len(), 1);
        assert_eq!(receipts["items"][0]["id"], outcome["receipt"]);
        assert_eq!(text(&receipts["items"][0], "centre"), "S07");
    }

    fn one_bad_row_keeps_all_out_unless_good_rows_are_asked_for(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let cases = sheet(FileKind::Cases, &[case(json!({})), case(json!({ "sex": "q" }))]);
        let outcome = send(&member, "", &[("cases", &cases)]).expect(200).json();
        assert_eq!(outcome["stored"], false);
        assert_eq!(registry.raw().count("case_revision"), 0);
        let outcome = send(&member, "?accept_good_rows=true", &[("cases", &cases)]).expect(200).json();
        assert_eq!((&outcome["stored"], &outcome["changes"]["new"]), (&json!(true), &json!(1)));
        send(&member, "?accept_good_rows=true&dry_run=true", &[("cases", &cases)]).problem(400, "bad_query");
    }

    fn a_file_that_is_none_is_reported_not_stored(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let whole = sheet(FileKind::Cases, &[case(json!({}))]);
        let bars = String::from_utf8(whole.clone()).unwrap().replace(',', "|");
        let mut broken = whole.clone();
        broken.extend_from_slice(b"\x81\n");
        let mut nul = whole.clone();
        nul.extend_from_slice(b"a\0b\n");
        for (what, bytes) in [
            ("empty", &b""[..]),
            ("other delimiter", bars.as_bytes()),
            ("unknown column", b"period,shoe_size\n2025Q3,43\n"),
            ("column twice", b"period,period\n2025Q3,2025Q3\n"),
            ("no text", &broken),
            ("NUL", &nul),
        ] {
            let outcome = send(&member, "?accept_good_rows=true", &[("cases", bytes)]).expect(200).json();
            assert_eq!((&outcome["report"]["refused_whole"], &outcome["stored"]), (&json!(true), &json!(false)), "{what}: {outcome}");
            assert!(!outcome["report"]["problems"].as_array().unwrap().is_empty(), "{what}: {outcome}");
        }
        let header_only = sheet(FileKind::Cases, &[]);
        let outcome = send(&member, "", &[("cases", &header_only)]).expect(200).json();
        assert_eq!(outcome["stored"], false);
        assert_eq!(registry.raw().count("case_revision"), 0);
        // A file larger than a JSON body may be is nothing special.
        let many = sheet(FileKind::Cases, &vec![case(json!({})); 300]);
        assert!(many.len() > 64 * 1024);
        let outcome = send(&member, "", &[("cases", &many)]).expect(200).json();
        assert_eq!(outcome["changes"]["new"], 300);
    }

    fn a_form_must_name_its_parts(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let cases = sheet(FileKind::Cases, &[case(json!({}))]);
        send(&member, "", &[]).problem(400, "broken_body");
        send(&member, "", &[("patients", &cases)]).problem(400, "broken_body");
        send(&member, "", &[("cases", &cases), ("cases", &cases)]).problem(400, "broken_body");
        let post = |kind: &str, bytes: &[u8]| member.send(&Asked::new("POST", "/imports").bytes(kind, bytes));
        post("multipart/form-data", b"x").problem(400, "broken_body");
        post("multipart/form-data; boundary=edge", b"--edge\r\nContent-Disposition: form-data; name=\"cases\"\r\n\r\nperiod").problem(400, "broken_body");
        post("multipart/form-data; boundary=edge", b"").problem(400, "broken_body");
        assert!((400..=415).contains(&post("text/csv", &cases).status));
        assert!((400..=415).contains(&post("application/json", b"{}").status));
        assert_eq!(registry.raw().count("case_revision"), 0);
    }

    fn files_go_to_the_own_centre_alone(registry) {
        let served = Served::new(registry);
        let (member, outsider) = (coordinator(&served), other(&served));
        let cases = sheet(FileKind::Cases, &[case(json!({}))]);
        send(&member, "?centre=S08", &[("cases", &cases)]).problem(404, "not_found");
        send(&member, "?centre=S99", &[("cases", &cases)]).problem(404, "not_found");
        // Another centre's code in a row is a code that was never issued here.
        let issued = member.post("/centres/S07/case-codes", &json!({ "number": 1 })).expect(201).json();
        let borrowed = sheet(FileKind::Cases, &[case(json!({ "case_code": issued["codes"][0] }))]);
        let outcome = send(&outsider, "", &[("cases", &borrowed)]).expect(200).json();
        assert_eq!(outcome["stored"], false, "{outcome}");
        let own = send(&member, "?centre=S07", &[("cases", &borrowed)]).expect(200).json();
        assert_eq!(own["stored"], true);
        // And the same rows once more from outside change nothing of it.
        let changed = sheet(FileKind::Cases, &[case(json!({ "case_code": issued["codes"][0], "bmi": 44, "change_reason": "not mine" }))]);
        assert_eq!(send(&outsider, "", &[("cases", &changed)]).expect(200).json()["stored"], false);
        assert_eq!(registry.raw().count("case_revision"), 1);
    }
}
