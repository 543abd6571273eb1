//! What waits at a centre, and what the other roles begin with.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::{Value, json};

use crate::access::case_with_question;
use crate::entry::begun;

const DAY: i64 = 24 * 60 * 60;

fn without_follow_up() -> Value {
    let mut case = sample::zero_fluoroscopy_case();
    case.as_object_mut().unwrap().remove("follow_up");
    case["period"] = json!("2026Q4");
    case
}

on_both_stores! {
    fn when_nothing_waits_the_desk_says_so(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let desk = Visitor::member(&served, "lead", Role::CentreLead, &[centre]).get("/desk").expect(200).text();
        assert!(desk.contains("<h1>Nothing waits</h1>"), "{desk}");
        assert!(desk.contains("No case waits for a contact."), "{desk}");
    }

    fn where_only_a_draft_waits_it_is_what_to_begin_with(registry) {
        let served = Served::new(registry);
        let lead = Visitor::member(&served, "lead", Role::CentreLead, &[registry.centre("S07")]);
        let draft = begun(&lead, "zero");
        let desk = lead.get("/desk").expect(200).text();
        assert!(desk.contains("<h1>One thing waits</h1>") && !desk.contains("Nothing waits"), "{desk}");
        assert!(desk.contains("A draft is not sent in yet") && desk.contains(&format!("href=\"{draft}#")), "{desk}");
    }

    fn a_question_waits_and_leads_to_its_field(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &["S07".parse().unwrap()]);
        registry.hand.advance(9 * DAY);
        visitor.sign_in("lead", quietbeam_tests::people::PASSWORD, "").expect(303);
        let desk = visitor.get("/desk").expect(200).text();
        let field = format!("href=\"/cases/{code}#bmi\"");
        // The contact at a year waits too, after the question.
        assert!(desk.contains("<h1>Two things wait</h1>") && desk.contains(&field), "{desk}");
        assert!(desk.contains("<h2>Late follow-up</h2>"), "{desk}");
        assert!(desk.contains("9 days"), "{desk}");
        let case = visitor.get(&format!("/cases/{code}")).expect(200).text();
        assert!(case.contains("id=\"bmi\"") && case.contains("Is the weight right?"), "{case}");
    }

    /// The days follow from the clock of the test and from the first and last usual day of
    /// the contact, 25 and 45: common practice, no source.
    fn contacts_open_fall_due_and_become_overdue(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let coordinator = served.member("sender", Role::Coordinator, &[centre]);
        let sent = coordinator.post("/cases", &without_follow_up()).expect(201).json();
        let code = sent["code"].as_str().unwrap().to_owned();
        served.desk.member("lead", Role::CentreLead, &[centre]);
        let desk = || {
            let visitor = Visitor::new(&served);
            visitor.sign_in("lead", quietbeam_tests::people::PASSWORD, "").expect(303);
            visitor.get("/desk").expect(200).text()
        };
        assert!(desk().contains("The next 30-day contact opens in 25 days."));
        registry.hand.advance(25 * DAY);
        let due = desk();
        assert!(due.contains("day 25 of 45 at least") && due.contains("One thing waits</h1>"), "{due}");
        registry.hand.advance(21 * DAY);
        let overdue = desk();
        assert!(overdue.contains("day 46 at least, overdue"), "{overdue}");
        assert!(overdue.contains("One thing waits, one is urgent"), "{overdue}");
        assert!(overdue.contains(&format!("href=\"/cases/{code}#follow_up\"")), "{overdue}");

        let seen = json!({ "follow_up": sample::zero_fluoroscopy_case()["follow_up"] });
        let recorded = served.sign_in("sender");
        recorded.put(&format!("/cases/{code}/follow-up"), "\"r1\"", &seen).expect(200);
        assert!(desk().contains("<h1>Nothing waits</h1>"));
    }

    /// The days follow from the clock of the test and from the usual days of the late contacts,
    /// 91 to 180 and 335 to 425: common practice, no source.
    fn late_contacts_fall_due_and_lead_to_their_field(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let coordinator = served.member("sender", Role::Coordinator, &[centre]);
        let case = sample::with(sample::zero_fluoroscopy_case(), json!({ "period": "2026Q4" }));
        let sent = coordinator.post("/cases", &case).expect(201).json();
        let code = sent["code"].as_str().unwrap().to_owned();
        served.desk.member("lead", Role::CentreLead, &[centre]);
        let page = |address: &str| {
            let visitor = Visitor::new(&served);
            visitor.sign_in("lead", quietbeam_tests::people::PASSWORD, "").expect(303);
            visitor.get(address).expect(200).text()
        };
        registry.hand.advance(90 * DAY);
        assert!(page("/desk").contains("<h1>Nothing waits</h1>"));
        registry.hand.advance(DAY);
        let field = format!("/cases/{code}/change#follow_up-fu_late_status");
        for address in ["/desk", "/follow-up"] {
            let due = page(address);
            assert!(due.contains("after blanking") && due.contains("day 91 of 180 at least"), "{due}");
            assert!(due.contains(&format!("href=\"{field}\"")), "{due}");
        }
        assert!(page("/desk").contains("<h1>One thing waits</h1>"));
        assert!(page(&format!("/cases/{code}/change")).contains("id=\"follow_up-fu_late_status\""));
        registry.hand.advance(90 * DAY);
        assert!(page("/desk").contains("day 181 at least, overdue"));

        let mut seen = sample::zero_fluoroscopy_case()["follow_up"].clone();
        for (key, value) in [("fu_late_status", json!("contacted")), ("fu_last_day", json!(181)), ("fu_monitoring", json!("ecg"))] {
            seen[key] = value;
        }
        let known = json!({ "follow_up": seen, "reason": "seen after blanking" });
        served.sign_in("sender").put(&format!("/cases/{code}/follow-up"), "\"r1\"", &known).expect(200);
        assert!(page("/desk").contains("<h1>Nothing waits</h1>"));
        registry.hand.advance(154 * DAY);
        let year = page("/desk");
        assert!(year.contains("one year") && year.contains("day 335 of 425 at least"), "{year}");
        // Another centre knows nothing of it.
        let there = registry.centre("S08");
        let other = Visitor::member(&served, "elsewhere", Role::CentreLead, &[there]);
        assert!(!other.get("/desk").expect(200).text().contains(&code));
    }

    fn a_quarter_that_is_over_waits_for_its_signature(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let coordinator = served.member("sender", Role::Coordinator, &[centre]);
        let line = |quarter: &str| format!("/centres/S07/screening-log/{quarter}/svt");
        let counts = json!({ "counts": { "performed": 9, "eligible": 8, "submitted": 8, "excluded": { "age": 1 } } });
        for quarter in ["2026Q3", "2026Q4"] {
            coordinator.send(&Asked::new("PUT", line(quarter)).json(&counts)).expect(200);
        }
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &[centre]);
        let desk = visitor.get("/desk").expect(200).text();
        assert!(desk.contains("Screening log: 9 performed, 8 eligible, 8 submitted"), "{desk}");
        // The quarter that still runs cannot be complete.
        assert!(desk.contains("href=\"/screening-log#2026Q3\"") && !desk.contains("#2026Q4"), "{desk}");
        let signature = Asked::new("POST", line("2026Q3") + "/signature").if_match("\"r1\"");
        served.sign_in("lead").send(&signature.json(&json!({ "password": PASSWORD }))).expect(200);
        assert!(visitor.get("/desk").expect(200).text().contains("<h1>Nothing waits</h1>"));
    }

    fn the_other_roles_begin_with_what_they_can_do(registry) {
        let served = Served::new(registry);
        let begins = |role: Role| Visitor::member(&served, role.name(), role, &[]).get("/desk").expect(200).text();
        let monitor = begins(Role::Monitor);
        assert!(monitor.contains("href=\"/cases\"") && monitor.contains("quietbeam summary approve"), "{monitor}");
        let administrator = begins(Role::Administrator);
        assert!(administrator.contains("href=\"/members\"") && !administrator.contains("href=\"/cases\""));
        let society = begins(Role::Society);
        assert!(society.contains("quietbeam summary draft") && !society.contains("quietbeam summary approve"));
    }
}
