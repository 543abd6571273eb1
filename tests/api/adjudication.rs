//! Events before their judges, over the API: what they see, who decides, and what a cut keeps.

use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

use crate::network::{at_once, central, change, code, coordinator, submit, submitted, text};

fn judges<'s>(served: &'s Served<'_>) -> [SignedIn<'s>; 3] {
    ["one", "two", "three"].map(|name| served.member(name, Role::Adjudicator, &[]))
}

fn waiting(judge: &SignedIn<'_>) -> Vec<String> {
    let docket = judge.get("/adjudication/events").expect(200).json();
    docket["items"].as_array().unwrap().iter().map(|item| text(item, "event")).collect()
}

fn say(judge: &SignedIn<'_>, event: &str, ruling: &str) -> Answer {
    let body = json!({ "ruling": ruling, "sentence": "as the facts tell" });
    judge.post(&format!("/adjudication/events/{event}/judgement"), &body)
}

fn progress(monitor: &SignedIn<'_>) -> Vec<Value> {
    monitor.get("/adjudication/progress").expect(200).json()["items"].as_array().unwrap().clone()
}

on_both_stores! {
    fn a_judge_sees_nothing_that_tells_the_arm(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let [judge, ..] = judges(&served);
        submitted(&member);
        let sent = sample::with(sample::case_with_tamponade(), json!({ "comment": "secret words", "op_code": "O77" }));
        let code = code(&submit(&member, &sent));
        let docket = judge.get("/adjudication/events").expect(200);
        let shown = docket.text();
        let docket = docket.json();
        assert_eq!(docket["items"].as_array().unwrap().len(), 1, "{docket}");
        let event = &docket["items"][0];
        assert_eq!(event["of_event"]["ae_code"], json!("tamponade"), "{docket}");
        assert_eq!(event["of_case"]["proc_primary"], sent["proc_primary"], "{docket}");
        let never = [
            code.as_str(), "S07", "O77", "secret words", "strategy", "fluoro", "kerma", "kap", "ice", "detect", "effusion_mm",
            "relatedness_xray", "severity", "period",
        ];
        for word in never {
            assert!(!shown.contains(word), "{word} is shown: {shown}");
        }
        // Nor anywhere else.
        judge.get(&format!("/cases/{code}")).problem(403, "not_allowed");
        judge.get("/adjudication/progress").problem(403, "not_allowed");
        let monitor = central(&served, Role::Monitor);
        monitor.get("/adjudication/events").problem(403, "not_allowed");
        member.get("/adjudication/events").problem(403, "not_allowed");
        served.stranger().get("/adjudication/events").problem(401, "signed_out");
    }

    fn two_decide_and_a_third_where_they_differ(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let monitor = central(&served, Role::Monitor);
        let [one, two, three] = judges(&served);
        submit(&member, &sample::case_with_tamponade());
        submit(&member, &sample::case_with_seen_effusion());
        let events = waiting(&one);
        assert_eq!(events.len(), 2);
        let [agreed, differing] = [&events[0], &events[1]];
        let kept = say(&one, agreed, "minor").expect(201).json();
        assert_eq!((&kept["event"], &kept["ruling"]), (&json!(agreed), &json!("minor")), "{kept}");
        // Nobody judges twice, and nobody is told what was said.
        say(&one, agreed, "major").problem(409, "illegal_step");
        assert_eq!(waiting(&one), std::slice::from_ref(differing));
        assert!(!two.get("/adjudication/events").expect(200).text().contains("as the facts tell"));
        say(&two, agreed, "minor").expect(201);
        say(&three, agreed, "major").problem(409, "illegal_step");
        say(&one, differing, "major").expect(201);
        say(&two, differing, "no_harm").expect(201);
        let open: Vec<_> = progress(&monitor).into_iter().filter(|event| event["stands"] == "open").collect();
        assert_eq!((open.len(), &open[0]["judgements"]), (1, &json!(2)));
        assert_eq!(waiting(&three), std::slice::from_ref(differing));
        say(&three, differing, "no_harm").expect(201);
        assert_eq!(waiting(&three), [] as [String; 0]);
        let fourth = served.member("four", Role::Adjudicator, &[]);
        assert_eq!(waiting(&fourth), [] as [String; 0]);
        say(&fourth, differing, "major").problem(409, "illegal_step");
        let mut stands: Vec<(String, Value)> =
            progress(&monitor).iter().map(|event| (text(event, "stands"), event["ruling"].clone())).collect();
        stands.sort_by(|one, other| one.0.cmp(&other.0));
        assert_eq!(stands, [("by_third".to_owned(), json!("no_harm")), ("by_two".to_owned(), json!("minor"))]);
        let told = registry.audit();
        assert_eq!(told.iter().filter(|row| row.event.deed == Deed::EventJudged).count(), 5);
    }

    fn a_correction_is_judged_anew(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let [one, two, _] = judges(&served);
        let case = sample::case_with_tamponade();
        let sent = submit(&member, &case);
        let (code, etag) = (code(&sent), sent.etag());
        let before = waiting(&one).remove(0);
        say(&one, &before, "major").expect(201);
        say(&two, &before, "major").expect(201);
        // What no judge sees may be corrected: the event is the same.
        let put = |case: &Value, etag: &str| {
            let asked = Asked::new("PUT", format!("/cases/{code}")).if_match(etag).json(&change(case, "looked up"));
            member.send(&asked).expect(200)
        };
        let mut unseen = case.clone();
        unseen["bmi"] = json!(31);
        let etag = put(&unseen, &etag).etag();
        assert_eq!(waiting(&one), [] as [String; 0]);
        let mut seen = unseen.clone();
        seen["complications"][0]["los_extra_days"] = json!(8);
        put(&seen, &etag);
        let after = waiting(&one);
        assert!(after.len() == 1 && after[0] != before, "{after:?}");
        // Whoever still has the old one before them is told.
        let third = served.member("four", Role::Adjudicator, &[]);
        say(&third, &before, "minor").problem(409, "illegal_step");
    }

    fn a_ruling_that_says_nothing_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let [one, ..] = judges(&served);
        submit(&member, &sample::case_with_tamponade());
        let path = format!("/adjudication/events/{}/judgement", waiting(&one).remove(0));
        for (body, field) in [
            (json!({ "ruling": "major", "sentence": " " }), "/sentence"),
            (json!({ "ruling": "major", "sentence": "x".repeat(501) }), "/sentence"),
            (json!({ "ruling": "major", "sentence": "Dr. Erna Example said so" }), "/sentence"),
            (json!({ "ruling": "dreadful", "sentence": "as the facts tell" }), "/ruling"),
        ] {
            let answer = one.post(&path, &body);
            let problem = answer.json();
            assert!(answer.status == 422 && problem.to_string().contains(field), "{body}: {problem}");
        }
        say(&one, "0000", "major").problem(409, "illegal_step");
        assert_eq!(registry.raw().count("judgement"), 0);
    }

    fn of_many_at_once_two_are_heard(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        submit(&member, &sample::case_with_tamponade());
        let judges: Vec<_> =
            (0..6).map(|number| served.member(&format!("judge{number}"), Role::Adjudicator, &[])).collect();
        let event = waiting(&judges[0]).remove(0);
        let statuses = at_once(6, |number| say(&judges[number], &event, "major").status);
        let heard = statuses.iter().filter(|status| **status == 201).count();
        assert_eq!(heard, registry.raw().count("judgement") as usize, "{statuses:?}");
        assert!(heard >= 1 && statuses.iter().all(|status| [201, 409].contains(status)), "{statuses:?}");
        // Whoever lost the race sees what is left.
        for judge in &judges {
            if waiting(judge).contains(&event) {
                say(judge, &event, "major").expect(201);
            }
        }
        assert_eq!(registry.raw().count("judgement"), 2);
    }

    fn a_cut_keeps_what_was_said_before_it(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        let [one, two, _] = judges(&served);
        for _ in 0..3 {
            submit(&member, &sample::case_with_tamponade());
            submit(&member, &sample::conventional_case());
        }
        let report = |name: &str| {
            // A plan of its own for each: under the same one the second cut would be a further look.
            let plan = text(&investigator.post("/plans", &quietbeam_tests::plan::plan()).expect(201).json(), "id");
            let cut = investigator.post("/data-cuts", &json!({ "name": name })).expect(201).json();
            let path = format!("/data-cuts/{}/comparisons", text(&cut, "id"));
            let comparison = investigator.post(&path, &json!({ "plan": plan })).expect(201).json();
            let path = format!("/comparisons/{}/report", text(&comparison, "id"));
            (text(&cut, "content_hash"), path.clone(), investigator.get(&path).expect(200).json())
        };
        let (hash, path, before) = report("first");
        let events = &before["adjudication"]["events"];
        assert_eq!((&events["zero_fluoroscopy"]["reported"], &events["zero_fluoroscopy"]["settled"]), (&json!(3), &json!(0)), "{events}");
        let event = waiting(&one).remove(0);
        say(&one, &event, "minor").expect(201);
        say(&two, &event, "minor").expect(201);
        assert_eq!(investigator.get(&path).expect(200).json(), before, "what a cut did not take in changes nothing");
        let (later, _, after) = report("second");
        assert_ne!(hash, later, "the judgements stand in the hash of a cut");
        let arm = &after["adjudication"]["events"]["zero_fluoroscopy"];
        assert_eq!((&arm["settled"], &arm["lowered"]), (&json!(1), &json!(1)), "{arm}");
        assert_eq!((&arm["major_by_record"], &arm["major_as_judged"]), (&json!(3), &json!(2)), "{arm}");
        let told = text(&after["adjudication"], "in_words");
        assert!(told.contains("Of 3 events reported, 1 were judged"), "{told}");
    }
}

