//! The questions about cases: listed, answered one by one and many at once, judged.

use quietbeam_schema::access::Role;
use quietbeam_tests::browser::{Browser, ENTER, TAB};
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

use crate::access::case_with_question;

const DAY: i64 = 24 * 60 * 60;
/// The list of one rule's question about one field.
const AREA: &str = "/queries?state=open&field=%2Fkap&rule=dose_area_unusual";

/// A case of centre S07 with this kerma-area product, sent in by the member `sender`, who is
/// there already.
fn case_with_product(served: &Served<'_>, product: f64, unit: &str) -> String {
    let case = sample::with(sample::conventional_case(), json!({ "kap": product, "kap_unit": unit }));
    let sent = served.sign_in("sender").post("/cases", &case).expect(201).json();
    assert_eq!(sent["to_answer"][0]["rule"], "dose_area_unusual", "{sent}");
    sent["code"].as_str().unwrap().to_owned()
}

/// The console showed Gy·cm², and dGy·cm² was chosen: with the 25.2 mGy of the sample 0.0882
/// Gy·cm² is a field of 3.5 cm², and 0.882 Gy·cm² one of 35 cm².
fn tenth(served: &Served<'_>) -> String {
    case_with_product(served, 0.882, "dGy.cm2")
}

fn sender(served: &Served<'_>) {
    let centre = served.registry.centre("S07");
    served.member("sender", Role::Coordinator, &[centre]);
}

fn lead<'s>(served: &'s Served<'s>) -> Visitor<'s> {
    Visitor::member(served, "lead", Role::CentreLead, &["S07".parse().unwrap()])
}

/// The questions about a case, oldest first.
fn about(served: &Served<'_>, code: &str) -> Vec<Value> {
    let list = served.sign_in("sender").get(&format!("/queries?case_code={code}")).expect(200).json();
    list["items"].as_array().unwrap().iter().rev().cloned().collect()
}

fn id_of(served: &Served<'_>, code: &str) -> String {
    about(served, code)[0]["id"].as_str().unwrap().to_owned()
}

fn state_of(served: &Served<'_>, code: &str) -> String {
    about(served, code)[0]["stage"]["state"].as_str().unwrap().to_owned()
}

/// What the bulk form sends for these questions, each read at its first revision.
fn ticked(ids: &[String], does: &str, more: &[(&str, &str)]) -> Vec<(String, String)> {
    let mut fields = vec![("do".to_owned(), does.to_owned())];
    for id in ids {
        fields.push(("pick".to_owned(), id.clone()));
        fields.push((format!("read-{id}"), "\"r1\"".to_owned()));
    }
    fields.extend(more.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())));
    fields
}

fn post(visitor: &Visitor<'_>, path: &str, fields: &[(String, String)]) -> quietbeam_tests::server::Answer {
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (&**name, &**value)).collect();
    visitor.post(path, &fields)
}

