//! A real browser brings in a messy file, mends it and stores it; and what a server left in
//! the middle, the next one ends, once.

use std::fs;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use quietbeam::access::Permit;
use quietbeam::access::action::ImportFiles;
use quietbeam::intake::{FileKind, Limits, Source, Staged};
use quietbeam::registry::imports::brought::Brought;
use quietbeam::registry::imports::under_way::UnderWay;
use quietbeam::registry::imports::work::work;
use quietbeam::registry::imports::{Wanted, jobs};
use quietbeam_schema::access::Role;
use quietbeam_schema::ids::ImportJobId;
use quietbeam_tests::browser::{Browser, ENTER, TAB};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::json;

use crate::imports::{Messy, messy};
use crate::walk::SMALL_TARGETS;

/// Holds the page to the rules of every page, and draws it where pictures are asked for.
fn judge(browser: &Browser, name: &str) {
    browser.resize(320, 700);
    assert_eq!(
        browser.evaluate("return document.documentElement.scrollWidth"),
        320,
        "{name} scrolls sideways"
    );
    assert_eq!(browser.evaluate(SMALL_TARGETS), json!([]), "{name}");
    let folder = std::env::var_os("QUIETBEAM_SCREENSHOTS").map(PathBuf::from);
    for (theme, width) in [("light", 390), ("dark", 390), ("dark", 1280), ("light", 1280)] {
        browser.prefer(theme);
        browser.resize(width, 800);
        if let Some(folder) = &folder {
            browser.picture(&folder.join(format!("page-{name}-{theme}-{width}.png")));
        }
    }
}

pub(crate) fn heading(browser: &Browser) -> String {
    let heading = browser.evaluate("return document.querySelector('h1').textContent");
    heading.as_str().unwrap_or_default().to_owned()
}

/// Presses a button by its words.
pub(crate) fn press_button(browser: &Browser, words: &str) {
    let script = format!(
        "const found = [...document.querySelectorAll('button')].filter((one) => one.textContent.trim() === {});
         if (found.length === 1) found[0].click(); return found.length;",
        json!(words)
    );
    let pressed = browser.evaluate(&script);
    assert_eq!(pressed, 1, "the button {words} on {}: {}", browser.address(), browser.html());
}

#[test]
fn a_browser_brings_in_a_messy_file_mends_and_stores_it() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let centre = registry.centre("S07");
    served.desk.member("lead", Role::CentreLead, &[centre]);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("quarter 3.csv");
    let mut file = messy();
    // Twice the same but for a text, and a text that a spreadsheet would compute.
    let again = file.rows[0].clone();
    file.rows.push(again);
    file.put(0, "change_reason", "=SUM(A1) <b>bold</b>");
    fs::write(&path, file.bytes()).unwrap();

    let browser = Browser::open();
    browser.go(&format!("{}/imports", served.address()));
    for text in ["lead", TAB, PASSWORD, ENTER] {
        browser.press(text);
    }
    assert_eq!(heading(&browser), "Bring in a file");
    judge(&browser, "imports-start");
    browser.evaluate("document.querySelector('#cases').focus()");
    browser.press(path.to_str().unwrap());
    press_button(&browser, "Look through");
    assert_eq!(heading(&browser), "quarter 3.csv");
    judge(&browser, "imports-question");
    assert_eq!(browser.evaluate("return document.querySelectorAll('td b, td script').length"), 0);

    browser.evaluate("document.querySelector('input[name=unit][value=\"uGy.m2\"]').click()");
    browser.evaluate("document.querySelector('input[name=leave_out]').click()");
    press_button(&browser, "Check again");
    judge(&browser, "imports-mend");
    browser.evaluate("document.querySelector('[aria-label=\"Sex, row 2\"]').value = 'm'");
    press_button(&browser, "Check again");
    judge(&browser, "imports-checked");
    press_button(&browser, "Store 4 cases");
    assert_eq!(heading(&browser), "Four cases are stored");
    judge(&browser, "imports-receipt");
    assert_eq!(registry.raw().count("case_revision"), 4);
    browser.go(&format!("{}/imports", served.address()));
    judge(&browser, "imports-before");
    let refused = |line: &String| line.contains("Content Security Policy");
    assert_eq!(browser.complaints().into_iter().filter(refused).collect::<Vec<_>>(), [""; 0]);
}

fn permit() -> Permit<ImportFiles> {
    Permit::for_operator("test")
}

/// A job of two cases, begun by a member.
fn begun(registry: &Registry, served: &Served<'_>) -> ImportJobId {
    let centre = registry.centre("S07");
    served.desk.member("coordinator", Role::Coordinator, &[centre]);
    let caller = served.desk.caller("coordinator");
    let cases = [sample::zero_fluoroscopy_case(), sample::conventional_case()];
    let source = Source::Bytes(Messy::of(&cases).bytes().into());
    let staged = Staged::of(FileKind::Cases, "cases.csv", &source, Limits::default()).unwrap();
    let mine = caller.permit::<ImportFiles>().unwrap();
    registry
        .store
        .write_blocking(mine, move |session| {
            jobs::begin(
                session,
                &Brought { centre, files_hash: "hash".to_owned(), files: vec![staged] },
                None,
            )
        })
        .unwrap()
        .id
}

/// Asks that the job be stored.
fn ask(registry: &Registry, permit: Permit<ImportFiles>, id: ImportJobId) {
    let work = registry
        .store
        .write_blocking(permit, move |session| jobs::store(session, id, 1, Wanted::AllOrNothing, None));
    work.unwrap();
}

