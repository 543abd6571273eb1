//! The list of cases, one case, its questions and its history.

use quietbeam::access::Permit;
use quietbeam::access::action::ManageCentres;
use quietbeam_schema::access::Role;
use quietbeam_schema::centre::Centre;
use quietbeam_schema::vocabulary::{AnnualVolume, CentreType};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::json;

use crate::access::case_with_question;
use crate::assets::without_own_scripts;

const HOSTILE: &str = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>";

on_both_stores! {
    fn filters_live_in_the_address(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &["S07".parse().unwrap()]);
        let period = sample::zero_fluoroscopy_case()["period"].as_str().unwrap().to_owned();
        for (query, there) in [
            (String::new(), true),
            (format!("?period={period}"), true),
            ("?period=2011Q1".to_owned(), false),
            ("?strategy=zero".to_owned(), true),
            ("?strategy=conventional".to_owned(), false),
            ("?centre=S07".to_owned(), true),
            ("?centre=S99".to_owned(), false),
            ("?completeness=complete&open_query=yes&state=queried".to_owned(), true),
            ("?completeness=something_left".to_owned(), false),
            ("?open_query=no".to_owned(), false),
            ("?state=submitted".to_owned(), false),
            ("?procedure=vt_epi".to_owned(), false),
            ("?period=&group=&procedure=&strategy=&state=&completeness=&open_query=&centre=".to_owned(), true),
        ] {
            let list = visitor.get(&format!("/cases{query}")).expect(200).text();
            assert_eq!(list.contains(&format!("href=\"/cases/{code}\"")), there, "{query}");
        }
        let list = visitor.get("/cases?strategy=zero").expect(200).text();
        assert!(list.contains("<option value=\"zero\" selected>"), "{list}");
        assert!(list.contains("1 to answer"), "{list}");
        // A quarter without a case is still shown as what was asked for.
        assert!(visitor.get("/cases?period=2011Q1").expect(200).text().contains("<option value=\"2011Q1\" selected>"));
        let refused = visitor.get("/cases?procedure=heart&centre=nowhere&strategy=zero").expect(422).text();
        for part in [
            "role=\"alert\"", "Two things must be mended", "href=\"#filter-procedure\"", "use one of: avnrt", "href=\"#filter-centre\"",
            "<option value=\"zero\" selected>", "<option value=\"heart\" selected>",
        ] {
            assert!(refused.contains(part), "{part} is missing in {refused}");
        }
        assert!(!refused.contains(&code) && !refused.contains("No case fits"));
        // Who does not see the questions is not offered to filter by them.
        let investigator = Visitor::member(&served, "investigator", Role::Investigator, &[]);
        assert!(!investigator.get("/cases").expect(200).text().contains("open_query"));
        investigator.get("/cases?open_query=yes").expect(403);
        visitor.get("/cases?order=code").expect(400);
        visitor.get("/cases?after=1;DROP").expect(400);
    }

    fn the_listed_cases_are_taken_out(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &["S07".parse().unwrap()]);
        assert!(visitor.get("/cases?strategy=zero").expect(200).text().contains("Take out these cases"));
        assert!(!visitor.get("/cases?strategy=conventional").expect(200).text().contains("Take out"));
        let file = visitor.post("/cases/take-out?strategy=zero&completeness=complete", &[("format", "json")]).expect(200);
        assert!(file.header("content-disposition").unwrap().contains("quietbeam-cases-S07.json"));
        assert!(file.text().contains(&code));
        let other = visitor.post("/cases/take-out?strategy=conventional", &[("format", "json")]).expect(200);
        assert!(!other.text().contains(&code));
        visitor.post("/cases/take-out?centre=S99", &[("format", "json")]).expect(404);
        visitor.post("/cases/take-out?centre=x", &[("format", "json")]).expect(400);
        visitor.post("/cases/take-out?completeness=half", &[("format", "json")]).expect(400);
        visitor.post("/cases/take-out", &[("format", "exe")]).expect(422);
        visitor.submit("/cases/take-out", &[("format", "json")]).expect(403);
        // Who reads the cases of all centres takes none of them away.
        let monitor = Visitor::member(&served, "looker", Role::Monitor, &[]);
        assert!(!monitor.get("/cases").expect(200).text().contains("Take out"));
        monitor.post("/cases/take-out", &[("format", "json")]).expect(403);
    }

    fn long_lists_read_on(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let codes = registry.cases(centre, 60);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &[centre]);
        let first = visitor.get("/cases?period=&strategy=zero").expect(200).text();
        let (_, rest) = first.split_once("<a href=\"/cases?").expect("a way to further cases");
        let address = format!("/cases?{}", rest.split('"').next().unwrap().replace("&amp;", "&"));
        let second = visitor.get(&address).expect(200).text();
        let shown = |page: &str| codes.iter().filter(|code| page.contains(&format!("\"/cases/{code}\""))).count();
        assert_eq!((shown(&first), shown(&second)), (50, 10));
        // A place in one list is no place in another.
        visitor.get(&address.replace("strategy=zero", "strategy=conventional")).expect(400);
    }

    fn a_question_is_answered_at_its_field(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &["S07".parse().unwrap()]);
        let address = format!("/cases/{code}");
        let page = visitor.get(&address).expect(200).text();
        let (_, rest) = page.split_once("name=\"query\" value=\"").expect("a form to answer");
        let query = rest.split('"').next().unwrap().to_owned();
        let refused = visitor.post(&address, &[("query", &query), ("answer", "Asked Dr Anna Smith on 3.4.2025")]);
        let refused = refused.expect(422).text();
        for part in ["role=\"alert\"", &format!("href=\"#answer-{query}\""), "Asked Dr Anna Smith on 3.4.2025"] {
            assert!(refused.contains(part), "{part} is missing in {refused}");
        }
        let taken = visitor.post(&address, &[("query", &query), ("answer", "Weighed twice; it is right.")]).expect(303);
        assert_eq!(taken.header("location"), Some(format!("{address}#bmi").as_str()));
        let page = visitor.get(&address).expect(200).text();
        assert!(page.contains("Weighed twice; it is right.") && !page.contains("name=\"query\""), "{page}");
        visitor.post(&address, &[("query", "nonsense"), ("answer", "x")]).expect(422);
        // A monitor sees the answer and has no form.
        let monitor = Visitor::member(&served, "looker", Role::Monitor, &[]);
        assert!(monitor.get(&address).expect(200).text().contains("Weighed twice"));
        monitor.post(&address, &[("query", &query), ("answer", "me too")]).expect(403);
        // An investigator reads the case without what was asked about it.
        let investigator = Visitor::member(&served, "investigator", Role::Investigator, &[]);
        assert!(!investigator.get(&address).expect(200).text().contains("Is the weight right?"));
    }

    fn the_history_tells_who_when_what_and_why(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let sender = served.sign_in("sender");
        let case = sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": 26.1 }));
        let before = sample::zero_fluoroscopy_case()["bmi"].to_string();
        let change = json!({ "case": case, "reason": "weighed again" });
        sender.put(&format!("/cases/{code}"), "\"r1\"", &change).expect(200);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &["S07".parse().unwrap()]);
        let page = visitor.get(&format!("/cases/{code}/history")).expect(200).text();
        for part in [
            "weighed again", "SENDER, coordinator", "2026-11-25 09:00 UTC", "Body mass index", "26.1\u{a0}kg/m²",
            &format!("{}\u{a0}kg/m²", before.trim_matches('"')),
        ] {
            assert!(page.contains(part), "{part} is missing in {page}");
        }
        assert_eq!(page.matches("<caption>What changed").count(), 1);
    }

    fn hostile_words_stay_words(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let hostile = Centre {
            code: "S66".parse().unwrap(),
            name: HOSTILE.to_owned(),
            region: None,
            kind: CentreType::Academic,
            annual_volume: AnnualVolume::From200To499,
            zero_fluoroscopy_since: None,
        };
        let centre = hostile.code;
        let permit = Permit::<ManageCentres>::for_operator("test");
        registry.store.write_blocking(permit, move |session| session.create_centre(&hostile)).unwrap();
        let question = json!({ "case_code": code, "field": HOSTILE, "sentence": HOSTILE });
        served.sign_in("asker").post("/queries", &question).expect(201);
        let there = Visitor::member(&served, "there", Role::Coordinator, &[centre]);
        let here = Visitor::member(&served, "here", Role::Coordinator, &["S07".parse().unwrap()]);
        let address = format!("/cases/{code}");
        let query = format!("/cases?period={}", "%3Cscript%3E%22");
        let pages = [
            there.get("/desk").expect(200),
            here.get("/desk").expect(200),
            here.get(&address).expect(200),
            here.get(&query).expect(422),
            here.get("/%3Cscript%3Ealert(1)%3C/script%3E").expect(404),
            Visitor::new(&served).sign_in(HOSTILE, HOSTILE, HOSTILE).expect(422),
            Visitor::new(&served).get("/sign-in?to=%22%3E%3Cscript%3Ealert(1)%3C%2Fscript%3E").expect(200),
        ];
        for page in pages {
            let (page, _) = without_own_scripts(&page.text());
            for live in ["<script", "<img", "\" onerror"] {
                assert!(!page.contains(live), "{live} lives in {page}");
            }
        }
        assert!(here.get(&address).expect(200).text().contains("&lt;script&gt;alert(1)"));
    }
}