on_both_stores! {
    fn the_list_says_what_waits_where_and_for_how_long(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        registry.hand.advance(9 * DAY);
        let lead = lead(&served);
        let page = lead.get("/queries").expect(200).text();
        for part in [
            "<h1>One question waits for an answer</h1>", "Is the weight right?", "Body mass index", "9 days",
            &format!("href=\"/cases/{code}#bmi\""), "Data queries<span class=\"waiting\">1",
        ] {
            assert!(page.contains(part), "{part} is missing in {page}");
        }
        for (query, there) in [
            ("?state=open", true), ("?state=answered", false), ("?state=closed", false), ("?state=all", true),
            ("?centre=S07", true), ("?centre=S08", false), ("?centre=nowhere", false), ("?field=%2Fbmi", true),
            ("?field=%2Fkap", false), ("?rule=monitor", true), ("?rule=dose_area_unusual", false),
            ("?age=7", true), ("?age=14", false), ("?age=soon", false), ("?state=lost", false),
        ] {
            let page = lead.get(&format!("/queries{query}")).expect(200).text();
            assert_eq!(page.contains("Is the weight right?"), there, "{query}");
        }
        lead.get("/queries?colour=red").expect(400);
        lead.get("/queries?after=1;DROP").expect(400);
        // Nothing has been answered, so nothing waits for the monitor; the age is shown by centre.
        let monitor = Visitor::member(&served, "judge", Role::Monitor, &[]);
        let page = monitor.get("/queries").expect(200).text();
        assert!(page.contains("<h1>No answers wait for a monitor</h1>") && page.contains("9 days"), "{page}");
        assert!(monitor.get("/queries?state=open&centre=S07").expect(200).text().contains("Is the weight right?"));
    }

    /// The median of 2, 9 and 30 is 9; of 2 and 9 it is 5.5.
    fn the_monitor_sees_the_median_age_by_centre(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let ask = || {
            let question = json!({ "case_code": code, "sentence": "Was echo used throughout?" });
            served.sign_in("asker").post("/queries", &question).expect(201);
        };
        registry.hand.advance(21 * DAY);
        ask();
        registry.hand.advance(7 * DAY);
        ask();
        registry.hand.advance(2 * DAY);
        let monitor = Visitor::member(&served, "judge", Role::Monitor, &[]);
        let page = monitor.get("/queries").expect(200).text();
        assert!(page.contains("<td class=\"number\">3</td><td class=\"number\">9 days</td>"), "{page}");
        let oldest = about(&served, &code)[0]["id"].as_str().unwrap().to_owned();
        let taken = Asked::new("POST", format!("/queries/{oldest}/take-back")).json(&json!({ "reason": "asked twice" }));
        served.sign_in("asker").send(&taken).expect(200);
        let page = monitor.get("/queries").expect(200).text();
        assert!(page.contains("<td class=\"number\">2</td><td class=\"number\">5.5 days</td>"), "{page}");
    }

    fn a_value_is_changed_where_it_is_asked_about(registry) {
        let served = Served::new(registry);
        sender(&served);
        let code = tenth(&served);
        let id = id_of(&served, &code);
        let lead = lead(&served);
        let address = format!("/queries/{id}");
        let page = lead.get(&address).expect(200).text();
        assert!(page.contains("0.882\u{a0}dGy·cm²") && page.contains("value=\"dGy.cm2\" selected"), "{page}");
        let change = |read: &str, kap: &str, unit: &str, why: &str| {
            lead.post(&address, &[("do", "change"), ("read", read), ("kap", kap), ("kap_unit", unit), ("sentence", why)])
        };
        let hostile = "<script>alert(1)</script>";
        for (kap, unit, why, part) in [
            ("0.882", "Gy.cm2", " ", "href=\"#change-sentence\""),
            ("0.882", "Gy.cm2", "Asked Dr Anna Smith on 3.4.2025", "href=\"#change-sentence\""),
            ("0.882", "dGy.cm2", "read again", "This stands there already"),
            ("882", "Gy.cm2", "read again", "impossible"),
            (hostile, "Gy.cm2", "read again", "href=\"#kap\""),
        ] {
            let page = change("\"r1\"", kap, unit, why).expect(422).text();
            assert!(page.contains(part) && page.contains("role=\"alert\"") && !page.contains(hostile), "{page}");
        }
        assert!(change("\"r7\"", "0.882", "Gy.cm2", "read again").expect(422).text().contains("was not overwritten"));
        let taken = change("\"r1\"", "0,882", "Gy.cm2", "The console shows Gy·cm².").expect(303);
        assert_eq!(taken.header("location"), Some(format!("/cases/{code}#kap").as_str()));
        let settled = &about(&served, &code)[0]["stage"];
        assert_eq!((&settled["state"], &settled["why"]), (&json!("closed"), &json!("rule_passes")), "{settled}");
        assert_eq!((&settled["answer"]["revision"], &settled["answer"]["text"]), (&json!(2), &json!("The console shows Gy·cm².")));
        let case = lead.get(&format!("/cases/{code}")).expect(200).text();
        assert!(case.contains(&format!("/cases/{code}/history#revision-2")), "{case}");
        let history = lead.get(&format!("/cases/{code}/history")).expect(200).text();
        assert!(history.contains("id=\"revision-2\"") && history.contains("The console shows Gy·cm²."), "{history}");
        // What is closed takes no answer.
        let late = lead.post(&address, &[("do", "answer"), ("sentence", "It is right.")]).expect(422).text();
        assert!(late.contains("The query is closed"), "{late}");
        change("r1", "1", "Gy.cm2", "x").expect(400);
        lead.post(&address, &[("do", "dance")]).expect(400);
    }

    /// A question of a rule is closed by the rule or by a monitor, and by nobody else.
    fn an_answer_alone_closes_nothing(registry) {
        let served = Served::new(registry);
        sender(&served);
        let code = tenth(&served);
        let id = id_of(&served, &code);
        let lead = lead(&served);
        lead.post(&format!("/queries/{id}"), &[("do", "answer"), ("sentence", "A very small field.")]).expect(303);
        assert_eq!(state_of(&served, &code), "answered");
        // Another field is mended: the rule still finds what it found.
        let case = sample::with(sample::conventional_case(), json!({ "kap": 0.882, "kap_unit": "dGy.cm2", "bmi": 26.1 }));
        let change = json!({ "case": case, "reason": "weighed again" });
        served.sign_in("sender").put(&format!("/cases/{code}"), "\"r1\"", &change).expect(200);
        assert_eq!(state_of(&served, &code), "answered");
        for deed in ["accept", "reopen", "take-back"] {
            lead.post(&format!("/queries/{id}"), &[("do", deed), ("sentence", "I say so.")]).expect(403);
        }
        let monitor = Visitor::member(&served, "judge", Role::Monitor, &[]);
        for deed in ["answer", "change"] {
            let fields = [("do", deed), ("read", "\"r2\""), ("kap", "0.9"), ("kap_unit", "Gy.cm2"), ("sentence", "I say so.")];
            monitor.post(&format!("/queries/{id}"), &fields).expect(403);
        }
        monitor.post(&format!("/queries/{id}"), &[("do", "accept"), ("sentence", "")]).expect(303);
        assert_eq!(about(&served, &code)[0]["stage"]["why"], "answer_accepted");
        assert_eq!(about(&served, &code).len(), 1);
    }

    fn one_change_mends_many_and_what_refuses_is_told(registry) {
        let served = Served::new(registry);
        sender(&served);
        let codes = [tenth(&served), tenth(&served), case_with_product(&served, 80.0, "dGy.cm2")];
        let ids: Vec<String> = codes.iter().map(|code| id_of(&served, code)).collect();
        let lead = lead(&served);
        let all = lead.get("/queries").expect(200).text();
        assert!(all.contains("3 cases") && all.contains("one answer may fit all"), "{all}");
        assert!(all.contains(&AREA.replace('&', "&amp;")), "{all}");
        assert!(!all.contains("type=\"checkbox\""), "different questions are not answered with one sentence");
        let list = lead.get(AREA).expect(200).text();
        assert_eq!(list.matches("type=\"checkbox\"").count(), 3, "{list}");
        assert!(!list.contains(" checked"));
        assert_eq!(lead.get(&format!("{AREA}&all=yes")).expect(200).text().matches(" checked").count(), 3);

        let sent = ticked(&ids, "unit", &[("unit", "Gy.cm2"), ("sentence", "The console shows Gy·cm².")]);
        let page = post(&lead, AREA, &sent).expect(422).text();
        assert!(page.contains("Two questions done") && page.contains(&format!("href=\"#pick-{}\"", ids[2])), "{page}");
        assert!(page.contains("The console shows Gy·cm².</textarea>") && page.contains("value=\"Gy.cm2\" selected"), "{page}");
        assert!(page.contains("impossible") && page.matches(" checked").count() == 1, "{page}");
        assert_eq!(codes.each_ref().map(|code| state_of(&served, code)), ["closed", "closed", "open"]);
        for (code, revision) in codes.iter().zip([2, 2, 1]) {
            let case = served.sign_in("sender").get(&format!("/cases/{code}")).expect(200).json();
            assert_eq!(case["revision"], revision, "{code}");
        }
        // A second time nothing is left to do: each row says so.
        let again = post(&lead, AREA, &ticked(&ids[..2], "unit", &[("unit", "mGy.cm2"), ("sentence", "Once more.")]));
        assert!(again.expect(422).text().contains("was not overwritten"));
        // Each change is in the trail of its case, with its reason.
        let changes = registry.audit().into_iter().filter(|row| row.event.reason.as_deref() == Some("The console shows Gy·cm²."));
        assert_eq!(changes.count(), 2);
    }

    fn one_sentence_answers_many(registry) {
        let served = Served::new(registry);
        sender(&served);
        let codes = [tenth(&served), tenth(&served)];
        let ids: Vec<String> = codes.iter().map(|code| id_of(&served, code)).collect();
        let lead = lead(&served);
        let none = post(&lead, AREA, &ticked(&[], "answer", &[("sentence", "A child.")])).expect(422).text();
        assert!(none.contains("Tick the rows") && none.contains("A child.</textarea>"), "{none}");
        let naming = post(&lead, AREA, &ticked(&ids, "answer", &[("sentence", "Asked Dr Anna Smith on 3.4.2025")]));
        let naming = naming.expect(422).text();
        assert!(naming.contains("href=\"#sentence\"") && naming.contains("One thing must be mended"), "{naming}");
        assert_eq!(codes.each_ref().map(|code| state_of(&served, code)), ["open", "open"]);
        let done = post(&lead, AREA, &ticked(&ids, "answer", &[("sentence", "Small children; the field was closed.")]));
        assert_eq!(done.expect(303).header("location"), Some(format!("{AREA}&saved=2").as_str()));
        assert!(lead.get(&format!("{AREA}&saved=2")).expect(200).text().contains("Two questions done"));
        assert_eq!(codes.each_ref().map(|code| state_of(&served, code)), ["answered", "answered"]);

        // Both are judged at once: one is accepted with a sentence, the other opened again.
        let monitor = Visitor::member(&served, "judge", Role::Monitor, &[]);
        let waits = monitor.get("/queries").expect(200).text();
        assert!(waits.contains("<h1>Two answers wait for a monitor</h1>") && waits.matches("type=\"checkbox\"").count() == 2, "{waits}");
        post(&monitor, "/queries", &ticked(&ids[..1], "accept", &[("sentence", "Thank you.")])).expect(303);
        let unsaid = post(&monitor, "/queries", &ticked(&ids[1..], "reopen", &[("sentence", "")])).expect(422).text();
        assert!(unsaid.contains("href=\"#sentence\""), "{unsaid}");
        post(&monitor, "/queries", &ticked(&ids[1..], "reopen", &[("sentence", "How old was the child?")])).expect(303);
        assert_eq!(about(&served, &codes[0])[0]["stage"]["why"], json!({ "answer_accepted_saying": "Thank you." }));
        let thread = lead.get(&format!("/queries/{}", ids[1])).expect(200).text();
        for part in ["Small children; the field was closed.", "How old was the child?", "opened again by a monitor"] {
            assert!(thread.contains(part), "{part} is missing in {thread}");
        }
        post(&lead, "/queries", &ticked(&ids[..1], "accept", &[("sentence", "")])).expect(403);
    }

    fn a_monitor_asks_at_the_field(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let monitor = Visitor::member(&served, "judge", Role::Monitor, &[]);
        let case = monitor.get(&format!("/cases/{code}")).expect(200).text();
        let address = format!("/cases/{code}/ask");
        assert!(case.contains(&format!("href=\"{address}?field=%2Flead_worn\"")) || case.contains(&format!("href=\"{address}?field=%2Fsex\"")), "{case}");
        let page = monitor.get(&format!("{address}?field=%2Fsex")).expect(200).text();
        assert!(page.contains("value=\"/sex\""), "{page}");
        let refused = monitor.post(&address, &[("field", "/sex"), ("sentence", "<b>")]).expect(303);
        assert_eq!(refused.header("location"), Some(format!("/cases/{code}#sex").as_str()));
        assert!(monitor.get(&format!("/cases/{code}")).expect(200).text().contains("&lt;b&gt;"));
        let naming = monitor.post(&address, &[("field", "/sex"), ("sentence", "Asked Dr Anna Smith on 3.4.2025")]);
        assert!(naming.expect(422).text().contains("href=\"#sentence\""));
        monitor.post(&address, &[("field", ""), ("sentence", "Was it one procedure?")]).expect(303);
        let lead = lead(&served);
        assert!(lead.get("/queries").expect(200).text().contains("The case as a whole"));
        assert!(!lead.get(&format!("/cases/{code}")).expect(200).text().contains("/ask"));
        lead.get(&address).expect(403);
    }

    fn another_centres_question_is_absent_and_nothing_is_kept(registry) {
        let served = Served::new(registry);
        sender(&served);
        let code = tenth(&served);
        let id = id_of(&served, &code);
        let elsewhere = registry.centre("S08");
        let stranger = Visitor::member(&served, "stranger", Role::Coordinator, &[elsewhere]);
        let never = "01930000-0000-7000-8000-000000000000".to_owned();
        let page = stranger.get("/queries?state=all").expect(200).text();
        assert!(!page.contains(&code) && !page.contains("dose area unusual"), "{page}");
        let theirs = stranger.get(&format!("/queries/{id}")).expect(404).text();
        assert_eq!(theirs, stranger.get(&format!("/queries/{never}")).expect(404).text());
        let sent = ticked(std::slice::from_ref(&id), "answer", &[("sentence", "It is right.")]);
        post(&stranger, AREA, &sent).expect(404);
        post(&stranger, &format!("/queries/{id}"), &[("do".to_owned(), "answer".to_owned()), ("sentence".to_owned(), "x y".to_owned())]).expect(404);
        let lead = lead(&served);
        post(&lead, AREA, &ticked(&[id, never], "answer", &[("sentence", "It is right.")])).expect(404);
        post(&lead, AREA, &ticked(&["nonsense".to_owned()], "answer", &[])).expect(400);
        assert_eq!(state_of(&served, &code), "open");
    }
}

