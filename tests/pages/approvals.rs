//! The approvals of a centre: the administrator's page, and what the centre sees of it.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;

use crate::entry::{begun, send};

const DAY: i64 = 24 * 60 * 60;
const PAGE: &str = "/centres/S07/approvals";
const HOSTILE: &str = "<script>alert(1)</script>";

/// The tests begin on 25 November 2026.
fn ethics(until: &str) -> [(&str, &str); 4] {
    [
        ("kind", "ethics_approval"),
        ("reference", "board file 7"),
        ("valid_from", "2025-01-01"),
        ("valid_until", until),
    ]
}

fn signed_in<'s>(served: &'s Served<'s>, name: &str) -> Visitor<'s> {
    let visitor = Visitor::new(served);
    visitor.sign_in(name, PASSWORD, "").expect(303);
    visitor
}

on_both_stores! {
    fn an_administrator_records_renews_and_withdraws(registry) {
        let served = Served::new(registry);
        registry.centre("S07");
        let admin = Visitor::member(&served, "admin", Role::Administrator, &[]);
        assert!(admin.get("/centres/S07").expect(200).text().contains("href=\"/centres/S07/approvals\""));
        assert!(admin.get(PAGE).expect(200).text().contains("None is recorded yet"));
        let wrong = [("kind", ""), ("reference", HOSTILE), ("valid_from", "31.12.2026"), ("valid_until", "2027-01-01")];
        let refused = admin.post(PAGE, &wrong).expect(422).text();
        for part in ["role=\"alert\"", "Two things must be mended", "href=\"#kind\"", "href=\"#valid_from\"", "31.12.2026", "&lt;script&gt;"] {
            assert!(refused.contains(part), "{part} is missing in {refused}");
        }
        assert!(!refused.contains(HOSTILE));
        admin.post(PAGE, &ethics("2024-01-01")).expect(422);
        admin.post(PAGE, &ethics("2026-12-18")).expect(303);
        let page = admin.get(PAGE).expect(200).text();
        assert!(page.contains("Ethics approval ends in 23 days") && page.contains("Data agreement: none recorded"), "{page}");
        let (_, rest) = page.split_once("?renew=").expect("a way to renew");
        let id = rest.split('#').next().unwrap().to_owned();
        let renewing = admin.get(&format!("{PAGE}?renew={id}")).expect(200).text();
        assert!(renewing.contains("value=\"2026-12-19\"") && renewing.contains("value=\"board file 7\""), "{renewing}");
        let unsaid = admin.post(PAGE, &[("do", "withdraw"), ("approval", &id), ("reason", "")]).expect(422).text();
        assert!(unsaid.contains("href=\"#reason\""), "{unsaid}");
        admin.post(PAGE, &[("do", "withdraw"), ("approval", &id), ("reason", "recorded by mistake")]).expect(303);
        let page = admin.get(PAGE).expect(200).text();
        assert!(page.contains("Ethics approval was withdrawn") && page.contains("recorded by mistake"), "{page}");
        admin.post(PAGE, &[("do", "withdraw"), ("approval", "x"), ("reason", "nothing there")]).expect(404);
        admin.get("/centres/S99/approvals").expect(404);
        admin.post("/centres/S99/approvals", &ethics("2027-12-18")).expect(404);
    }

    fn the_desk_says_when_one_runs_out_and_a_draft_outlives_it(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let admin = Visitor::member(&served, "admin", Role::Administrator, &[]);
        admin.post(PAGE, &ethics("2026-12-18")).expect(303);
        served.desk.member("lead", Role::CentreLead, &[centre]);
        let lead = signed_in(&served, "lead");
        let draft = begun(&lead, "zero");
        let desk = lead.get("/desk").expect(200).text();
        assert!(desk.contains("Ethics approval ends in 23 days") && desk.contains("href=\"/centres/S07/approvals\""), "{desk}");
        let page = lead.get(PAGE).expect(200).text();
        assert!(page.contains("board file 7") && !page.contains("<form method=\"post\" action=\"/centres"), "{page}");
        lead.post(PAGE, &ethics("2027-12-18")).expect(403);
        let there = registry.centre("S08");
        Visitor::member(&served, "elsewhere", Role::Coordinator, &[there]).get(PAGE).expect(404);

        registry.hand.advance(24 * DAY);
        let lead = signed_in(&served, "lead");
        let desk = lead.get("/desk").expect(200).text();
        assert!(desk.contains("Ethics approval ended 1 day ago") && desk.contains("no case is taken"), "{desk}");
        let refused = send(&lead, &draft, 1, "submit", &sample::zero_fluoroscopy_case()).expect(403).text();
        assert!(refused.contains("ended on 2026-12-18") && refused.contains("The draft is kept."), "{refused}");
        let kept = lead.get(&draft).expect(200).text();
        assert!(kept.contains("name=\"bmi\" value=\"27.4\""), "{kept}");
        signed_in(&served, "admin").post(PAGE, &ethics("2027-12-18")).expect(303);
        send(&lead, &draft, 2, "submit", &sample::zero_fluoroscopy_case()).expect(303);
    }
}
