//! Questions about cases: raised by rules and monitors, answered by the centre, closed.

use crate::network::{central, change, code, coordinator, only_mend, other, step, submit, submitted, text};
use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

fn raise(monitor: &SignedIn<'_>, code: &str) -> String {
    let question = json!({ "case_code": code, "field": "/bmi", "sentence": "Is the weight right?" });
    text(&monitor.post("/queries", &question).expect(201).json(), "id")
}

fn answer(member: &SignedIn<'_>, id: &str) -> Value {
    let body = json!({ "answer": "Yes, it was weighed again." });
    member.send(&Asked::new("POST", format!("/queries/{id}/answer")).json(&body)).expect(200).json()
}

/// Air kerma and kerma-area product that do not go together are asked about.
fn odd_case() -> Value {
    sample::with(sample::conventional_case(), json!({ "air_kerma": 9.0, "kap": 81.0 }))
}

on_both_stores! {
    fn a_monitor_asks_the_centre_answers_the_monitor_accepts(registry) {
        let served = Served::new(registry);
        let (member, monitor) = (coordinator(&served), central(&served, Role::Monitor));
        let code = submitted(&member);
        let id = raise(&monitor, &code);
        let path = format!("/queries/{id}");
        let asked = member.get(&path).expect(200).json();
        assert_eq!((text(&asked, "case_code"), text(&asked["stage"], "state")), (code.clone(), "open".to_owned()));
        assert_eq!((&asked["rule"], text(&asked, "field")), (&Value::Null, "/bmi".to_owned()));
        step(&monitor, &format!("{path}/accept")).problem(409, "illegal_step");
        assert_eq!(answer(&member, &id)["stage"]["state"], "answered");
        let retold = Asked::new("POST", format!("{path}/answer")).json(&json!({ "answer": "And again." }));
        assert_eq!(member.send(&retold).expect(200).json()["stage"]["answer"]["text"], "And again.");
        assert_eq!(step(&monitor, &format!("{path}/accept")).expect(200).json()["stage"]["state"], "closed");
        step(&monitor, &format!("{path}/accept")).problem(409, "illegal_step");
        member.send(&retold).problem(409, "illegal_step");
        let again = |sentence: &str| {
            monitor.send(&Asked::new("POST", format!("{path}/reopen")).json(&json!({ "sentence": sentence })))
        };
        assert_eq!(only_mend(&again(" ").problem(422, "must_be_mended")).0, "/sentence");
        let stage = again("On which scales?").expect(200).json()["stage"].clone();
        assert_eq!((&stage["state"], &stage["again"]["sentence"]), (&json!("open"), &json!("On which scales?")));
        assert_eq!(stage["again"]["answer"]["text"], "And again.");
        let back = |reason: &str| monitor.send(&Asked::new("POST", format!("{path}/take-back")).json(&json!({ "reason": reason })));
        assert_eq!(only_mend(&back("  ").problem(422, "must_be_mended")).0, "/reason");
        let closed = back("asked by mistake").expect(200).json();
        assert_eq!(closed["stage"]["why"], json!({ "taken_back": "asked by mistake" }), "{closed}");
    }

    fn lists_are_narrowed_by_stage_case_and_centre(registry) {
        let served = Served::new(registry);
        let (member, monitor) = (coordinator(&served), central(&served, Role::Monitor));
        let outsider = other(&served);
        let (first, second) = (submitted(&member), submitted(&outsider));
        let id = raise(&monitor, &first);
        raise(&monitor, &second);
        answer(&member, &id);
        let number = |person: &SignedIn<'_>, query: &str| {
            person.get(&format!("/queries{query}")).expect(200).json()["items"].as_array().unwrap().len()
        };
        assert_eq!((number(&monitor, ""), number(&member, ""), number(&outsider, "")), (2, 1, 1));
        assert_eq!((number(&monitor, "?state=open"), number(&monitor, "?state=answered"), number(&monitor, "?state=closed")), (1, 1, 0));
        assert_eq!(number(&monitor, &format!("?case_code={first}")), 1);
        assert_eq!(number(&outsider, &format!("?case_code={first}")), 0);
        assert_eq!((number(&monitor, "?centre=S08"), number(&outsider, "?centre=S07")), (1, 0));
    }

    fn a_rule_asks_and_is_content_when_the_case_is_mended(registry) {
        let served = Served::new(registry);
        let (member, monitor) = (coordinator(&served), central(&served, Role::Monitor));
        let made = submit(&member, &odd_case());
        let told = made.json()["to_answer"].as_array().unwrap().len();
        assert_eq!(told, 1, "{}", made.text());
        let code = code(&made);
        let open = member.get(&format!("/queries?case_code={code}&state=open")).expect(200).json();
        let asked = &open["items"][0];
        assert_eq!(asked["rule"], made.json()["to_answer"][0]["rule"]);
        assert_eq!(asked["sentence"], made.json()["to_answer"][0]["sentence"]);
        let path = format!("/cases/{code}");
        member.put(&path, "\"r1\"", &change(&sample::conventional_case(), "read from the console again")).expect(200);
        let id = text(asked, "id");
        let closed = monitor.get(&format!("/queries/{id}")).expect(200).json();
        assert_eq!((&closed["stage"]["state"], &closed["stage"]["why"]), (&json!("closed"), &json!("rule_passes")), "{closed}");
        // Odd again: asked again.
        let again = member.put(&path, "\"r2\"", &change(&odd_case(), "the first reading was right")).expect(200).json();
        assert_eq!(again["to_answer"].as_array().unwrap().len(), 1);
        let open = member.get(&format!("/queries?case_code={code}&state=open")).expect(200).json();
        assert_eq!(open["items"].as_array().unwrap().len(), 1);
    }

    fn what_people_write_is_screened(registry) {
        let served = Served::new(registry);
        let (member, monitor) = (coordinator(&served), central(&served, Role::Monitor));
        let code = submitted(&member);
        let id = raise(&monitor, &code);
        for naming in ["Mr John Smith 12/03/1961 555-0199", "", " ", "two\nlines", &"x".repeat(1_001)] {
            let body = json!({ "answer": naming });
            let problem = member.send(&Asked::new("POST", format!("/queries/{id}/answer")).json(&body)).problem(422, "must_be_mended");
            assert_eq!(only_mend(&problem).0, "/answer");
            assert!(naming.trim().is_empty() || !problem.to_string().contains(naming), "{problem}");
            let question = json!({ "case_code": code, "sentence": naming });
            assert_eq!(only_mend(&monitor.post("/queries", &question).problem(422, "must_be_mended")).0, "/sentence");
        }
        monitor.post("/queries", &json!({ "case_code": "23456789AB", "sentence": "Why?" })).expect(422);
        let never = quietbeam_schema::ids::CaseCode::from_random([9; 16]);
        monitor.post("/queries", &json!({ "case_code": never, "sentence": "Is it right?" })).problem(404, "not_found");
    }
}