/// A real browser, without a mouse: one question is answered at its field, then two at once.
#[test]
fn questions_are_answered_by_keyboard() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let weight = case_with_question(&served);
    let codes = [tenth(&served), tenth(&served)];
    served.desk.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
    let browser = Browser::open();
    let at = |path: &str| format!("{}{path}", served.address());
    browser.go(&at("/sign-in?to=%2Fqueries"));
    for key in ["lead", TAB, PASSWORD, ENTER] {
        browser.press(key);
    }
    assert_eq!(browser.address(), at("/queries"));
    let tab_to = |wanted: &str| {
        for _ in 0..120 {
            browser.press(TAB);
            if browser.evaluate(&format!("return document.activeElement.matches('{wanted}')")) == true {
                return;
            }
        }
        panic!("no way by keyboard to {wanted}");
    };
    tab_to(&format!("a[href$=\"{weight}#bmi\"]"));
    browser.press(ENTER);
    tab_to("textarea");
    browser.press("Weighed twice.");
    browser.press(TAB);
    browser.press(ENTER);
    assert_eq!(browser.address(), at(&format!("/cases/{weight}#bmi")));
    assert_eq!(state_of(&served, &weight), "answered");

    browser.go(&at("/queries"));
    tab_to(".work-group a");
    browser.press(ENTER);
    for _ in 0..2 {
        tab_to("input[type=checkbox]");
        browser.press(" ");
    }
    tab_to("textarea");
    browser.press("The field was closed.");
    tab_to("button[value=answer]");
    browser.press(ENTER);
    assert_eq!(browser.address(), at(&format!("{AREA}&saved=2")));
    assert_eq!(codes.each_ref().map(|code| state_of(&served, code)), ["answered", "answered"]);
}

