//! Hostile text: kept as it was written or refused with a sentence, never run and never
//! the end of the server.

use crate::network::{central, change, code, coordinator, submit, submitted};
use quietbeam_schema::access::Role;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

const HOSTILE: [&str; 14] = [
    "Robert'); DROP TABLE case_revision;--",
    "' OR '1'='1",
    "\" OR \"\"=\"",
    "1; SELECT pg_sleep(9)",
    "x' UNION SELECT password_hash FROM member --",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "{{7*7}}${7*7}<%= 7*7 %>",
    "../../etc/passwd",
    "=cmd|' /C calc'!A0",
    "zero\u{0}byte",
    "\u{202e}desrever\u{200b}",
    "%s%n%x %27 &quot; \\\\ \\u0000",
    "𝕌𝕟𝕚𝕔𝕠𝕕𝕖 ✓ é",
];

/// What was stored is what was sent; otherwise it was refused.
fn kept_or_refused(what: &str, sent: &str, answer: &quietbeam_tests::server::Answer, field: &str) -> bool {
    match answer.status {
        200 | 201 => {
            assert_eq!(answer.json().pointer(field), Some(&json!(sent)), "{what}");
            true
        }
        status => {
            assert!(matches!(status, 400 | 422), "{what} {sent:?}: {status} {}", answer.text());
            false
        }
    }
}

fn new_query(monitor: &SignedIn<'_>, code: &str) -> String {
    let question = json!({ "case_code": code, "sentence": "Is it right?" });
    monitor.post("/queries", &question).expect(201).json()["id"].as_str().unwrap().to_owned()
}

on_both_stores! {
    fn hostile_words_are_kept_as_written_or_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let (monitor, investigator) = (central(&served, Role::Monitor), central(&served, Role::Investigator));
        let administrator = central(&served, Role::Administrator);
        let code = submitted(&member);
        let query = new_query(&monitor, &code);
        let mut kept = 0;
        for (number, words) in HOSTILE.into_iter().enumerate() {
            let centre = json!({ "code": format!("S{}", 40 + number), "name": words, "region": words, "kind": "academic", "annual_volume": "200_499" });
            kept += u32::from(kept_or_refused("centre", words, &administrator.post("/centres", &centre), "/name"));
            let someone = json!({ "sign_in_name": format!("member.{number}"), "printed_name": words, "role": "monitor", "password": PASSWORD });
            kept += u32::from(kept_or_refused("member", words, &administrator.post("/members", &someone), "/printed_name"));
            kept += u32::from(kept_or_refused("cut", words, &investigator.post("/data-cuts", &json!({ "name": words })), "/name"));
            let question = json!({ "case_code": code, "field": words, "sentence": words });
            kept += u32::from(kept_or_refused("question", words, &monitor.post("/queries", &question), "/sentence"));
            let answer = Asked::new("POST", format!("/queries/{query}/answer")).json(&json!({ "answer": words }));
            kept += u32::from(kept_or_refused("answer", words, &member.send(&answer), "/stage/answer/text"));
            let named = json!({ "sign_in_name": words, "printed_name": "X", "role": "monitor", "password": PASSWORD });
            administrator.post("/members", &named).expect(422);
            served.stranger().post("/sessions", &json!({ "sign_in_name": words, "password": words })).expect(401);
            served.stranger().post("/sessions/refresh", &json!({ "refresh_token": words })).expect(401);
        }
        assert!(kept >= 30, "{kept}");
        assert_eq!(registry.raw().count("case_revision"), 1);
    }

    fn hostile_values_of_a_case_are_refused_or_kept(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let fields: Vec<String> = sample::conventional_case().as_object().unwrap().keys().cloned().collect();
        for field in &fields {
            for words in [HOSTILE[0], HOSTILE[5], HOSTILE[10]] {
                let case = sample::with(sample::conventional_case(), json!({ field: words }));
                let found = member.send(&Asked::new("POST", "/cases/check").json(&case)).expect(200).json();
                assert_eq!(found["acceptable"], false, "{field}");
                assert!(!found.to_string().contains(words), "{field}: {found}");
            }
        }
        let code = code(&submit(&member, &sample::conventional_case()));
        for (round, words) in HOSTILE.into_iter().enumerate() {
            let heavier = sample::with(sample::conventional_case(), json!({ "bmi": 20.0 + round as f64 / 4.0 }));
            let path = format!("/cases/{code}");
            let tag = member.get(&path).expect(200).etag();
            let changed = member.put(&path, &tag, &change(&heavier, words));
            let history = member.get(&format!("{path}/history")).expect(200).json();
            let last = history["revisions"].as_array().unwrap().last().unwrap()["reason"].clone();
            match changed.status {
                200 => assert_eq!(last, words),
                status => {
                    assert_eq!(status, 422, "{words:?}");
                    assert_ne!(last, words);
                }
            }
        }
    }

    /// The beam may not stay on at an odd number: numbers of every kind end in an answer.
    fn odd_numbers_end_in_an_answer(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for number in ["-1", "-0", "1e308", "1e-320", "99999999999999999999", "0.1e1", "1.5", "true", "null", "\"65\"", "[1]", "{}"] {
            for field in ["procedure_seq_for_patient", "bmi", "lvef", "air_kerma", "fluoro_time", "skin_to_skin_min", "veins_isolated"] {
                let mut case = sample::conventional_case();
                case[field] = Value::Null;
                let text = case.to_string().replace(&format!("\"{field}\":null"), &format!("\"{field}\":{number}"));
                member.send(&Asked::new("POST", "/cases/check").bytes("application/json", text)).expect(200);
            }
        }
        for body in ["{\"number\":1e2}", "{\"number\":1.0}", "{\"number\":-1}", "{\"number\":1e999}", "{\"number\":\"1\"}", "{\"number\":null}"] {
            let asked = Asked::new("POST", "/centres/S07/case-codes").new_key().bytes("application/json", body);
            let status = member.send(&asked).status;
            assert!(matches!(status, 201 | 400 | 422), "{body}: {status}");
        }
    }
}
