//! The screening log: entered by quarter, compared with the cases that arrive, signed with
//! the password again.

use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_schema::centre::SIGNATURE_MEANING;
use quietbeam_tests::browser::{Browser, ENTER, TAB};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Answer, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::{Value, json};

const QUARTER: &str = "/screening-log/S07/2026Q3";
const SIGNATURE: &str = "/screening-log/S07/2026Q3/signature";

fn coordinator<'s>(served: &'s Served<'s>) -> Visitor<'s> {
    let centre = served.registry.centre("S07");
    Visitor::member(served, "sender", Role::Coordinator, &[centre])
}

fn lead<'s>(served: &'s Served<'s>) -> Visitor<'s> {
    Visitor::member(served, "lead", Role::CentreLead, &["S07".parse().unwrap()])
}

/// A case of the group SVT in the third quarter of 2026.
fn case(served: &Served<'_>) {
    let case = sample::with(sample::zero_fluoroscopy_case(), json!({ "period": "2026Q3" }));
    let sent = served.sign_in("sender").post("/cases", &case).expect(201).json();
    assert!(sent["code"].is_string());
}

/// The line of the group of the sample: performed, eligible, excluded for age.
fn line(visitor: &Visitor<'_>, read: &str, [performed, eligible, age]: [&str; 3], why: &str) -> Answer {
    let group = group();
    let name = |field: &str| format!("{group}-{field}");
    let names = ["read", "performed", "eligible", "age"].map(name);
    let fields = [
        (names[0].as_str(), read),
        (&names[1], performed),
        (&names[2], eligible),
        (&names[3], age),
        ("reason", why),
    ];
    visitor.post(QUARTER, &fields)
}

/// The group of the sample's procedure.
fn group() -> &'static str {
    use quietbeam_schema::vocabulary::{Coded, ProcedureType};
    let case = sample::zero_fluoroscopy_case();
    ProcedureType::from_code(case["proc_primary"].as_str().unwrap()).unwrap().group().code()
}

fn log(served: &Served<'_>) -> Value {
    served.sign_in("sender").get("/screening-log").expect(200).json()["items"].clone()
}

fn sign(visitor: &Visitor<'_>, read: &str, password: &str) -> Answer {
    let name = format!("read-{}", group());
    visitor.post(SIGNATURE, &[(name.as_str(), read), ("password", password)])
}