/// The pages that need something to be there, and those of a monitor, on a narrow screen: as
/// in `walk`, and drawn into the same folder.
#[test]
fn questions_fit_a_narrow_screen() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let code = case_with_question(&served);
    let ids: Vec<String> = (0..3).map(|_| id_of(&served, &tenth(&served))).collect();
    let answer = Asked::new("POST", format!("/queries/{}/answer", ids[0]))
        .json(&json!({ "answer": "A small child." }));
    served.sign_in("sender").send(&answer).expect(200);
    let counts =
        json!({ "counts": { "performed": 9, "eligible": 8, "submitted": 7, "excluded": { "age": 2 } } });
    served
        .sign_in("sender")
        .send(&Asked::new("PUT", "/centres/S07/screening-log/2026Q3/svt").json(&counts))
        .expect(200);
    registry.hand.advance(9 * DAY);
    served.desk.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
    served.desk.member("judge", Role::Monitor, &[]);
    let pictures = std::env::var_os("QUIETBEAM_SCREENSHOTS").map(std::path::PathBuf::from);
    let one = format!("/queries/{}", ids[0]);
    let ask = format!("/cases/{code}/ask?field=%2Fsex");
    let pages = [
        (
            "lead",
            vec![
                ("list", "/queries"),
                ("same", AREA),
                ("one", &one),
                ("enter", "/screening-log/S07/2026Q3"),
                ("sign", "/screening-log/S07/2026Q3/signature"),
                ("log", "/screening-log"),
            ],
        ),
        ("judge", vec![("judging", "/queries"), ("judge-one", &one), ("ask", &ask)]),
    ];
    for (who, pages) in pages {
        let browser = Browser::open();
        browser.go(&format!("{}/sign-in", served.address()));
        for key in [who, TAB, PASSWORD, ENTER] {
            browser.press(key);
        }
        for (name, path) in pages {
            browser.resize(320, 700);
            browser.go(&format!("{}{path}", served.address()));
            assert_eq!(
                browser.evaluate("return document.documentElement.scrollWidth"),
                320,
                "{path} scrolls sideways"
            );
            assert_eq!(browser.evaluate(crate::walk::SMALL_TARGETS), json!([]), "{path}");
            for (theme, width) in [("light", 1280), ("light", 390), ("dark", 1280), ("dark", 390)] {
                if let Some(folder) = &pictures {
                    browser.prefer(theme);
                    browser.resize(width, 800);
                    browser.picture(&folder.join(format!("question-{name}-{theme}-{width}.png")));
                }
            }
        }
    }
}
