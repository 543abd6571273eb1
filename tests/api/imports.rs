use crate::network::{central, coordinator, other};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{conventional_case, with, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

/// Cases as delimited text, without complications and follow-up.
fn file(cases: &[Value]) -> String {
    let mut keys: Vec<String> = Vec::new();
    for case in cases {
        for key in case.as_object().unwrap().keys() {
            if !keys.contains(key) && key != "follow_up" && key != "complications" {
                keys.push(key.clone());
            }
        }
    }
    let text = |value: &Value| match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(|item| item.as_str().unwrap()).collect::<Vec<_>>().join(";"),
        other => other.to_string(),
    };
    let rows = cases.iter().map(|case| {
        keys.iter().map(|key| text(&case[key])).collect::<Vec<_>>().join(",")
    });
    std::iter::once(keys.join(",")).chain(rows).collect::<Vec<_>>().join("\n") + "\n"
}

fn case() -> Value {
    with(zero_fluoroscopy_case(), json!({ "follow_up": null }))
}

fn send(member: &SignedIn<'_>, query: &str, parts: &[(&str, &[u8])]) -> Answer {
    let mut body = Vec::new();
    for (name, bytes) in parts {
        body.extend_from_slice(format!("--frontier\r\nContent-Disposition: form-data; name=\"{name}\"; filename=\"{name}.csv\"\r\nContent-Type: text/csv\r\n\r\n").as_bytes());
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--frontier--\r\n");
    let path = format!("/imports{query}");
    member.send(&Asked::new("POST", &path).bytes("multipart/form-data; boundary=frontier", body))
}

fn stored(member: &SignedIn<'_>) -> usize {
    member.get("/cases").expect(200).json()["items"].as_array().unwrap().len()
}

on_both_stores! {
    fn a_dry_run_stores_nothing_and_the_real_one_everything(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let cases = file(&[case(), with(conventional_case(), json!({ "follow_up": null }))]);
        let parts: &[(&str, &[u8])] = &[("cases", cases.as_bytes())];
        let dry = send(&member, "?dry_run=true", parts).expect(200).json();
        assert_eq!((dry["stored"].as_bool(), dry["changes"]["new"].as_u64()), (Some(false), Some(2)), "{dry}");
        assert_eq!(stored(&member), 0);
        let real = send(&member, "", parts).expect(200).json();
        assert_eq!(real["stored"], true, "{real}");
        assert_eq!(real["changes"]["codes"].as_array().unwrap().len(), 2);
        assert_eq!(stored(&member), 2);
        let again = send(&member, "", parts).expect(200).json();
        assert_eq!(again["stored"], false);
        assert_eq!(again["already_imported"], real["receipt"]);
        assert_eq!(stored(&member), 2);
        let receipts = member.get("/imports").expect(200).json();
        assert_eq!(receipts["items"][0]["id"], real["receipt"]);
    }

    fn one_bad_row_keeps_all_out_unless_good_rows_are_wanted(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let cases = file(&[case(), with(case(), json!({ "sex": "unclear?" }))]);
        let parts: &[(&str, &[u8])] = &[("cases", cases.as_bytes())];
        let refused = send(&member, "", parts).expect(200).json();
        assert_eq!(refused["stored"], false);
        let problem = &refused["report"]["problems"][0];
        assert_eq!((problem["row"].as_u64(), problem["column"].as_str()), (Some(2), Some("sex")), "{refused}");
        assert_eq!(stored(&member), 0);
        let good = send(&member, "?accept_good_rows=true", parts).expect(200).json();
        assert_eq!(good["stored"], true, "{good}");
        assert_eq!(stored(&member), 1);
        send(&member, "?accept_good_rows=true&dry_run=true", parts).problem(400, "bad_query");
    }

    fn a_file_that_is_none_is_told_with_its_mend(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let good = file(&[case()]);
        for (bytes, rule) in [
            (Vec::new(), "empty_file"),
            (good.lines().next().unwrap().as_bytes().to_vec(), "header_only"),
            (good.replace(',', ";;").into_bytes(), "wrong_delimiter"),
            (good.replacen("sex", "gender", 1).into_bytes(), "unknown_column"),
            (good.replacen("sex", "bmi", 1).into_bytes(), "duplicate_column"),
            (good.replacen("elective", "\u{0}", 1).into_bytes(), "nul"),
        ] {
            let outcome = send(&member, "", &[("cases", &bytes)]).expect(200).json();
            assert_eq!(outcome["stored"], false, "{rule}: {outcome}");
            let problems = outcome["report"]["problems"].as_array().unwrap();
            assert!(!problems.is_empty(), "{rule}: {outcome}");
            assert!(problems.iter().all(|problem| !problem["sentence"].as_str().unwrap().is_empty()));
        }
        assert_eq!(stored(&member), 0);
    }

    fn parts_have_their_names_once(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let cases = file(&[case()]);
        let bytes = cases.as_bytes();
        send(&member, "", &[]).problem(400, "broken_body");
        send(&member, "", &[("patients", bytes)]).problem(400, "broken_body");
        send(&member, "", &[("cases", bytes), ("cases", bytes)]).problem(400, "broken_body");
        let plain = Asked::new("POST", "/imports").bytes("text/csv", bytes.to_vec());
        let answer = member.send(&plain);
        assert!(matches!(answer.status, 400 | 415), "{}", answer.text());
        answer.checked_problem();
        let cut_off = Asked::new("POST", "/imports").bytes("multipart/form-data; boundary=frontier", b"--frontier\r\n".to_vec());
        member.send(&cut_off).problem(400, "broken_body");
        assert_eq!(stored(&member), 0);
    }

    fn files_go_to_the_own_centre_alone(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let other = other(&served);
        let cases = file(&[case()]);
        let parts: &[(&str, &[u8])] = &[("cases", cases.as_bytes())];
        send(&member, "?centre=S08", parts).problem(404, "not_found");
        send(&member, "?centre=S99", parts).problem(404, "not_found");
        send(&central(&served, Role::Monitor), "?centre=S07", parts).problem(403, "not_allowed");
        let codes = other.post("/centres/S08/case-codes", &json!({ "number": 1 })).expect(201).json();
        let stolen = file(&[with(case(), json!({ "case_code": codes["codes"][0] }))]);
        let outcome = send(&member, "", &[("cases", stolen.as_bytes())]);
        assert!(outcome.status == 404 || outcome.json()["stored"] == false, "{}", outcome.text());
        assert_eq!((stored(&member), stored(&other)), (0, 0));
    }
}
