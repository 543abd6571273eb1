//! Many 30-day contacts in one sitting.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::{Value, json};

const DAY: i64 = 24 * 60 * 60;

/// A case of centre S07, sent in by the member `sender`, who is there already.
pub(crate) fn case_without_follow_up(served: &Served<'_>) -> String {
    let mut case = sample::zero_fluoroscopy_case();
    case.as_object_mut().unwrap().remove("follow_up");
    case["period"] = json!("2026Q4");
    let sent = served.sign_in("sender").post("/cases", &case).expect(201).json();
    sent["code"].as_str().unwrap().to_owned()
}

/// So many cases whose contact is due, and the centre's lead, signed in.
fn due<'s>(served: &'s Served<'s>, number: usize) -> (Vec<String>, Visitor<'s>) {
    let centre = served.registry.centre("S07");
    served.member("sender", Role::Coordinator, &[centre]);
    let codes = (0..number).map(|_| case_without_follow_up(served)).collect();
    served.desk.member("lead", Role::CentreLead, &[centre]);
    served.registry.hand.advance(30 * DAY);
    let visitor = Visitor::new(served);
    visitor.sign_in("lead", PASSWORD, "").expect(303);
    (codes, visitor)
}

fn record_of(served: &Served<'_>, code: &str) -> Value {
    served.sign_in("sender").get(&format!("/cases/{code}")).expect(200).json()["record"].clone()
}

/// A row as the page sends it.
fn row(code: &str, revision: &str, how: &str, day: &str) -> Vec<(String, String)> {
    let field = |name: &str, value: &str| (format!("{name}-{code}"), value.to_owned());
    vec![field("read", revision), field("how", how), field("day", day)]
}

fn post(visitor: &Visitor<'_>, rows: &[Vec<(String, String)>]) -> quietbeam_tests::server::Answer {
    let fields: Vec<(&str, &str)> = rows.iter().flatten().map(|(name, value)| (&**name, &**value)).collect();
    visitor.post("/follow-up", &fields)
}