on_both_stores! {
    fn what_was_sent_in_is_counted_by_the_registry(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        case(&served);
        case(&served);
        let page = visitor.get("/screening-log").expect(200).text();
        assert!(page.contains("The registry holds two cases") && page.contains(&format!("href=\"{QUARTER}\"")), "{page}");
        let sheet = visitor.get(QUARTER).expect(200).text();
        assert!(sheet.contains("Sent in: <b>2</b>") && !sheet.contains("Why lines are corrected"), "{sheet}");
        let taken = line(&visitor, "", ["5", "4", "3"], "").expect(303);
        assert_eq!(taken.header("location"), Some("/screening-log?saved=1#2026Q3"));
        let items = log(&served);
        let counts = json!({ "performed": 5, "eligible": 4, "submitted": 2, "excluded": { "age": 3 } });
        assert_eq!((items.as_array().unwrap().len(), &items[0]["counts"]), (1, &counts));

        // A case that arrives later is told, more cases than eligible ones all the more.
        case(&served);
        let page = visitor.get("/screening-log?saved=1").expect(200).text();
        assert!(page.contains("three cases are in the registry, and the line says 2"), "{page}");
        assert!(page.contains("5 performed, 4 eligible, 3 submitted") && page.contains("One line saved"), "{page}");
        case(&served);
        case(&served);
        let page = visitor.get("/screening-log").expect(200).text();
        assert!(page.contains("five cases are in the registry, more than the 4 eligible"), "{page}");
        let refused = line(&visitor, "\"r1\"", ["5", "4", ""], "counted again").expect(422).text();
        assert!(refused.contains("5 is more than the 4 eligible"), "{refused}");
    }

    fn what_must_be_mended_comes_back_as_typed(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let hostile = "<script>alert(1)</script>";
        for (numbers, part) in [
            (["10", "11", ""], "11 is more than the 10 performed"),
            (["10", "9", "3"], "the reasons add up to 3"),
            (["5000", "9", "3"], "in one period"),
            ([hostile, "9", "3"], "write a whole number"),
            (["10", "-1", "3"], "write a whole number"),
            (["10", "", ""], "write a whole number"),
        ] {
            let page = line(&visitor, "", numbers, "").expect(422).text();
            assert!(page.contains(part) && page.contains("role=\"alert\"") && !page.contains(hostile), "{part}: {page}");
            assert!(numbers[2].is_empty() || page.contains(&format!("value=\"{}\"", numbers[2])), "{page}");
        }
        assert_eq!(log(&served), json!([]));
        line(&visitor, "", ["10", "9", "10"], "").expect(303);
        // Somebody else's line is not overwritten, and a correction says why.
        for (read, why, part) in [
            ("", "counted again", "it was not overwritten"),
            ("\"r9\"", "counted again", "it was not overwritten"),
            ("\"r1\"", "", "href=\"#reason\""),
            ("\"r1\"", "Dr Anna Smith said so on 3.4.2025", "href=\"#reason\""),
        ] {
            let page = line(&visitor, read, ["11", "9", "11"], why).expect(422).text();
            assert!(page.contains(part) && page.contains("value=\"11\""), "{part}: {page}");
        }
        line(&visitor, "r1", ["11", "9", "11"], "x").expect(400);
        assert_eq!(log(&served)[0]["revision"], 1);
        line(&visitor, "\"r1\"", ["11", "9", "11"], "one was forgotten").expect(303);
        // Nothing new is nothing saved.
        let same = line(&visitor, "\"r2\"", ["11", "9", "11"], "").expect(303);
        assert_eq!(same.header("location"), Some("/screening-log?saved=0#2026Q3"));
        assert_eq!(log(&served)[0]["revision"], 2);
    }

    fn a_lead_signs_with_the_password_and_a_correction_makes_it_void(registry) {
        let served = Served::new(registry);
        let coordinator = coordinator(&served);
        line(&coordinator, "", ["10", "9", "10"], "").expect(303);
        let page = coordinator.get("/screening-log").expect(200).text();
        assert!(page.contains("Only a centre lead of S07 can sign") && !page.contains("/signature"), "{page}");
        coordinator.get(SIGNATURE).expect(403);
        sign(&coordinator, "\"r1\"", PASSWORD).expect(403);

        let lead = lead(&served);
        assert!(lead.get("/screening-log").expect(200).text().contains(&format!("href=\"{SIGNATURE}\"")));
        let page = lead.get(SIGNATURE).expect(200).text();
        assert!(page.contains(SIGNATURE_MEANING) && page.contains("type=\"password\""), "{page}");
        for (read, password, part) in [
            ("\"r1\"", "not the right sentence", "This is not your password"),
            ("\"r1\"", "", "This is not your password"),
            ("\"r7\"", PASSWORD, "nothing was signed"),
        ] {
            let page = sign(&lead, read, password).expect(422).text();
            assert!(page.contains(part) && !page.contains(password) || password.is_empty(), "{page}");
        }
        assert!(lead.post(SIGNATURE, &[("password", PASSWORD)]).expect(422).text().contains("no line to sign"));
        assert_eq!(log(&served)[0]["signed_by"], Value::Null);
        let failed = registry.audit().into_iter().filter(|row| row.event.deed == Deed::SignInFailed).count();
        assert_eq!(failed, 2, "each wrong password is noted");

        assert_eq!(sign(&lead, "\"r1\"", PASSWORD).expect(303).header("location"), Some("/screening-log#2026Q3"));
        let signed = registry.audit().into_iter().find(|row| row.event.deed == Deed::ScreeningSigned).unwrap();
        assert_eq!(signed.event.reason.as_deref(), Some(SIGNATURE_MEANING));
        let page = coordinator.get("/screening-log").expect(200).text();
        assert!(page.contains("signing signed") && page.contains("LEAD</b>, centre lead, 2026-11-25 09:00 UTC"), "{page}");
        assert!(!page.contains("class=\"void\""));
        assert!(sign(&lead, "\"r2\"", PASSWORD).expect(422).text().contains("No line waits for a signature"));

        line(&coordinator, "\"r2\"", ["11", "9", "11"], "one was forgotten").expect(303);
        let monitor = Visitor::member(&served, "judge", Role::Monitor, &[]);
        let page = monitor.get("/screening-log").expect(200).text();
        assert!(page.contains("<b>Void.</b>") && page.contains("was signed by <s>LEAD"), "{page}");
        assert!(!page.contains("signing signed") && !page.contains("Enter or correct"), "{page}");
        sign(&lead, "\"r3\"", PASSWORD).expect(303);
        assert!(!monitor.get("/screening-log").expect(200).text().contains("class=\"void\""));
    }

    fn a_quarter_that_runs_is_entered_and_not_signed(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let running = "/screening-log/S07/2026Q4";
        let fields = [("svt-performed", "3"), ("svt-eligible", "3"), ("svt-staff", "3")];
        visitor.post(running, &fields).expect(303);
        let lead = lead(&served);
        let page = lead.get(&format!("{running}/signature")).expect(200).text();
        assert!(page.contains("still runs") && !page.contains("type=\"password\""), "{page}");
        let fields = [("read-svt", "\"r1\""), ("password", PASSWORD)];
        let page = lead.post(&format!("{running}/signature"), &fields).expect(422).text();
        assert!(page.contains("still runs"), "{page}");
        for nowhere in ["/screening-log/S07/2027Q1", "/screening-log/S07/2026Q5", "/screening-log/S07/soon", "/screening-log/nowhere/2026Q3"] {
            visitor.get(nowhere).expect(404);
        }
    }

    fn another_centres_log_is_absent(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        line(&visitor, "", ["10", "9", "10"], "").expect(303);
        let elsewhere = registry.centre("S08");
        let stranger = Visitor::member(&served, "stranger", Role::CentreLead, &[elsewhere]);
        assert!(!stranger.get("/screening-log").expect(200).text().contains("S07"));
        for address in [QUARTER, SIGNATURE] {
            let theirs = stranger.get(address).expect(404).text();
            assert_eq!(theirs, stranger.get(&address.replace("S07", "S99")).expect(404).text());
        }
        line(&stranger, "", ["10", "9", "10"], "").expect(404);
        sign(&stranger, "\"r1\"", PASSWORD).expect(404);
        // Who reads the log of all centres enters and signs none.
        for role in [Role::Monitor, Role::Investigator] {
            let reader = Visitor::member(&served, role.name(), role, &[]);
            assert!(reader.get("/screening-log").expect(200).text().contains("2026Q3, centre S07"));
            reader.get(QUARTER).expect(403);
            line(&reader, "\"r1\"", ["10", "9", "10"], "x y z").expect(403);
            sign(&reader, "\"r1\"", PASSWORD).expect(403);
        }
        assert_eq!(log(&served)[0]["revision"], 1);
    }
}