/// Takes the job as a server that is heard of no more afterwards.
fn taken_by_one_that_is_gone(registry: &Registry, id: ImportJobId) {
    let took = registry.store.write_blocking(permit(), move |session| {
        let took = session.claim_import_job(Some(id), "gone")?;
        assert!(session.keep_import_job(id, "gone", 1)?);
        Ok::<_, quietbeam::store::StoreError>(took)
    });
    assert_eq!(took.unwrap().unwrap().id, id);
}

/// Looks at the page until it says this; the worker looks every few seconds.
fn wait_for(visitor: &Visitor<'_>, address: &str, said: &str) -> String {
    let begin = Instant::now();
    loop {
        let page = visitor.get(address);
        let text = page.header("location").map_or_else(|| page.text(), str::to_owned);
        if text.contains(said) {
            return text;
        }
        assert!(begin.elapsed() < Duration::from_secs(60), "{said} never came: {text}");
    }
}

on_both_stores! {
    fn what_a_server_left_in_the_middle_the_next_one_ends_once(registry) {
        let served = Served::new(registry);
        let id = begun(registry, &served);
        // The worker of this server may have been faster; then there is nothing left to take.
        let visitor = Visitor::new(&served);
        visitor.sign_in("coordinator", PASSWORD, "");
        let address = format!("/imports/{id}");
        wait_for(&visitor, &address, "Store 2 cases");

        // Asked to be stored, and taken by a server that dies.
        drop(served);
        let desk = quietbeam_tests::people::Desk::new(registry);
        let mine = desk.caller("coordinator").permit::<ImportFiles>().unwrap();
        ask(registry, mine, id);
        taken_by_one_that_is_gone(registry, id);
        assert!(!work(&registry.store, &UnderWay::default(), Some(id), "next").unwrap(), "it is held by another");

        let served = Served::at(desk);
        let visitor = Visitor::new(&served);
        visitor.sign_in("coordinator", PASSWORD, "");
        let page = visitor.get(&address).expect(200);
        assert_eq!(page.header("refresh"), Some("3"));
        assert!(page.text().contains("It is being stored"), "{}", page.text());
        registry.hand.advance(31);
        let receipt = wait_for(&visitor, &address, "/imports/receipts/");
        assert!(visitor.get(&receipt).expect(200).text().contains("Two cases are stored"));
        assert_eq!(registry.raw().count("case_revision"), 2);
    }

    fn a_job_that_was_stored_but_not_ended_stores_nothing_again(registry) {
        let served = Served::new(registry);
        let id = begun(registry, &served);
        drop(served);
        let store = &registry.store;
        while work(store, &UnderWay::default(), Some(id), "first").unwrap() {}
        ask(registry, permit(), id);
        // The first one dies after the commit and before it could say so.
        let mut raw = registry.raw();
        raw.run("CREATE TABLE left_behind AS SELECT * FROM import_job_file").unwrap();
        assert!(work(store, &UnderWay::default(), Some(id), "first").unwrap());
        assert_eq!(raw.count("case_revision"), 2);
        raw.run("INSERT INTO import_job_file SELECT * FROM left_behind").unwrap();
        raw.run("UPDATE import_job SET stage = 'to_store', outcome = NULL, holder = 'first', held_until = '2026-01-01T00:00:00.000Z'").unwrap();
        assert!(work(store, &UnderWay::default(), None, "second").unwrap());
        let job = store.read_blocking(permit(), move |session| jobs::read(session, id)).unwrap();
        let jobs::Stage::Stored(stored) = &job.stage else { panic!("it is stored") };
        assert!(stored.before);
        assert_eq!((raw.count("case_revision"), raw.count("import_receipt"), raw.count("import_job_file")), (2, 1, 0));
    }

    fn what_never_ends_is_given_up_and_says_so(registry) {
        let served = Served::new(registry);
        let id = begun(registry, &served);
        drop(served);
        registry.raw().run("UPDATE import_job SET stage = 'to_check', attempts = 3, holder = NULL, held_until = NULL").unwrap();
        assert!(work(&registry.store, &UnderWay::default(), Some(id), "one").unwrap());
        let job = registry.store.read_blocking(permit(), move |session| jobs::read(session, id)).unwrap();
        assert!(matches!(job.stage, jobs::Stage::Failed(jobs::Failure::GivenUp)));
        assert_eq!(registry.raw().count("import_job_file"), 0);
    }

    fn whoever_may_no_longer_bring_in_files_stores_nothing(registry) {
        let served = Served::new(registry);
        let id = begun(registry, &served);
        let mine = served.desk.caller("coordinator").permit::<ImportFiles>().unwrap();
        drop(served);
        while work(&registry.store, &UnderWay::default(), Some(id), "one").unwrap() {}
        ask(registry, mine, id);
        registry.raw().run("UPDATE member SET disabled_at = '2026-11-25T09:00:00.000Z' WHERE sign_in_name = 'coordinator'").unwrap();
        assert!(work(&registry.store, &UnderWay::default(), Some(id), "one").unwrap());
        let job = registry.store.read_blocking(permit(), move |session| jobs::read(session, id)).unwrap();
        assert!(matches!(job.stage, jobs::Stage::Failed(jobs::Failure::NotAllowed)));
        assert_eq!(registry.raw().count("case_revision"), 0);
    }
}