on_both_stores! {
    fn what_is_in_order_is_kept_and_the_rest_comes_back_as_typed(registry) {
        let served = Served::new(registry);
        let (codes, visitor) = due(&served, 5);
        let page = visitor.get("/follow-up").expect(200).text();
        assert!(page.contains("<h1>Five 30-day contacts are due</h1>") && page.contains("day 30 of 45 at least"), "{page}");
        let hostile = "<script>alert(1)</script>";
        let answer = post(&visitor, &[
            row(&codes[0], "\"r1\"", "asked", "33"),
            row(&codes[1], "\"r1\"", "lost", ""),
            row(&codes[2], "\"r1\"", "asked", hostile),
            row(&codes[3], "\"r1\"", "", "31"),
            row(&codes[4], "\"r1\"", "later", ""),
        ]);
        let page = answer.expect(422).text();
        assert!(page.contains("Two cases saved") && page.contains("<h1>Three 30-day contacts are due</h1>"), "{page}");
        assert!(page.contains(&format!("href=\"#day-{}\"", codes[2])), "{page}");
        assert!(page.contains(&format!("href=\"#how-{}\"", codes[3])), "{page}");
        assert!(page.contains("&lt;script&gt;") && !page.contains(hostile), "{page}");
        assert!(page.contains("value=\"31\"") && page.contains("say how it was learnt"), "{page}");

        let asked = json!({ "fu30_status": "contacted", "fu30_day": 33, "fu30_no_events": "yes", "death": "no" });
        let kept = record_of(&served, &codes[0])["follow_up"].clone();
        for (key, value) in asked.as_object().unwrap() {
            assert_eq!(&kept[key], value, "{key}");
        }
        let lost = &record_of(&served, &codes[1])["follow_up"];
        assert_eq!((&lost["fu30_status"], &lost["fu30_no_events"]), (&json!("lost"), &json!("na")));
        for code in &codes[2..] {
            assert_eq!(record_of(&served, code).get("follow_up"), None);
        }
        let mended = post(&visitor, &[row(&codes[2], "\"r1\"", "chart", "30"), row(&codes[3], "\"r1\"", "chart", "nr")]);
        assert_eq!(mended.expect(303).header("location"), Some("/follow-up?saved=2"));
        assert!(visitor.get("/follow-up?saved=2").expect(200).text().contains("Two cases saved"));
        assert_eq!(record_of(&served, &codes[2])["follow_up"]["fu30_status"], "chart_only");
    }

    /// A contact needs its day: the same rule as through the API.
    fn no_event_is_not_stated_without_the_day_of_the_look(registry) {
        let served = Served::new(registry);
        let (codes, visitor) = due(&served, 1);
        for (how, day) in [("asked", ""), ("chart", "2"), ("asked", "61"), ("lost", "30")] {
            post(&visitor, &[row(&codes[0], "\"r1\"", how, day)]).expect(422);
        }
        let refused = json!({ "follow_up": { "fu30_status": "contacted", "fu30_no_events": "yes", "death": "no" } });
        served.sign_in("sender").put(&format!("/cases/{}/follow-up", codes[0]), "\"r1\"", &refused).expect(422);
        assert_eq!(record_of(&served, &codes[0]).get("follow_up"), None);
    }

    fn a_case_answered_meanwhile_is_told_and_not_overwritten(registry) {
        let served = Served::new(registry);
        let (codes, visitor) = due(&served, 2);
        let theirs = json!({ "follow_up": { "fu30_status": "lost", "death": "unk" } });
        served.sign_in("sender").put(&format!("/cases/{}/follow-up", codes[0]), "\"r1\"", &theirs).expect(200);
        let rows = [row(&codes[0], "\"r1\"", "asked", "33"), row(&codes[1], "\"r1\"", "asked", "34")];
        let page = post(&visitor, &rows).expect(422).text();
        assert!(page.contains("somebody else changed this case") && page.contains("One case saved"), "{page}");
        assert_eq!(record_of(&served, &codes[0])["follow_up"]["fu30_status"], "lost");
        assert_eq!(record_of(&served, &codes[1])["follow_up"]["fu30_day"], 34);
    }

    /// What else stood in a follow-up that was pending is not lost.
    fn a_pending_follow_up_is_completed(registry) {
        let served = Served::new(registry);
        let (codes, visitor) = due(&served, 1);
        let pending = json!({ "follow_up": { "fu30_status": "pending", "skin_check": "done_clear" } });
        served.sign_in("sender").put(&format!("/cases/{}/follow-up", codes[0]), "\"r1\"", &pending).expect(200);
        post(&visitor, &[row(&codes[0], "\"r2\"", "asked", "33")]).expect(303);
        let follow_up = &record_of(&served, &codes[0])["follow_up"];
        assert_eq!((&follow_up["fu30_status"], &follow_up["skin_check"]), (&json!("contacted"), &json!("done_clear")));
    }

    /// A death that is known before the contact, and an event that was learnt at it.
    fn a_stated_death_or_event_is_not_unsaid_by_a_quick_answer(registry) {
        let served = Served::new(registry);
        let (codes, visitor) = due(&served, 2);
        let dead = json!({ "fu30_status": "pending", "death": "yes", "death_day": 12, "death_cause": "noncardiac" });
        let event = json!({ "fu30_status": "contacted", "fu30_day": 31, "fu30_no_events": "no", "death": "no" });
        for (code, stated) in codes.iter().zip([&dead, &event]) {
            let body = json!({ "follow_up": stated });
            served.sign_in("sender").put(&format!("/cases/{code}/follow-up"), "\"r1\"", &body).expect(200);
        }
        let page = visitor.get("/follow-up").expect(200).text();
        assert!(page.contains(&format!("name=\"how-{}\"", codes[0])), "the contact is still pending: {page}");
        for (how, day) in [("asked", "33"), ("chart", "33"), ("lost", "")] {
            for code in &codes {
                let page = post(&visitor, &[row(code, "\"r2\"", how, day)]).expect(422).text();
                assert!(page.contains("stands in this follow-up already"), "{page}");
            }
        }
        for (code, stated) in codes.iter().zip([&dead, &event]) {
            let kept = &record_of(&served, code)["follow_up"];
            for (key, value) in stated.as_object().unwrap() {
                assert_eq!(&kept[key], value, "{key}");
            }
        }
    }

    fn another_centres_case_is_absent_and_nothing_of_the_sitting_is_kept(registry) {
        let served = Served::new(registry);
        let (codes, visitor) = due(&served, 1);
        let elsewhere = registry.centre("S08");
        let stranger = Visitor::member(&served, "stranger", Role::Coordinator, &[elsewhere]);
        let page = stranger.get("/follow-up").expect(200).text();
        assert!(page.contains("No 30-day contact waits") && !page.contains(&codes[0]), "{page}");
        post(&stranger, &[row(&codes[0], "\"r1\"", "asked", "33")]).expect(404);
        let never = quietbeam_schema::ids::CaseCode::from_random([77; 16]).to_string();
        let both = [row(&codes[0], "\"r1\"", "asked", "33"), row(&never, "\"r1\"", "asked", "33")];
        post(&visitor, &both).expect(404);
        post(&visitor, &[row("nonsense", "\"r1\"", "asked", "33")]).expect(400);
        post(&visitor, &[row(&codes[0], "r1", "asked", "33")]).expect(400);
        assert_eq!(record_of(&served, &codes[0]).get("follow_up"), None);
    }
}
