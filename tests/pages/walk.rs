//! A real browser: somebody signs in without a mouse, sees the desk, and signs out.

use quietbeam_schema::access::Role;
use quietbeam_tests::browser::{Browser, ENTER, TAB};
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::Served;

use crate::access::case_with_question;

#[test]
fn signs_in_by_keyboard_sees_the_desk_and_signs_out() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let code = case_with_question(&served);
    served.desk.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
    let browser = Browser::open();
    let at = |path: &str| format!("{}{path}", served.address());

    browser.go(&at("/cases"));
    assert_eq!(browser.address(), at("/sign-in?to=%2Fcases"));
    browser.press("lead");
    browser.press(TAB);
    browser.press("not the right sentence");
    browser.press(ENTER);
    assert_eq!(browser.title(), "Must be mended: sign in · Quietbeam");
    // The summary has the focus, so the first Tab reaches the way to the field.
    browser.press(TAB);
    browser.press(ENTER);
    browser.press(TAB);
    browser.press(PASSWORD);
    browser.press(ENTER);
    assert_eq!(browser.address(), at("/cases"));

    browser.go(&at("/desk"));
    assert_eq!(browser.title(), "Desk · Quietbeam");
    let heading = browser.evaluate("return document.querySelector('h1').textContent");
    assert_eq!(heading, "One thing waits");
    let first = browser.evaluate("return document.querySelector('.start-here a').getAttribute('href')");
    assert_eq!(first, format!("/cases/{code}#bmi"));
    // Skip link, mark, account, help, sign out.
    for _ in 0..5 {
        browser.press(TAB);
    }
    assert_eq!(browser.evaluate("return document.activeElement.textContent"), "Sign out");
    browser.press(ENTER);
    assert_eq!(browser.address(), at("/sign-in"));
    browser.go(&at("/desk"));
    assert_eq!(browser.address(), at("/sign-in?to=%2Fdesk"));
    let refused = |line: &String| line.contains("Content Security Policy") || line.contains("404");
    assert_eq!(browser.complaints().into_iter().filter(refused).collect::<Vec<_>>(), [""; 0]);
}