/// A real browser, without a mouse: a quarter is entered and signed.
#[test]
fn a_quarter_is_entered_and_signed_by_keyboard() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    coordinator(&served);
    served.desk.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
    let browser = Browser::open();
    let at = |path: &str| format!("{}{path}", served.address());
    browser.go(&at("/sign-in?to=%2Fscreening-log%2FS07%2F2026Q3"));
    for key in ["lead", TAB, PASSWORD, ENTER] {
        browser.press(key);
    }
    assert_eq!(browser.address(), at(QUARTER));
    let tab_to = |wanted: &str| {
        for _ in 0..120 {
            browser.press(TAB);
            if browser.evaluate(&format!("return document.activeElement.matches('{wanted}')")) == true {
                return;
            }
        }
        panic!("no way by keyboard to {wanted}");
    };
    tab_to("#svt-performed");
    browser.press("12");
    browser.press(TAB);
    browser.press("10");
    browser.press(TAB);
    browser.press("12");
    browser.press(ENTER);
    assert_eq!(browser.address(), at("/screening-log?saved=1#2026Q3"));
    tab_to("a[href$=signature]");
    browser.press(ENTER);
    tab_to("#password");
    browser.press(PASSWORD);
    browser.press(ENTER);
    assert_eq!(browser.address(), at("/screening-log#2026Q3"));
    let rule = "return getComputedStyle(document.querySelector('.signing')).borderTopStyle";
    assert_eq!(browser.evaluate(rule), "double");
    assert_ne!(log(&served)[0]["signed_by"], Value::Null);
}