on_both_stores! {
    fn a_death_that_the_follow_up_alone_tells_is_judged(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let investigator = central(&served, Role::Investigator);
        let monitor = central(&served, Role::Monitor);
        let [one, two, three] = judges(&served);
        let dead = json!({ "fu30_status": "dead", "death": "yes", "death_day": 9, "death_cause": "noncardiac" });
        submit(&member, &sample::with(sample::conventional_case(), json!({ "follow_up": dead })));
        submit(&member, &sample::zero_fluoroscopy_case());
        submit(&member, &sample::case_with_tamponade());
        let docket = one.get("/adjudication/events").expect(200).json();
        let items = docket["items"].as_array().unwrap();
        assert_eq!(items.len(), 2, "{docket}");
        let death = items.iter().find(|item| item["of_event"]["death_day"] == json!("9")).unwrap();
        let other = items.iter().find(|item| item["event"] != death["event"]).unwrap();
        assert_eq!(death["of_event"]["death_cause"], json!("noncardiac"), "{docket}");
        let (death, other) = (text(death, "event"), text(other, "event"));
        say(&one, &death, "no_harm").expect(201);
        let told = monitor.get("/adjudication/progress").expect(200).json();
        assert!(told["agreement"].is_null(), "nothing was judged twice: {told}");
        say(&two, &death, "no_harm").expect(201);
        say(&one, &other, "major").expect(201);
        say(&two, &other, "minor").expect(201);
        say(&three, &other, "major").expect(201);
        let told = monitor.get("/adjudication/progress").expect(200).json();
        let agreement = &told["agreement"];
        assert_eq!((&agreement["judged_twice"], &agreement["agreed"]), (&json!(2), &json!(1)), "{told}");
        let kinds: Vec<&Value> = told["items"].as_array().unwrap().iter().map(|item| &item["kind"]).collect();
        assert!(kinds.contains(&&json!("death")), "{told}");

        let plan = text(&investigator.post("/plans", &quietbeam_tests::plan::plan()).expect(201).json(), "id");
        let cut = investigator.post("/data-cuts", &json!({ "name": "first" })).expect(201).json();
        let path = format!("/data-cuts/{}/comparisons", text(&cut, "id"));
        let comparison = investigator.post(&path, &json!({ "plan": plan })).expect(201).json();
        let report = investigator.get(&format!("/comparisons/{}/report", text(&comparison, "id"))).expect(200).json();
        let arm = &report["adjudication"]["events"]["conventional"];
        assert_eq!((&arm["reported"], &arm["deaths_of_follow_up"], &arm["lowered"]), (&json!(1), &json!(1), &json!(1)), "{arm}");
        assert_eq!((&arm["major_by_record"], &arm["major_as_judged"]), (&json!(1), &json!(0)), "{arm}");
        let told = &report["adjudication"]["agreement"]["agreed"];
        assert_eq!((&told["count"], &told["of"]), (&json!(1), &json!(2)), "{report}");
    }
}

#[test]
fn nobody_of_a_centre_judges() {
    for role in Role::ALL.into_iter().filter(|role| role.belongs_to_centres()) {
        let scope = role.scope(quietbeam_schema::access::Action::JudgeEvents);
        assert_eq!(scope, quietbeam_schema::access::Scope::No, "{role}");
        assert!(
            quietbeam_schema::access::Membership::new(Role::Adjudicator, [CentreCode::from_random(1)].into())
                .is_err()
        );
    }
}
