use crate::network::{central, code, coordinator, other, submit};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{with, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

fn ask(monitor: &SignedIn<'_>, code: &str) -> String {
    let question = json!({ "case_code": code, "field": "/bmi", "sentence": "Is the body mass index right?" });
    let raised = monitor.post("/queries", &question).expect(201);
    let id = raised.json()["id"].as_str().unwrap().to_owned();
    assert_eq!(raised.header("location").unwrap(), format!("/api/v1/queries/{id}"));
    format!("/queries/{id}")
}

fn step(member: &SignedIn<'_>, query: &str, step: &str, body: &Value) -> Answer {
    let path = format!("{query}/{step}");
    member.send(&if body.is_null() { Asked::new("POST", &path) } else { Asked::new("POST", &path).json(body) })
}

on_both_stores! {
    fn a_question_is_asked_answered_accepted_and_opened_again(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let monitor = central(&served, Role::Monitor);
        let query = ask(&monitor, &code(&submit(&member, &zero_fluoroscopy_case())));
        assert_eq!(member.get(&query).expect(200).json()["stage"]["state"], "open");
        let answer = json!({ "answer": "It is right, weighed on the day." });
        let answered = step(&member, &query, "answer", &answer).expect(200).json();
        assert_eq!(answered["stage"]["answer"]["text"], "It is right, weighed on the day.");
        let closed = step(&monitor, &query, "accept", &Value::Null).expect(200).json();
        assert_eq!(closed["stage"]["state"], "closed");
        step(&member, &query, "answer", &answer).problem(409, "illegal_step");
        let open = step(&monitor, &query, "reopen", &Value::Null).expect(200).json();
        assert_eq!(open["stage"]["state"], "open");
    }

    fn only_the_right_side_takes_each_step(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let monitor = central(&served, Role::Monitor);
        let code = code(&submit(&member, &zero_fluoroscopy_case()));
        let query = ask(&monitor, &code);
        let answer = json!({ "answer": "It is right." });
        step(&monitor, &query, "answer", &answer).problem(403, "not_allowed");
        for taken in ["accept", "reopen"] {
            step(&member, &query, taken, &Value::Null).problem(403, "not_allowed");
        }
        step(&monitor, &query, "accept", &Value::Null).problem(409, "illegal_step");
        step(&monitor, &query, "reopen", &Value::Null).problem(409, "illegal_step");
        let question = json!({ "case_code": code, "sentence": "Why?" });
        member.post("/queries", &question).problem(403, "not_allowed");
        let taken_back = step(&monitor, &query, "take-back", &json!({ "reason": "asked by mistake" })).expect(200);
        assert_eq!(taken_back.json()["stage"]["state"], "closed");
    }

    fn what_people_write_names_nobody(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let monitor = central(&served, Role::Monitor);
        let code = code(&submit(&member, &zero_fluoroscopy_case()));
        let query = ask(&monitor, &code);
        for text in ["", "   ", "Ask Mr John Smith", "call +44 20 7946 0958", "born 12/03/1961", &"x".repeat(1001)] {
            let problem = step(&member, &query, "answer", &json!({ "answer": text })).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, "/answer");
            assert!(!problem.to_string().contains("Smith"), "{problem}");
            let question = json!({ "case_code": code, "sentence": text });
            let problem = monitor.post("/queries", &question).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, "/sentence");
        }
    }

    fn another_centres_question_does_not_exist(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let monitor = central(&served, Role::Monitor);
        let theirs = ask(&monitor, &code(&submit(&other(&served), &zero_fluoroscopy_case())));
        member.get(&theirs).problem(404, "not_found");
        step(&member, &theirs, "answer", &json!({ "answer": "It is right." })).problem(404, "not_found");
        step(&member, &theirs, "answer", &json!({ "answer": "" })).problem(404, "not_found");
        assert_eq!(member.get("/queries").expect(200).json()["items"], json!([]));
        let never = json!({ "case_code": registry.codes("S07".parse().unwrap(), 1)[0], "sentence": "Is it right?" });
        monitor.post("/queries", &never).problem(404, "not_found");
    }

    /// A rule closes its own question once the value was mended; nobody has to answer.
    fn a_rule_settles_its_question_when_it_passes(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let odd = with(zero_fluoroscopy_case(), json!({ "procedure_seq_for_patient": 6 }));
        let code = code(&submit(&member, &odd));
        let list = format!("/queries?case_code={code}");
        let open = member.get(&list).expect(200).json()["items"].as_array().unwrap().len();
        assert!(open > 0);
        let change = json!({ "case": zero_fluoroscopy_case(), "reason": "number mistyped" });
        member.put(&format!("/cases/{code}"), "\"r1\"", &change).expect(200);
        let items = member.get(&list).expect(200).json()["items"].as_array().unwrap().clone();
        assert_eq!(items.len(), open);
        assert!(items.iter().all(|query| query["stage"]["why"] == "rule_passes"), "{items:?}");
        assert_eq!(member.get(&format!("{list}&state=open")).expect(200).json()["items"], json!([]));
        member.get("/queries?state=lost").problem(400, "bad_query");
    }
}
