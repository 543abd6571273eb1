//! A real browser: somebody signs in without a mouse, sees the desk, and signs out.

use std::path::PathBuf;

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
    // The question, and the contact at a year.
    assert_eq!(heading, "Two things wait");
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

/// A dose report is dropped on a draft's page, whose done sections are folded and sent all the
/// same; what is ticked is taken.
#[test]
fn a_dose_report_is_dropped_on_a_draft() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    served.registry.centre("S07");
    served.desk.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
    let draft = crate::entry::draft_with_everything(&served);
    let browser = Browser::open();
    browser.go(&format!("{}/sign-in?to={}", served.address(), draft.replace('/', "%2F")));
    for keys in ["lead", TAB, PASSWORD, ENTER] {
        browser.press(keys);
    }
    let ask = |script: &str| browser.evaluate(&format!("return {script}"));
    let press = |selector: &str| {
        ask(&format!("document.querySelector('{selector}').focus()"));
        browser.press(ENTER);
    };
    assert_eq!(ask("document.querySelector('#result').closest('details').open"), false);
    // A link to a folded section opens it.
    ask("document.querySelector('.strand a[href=\"#result\"]').click()");
    assert_eq!(ask("document.querySelector('#result').closest('details').open"), true);
    browser.go(&format!("{}{draft}", served.address()));
    browser.give_file("#dose-report-file", &crate::dose_reports::file("single_plane.dcm"));
    press("#dose-report button");
    let offered = ask("document.querySelector('#air_kerma-row .offer').textContent");
    assert!(offered.as_str().unwrap().contains("The report says 23.4\u{a0}mGy"), "{offered}");
    if let Some(folder) = std::env::var_os("QUIETBEAM_SCREENSHOTS").map(PathBuf::from) {
        for (theme, width) in [("light", 1280), ("light", 390), ("dark", 1280)] {
            browser.prefer(theme);
            browser.resize(width, 800);
            browser.picture(&folder.join(format!("page-dose-report-{theme}-{width}.png")));
        }
        browser.resize(1280, 800);
    }
    ask("document.querySelector('[name=take-air_kerma]').click()");
    press(".form-foot button[value=save]");
    assert_eq!(ask("document.querySelector('#air_kerma').value"), "23.4");
    assert_eq!(ask("document.querySelector('[name=air_kerma_unit]').value"), "mGy");
    let kept = registry.raw().texts("SELECT entries FROM case_draft").concat();
    assert!(kept.contains("23.4") && kept.contains("no_complication_confirmed"), "{kept}");
    let refused = |line: &String| line.contains("Content Security Policy");
    assert_eq!(browser.complaints().into_iter().filter(refused).collect::<Vec<_>>(), [""; 0]);
}

/// What can be pressed, is seen, is not inside a sentence, and is smaller than 24 px.
pub(crate) const SMALL_TARGETS: &str = "
    const inSentence = (one) => one.closest('p, li, td, th, dd, .quiet, h1, h2') && one.tagName === 'A'
        && getComputedStyle(one).display === 'inline';
    return [...document.querySelectorAll('a, button, summary, select, input:not([type=hidden]), textarea')]
        .filter((one) => one.getClientRects().length > 0 && !one.classList.contains('unseen') && !inSentence(one))
        .map((one) => ['checkbox', 'radio'].includes(one.type) ? one.closest('label') ?? one : one)
        .filter((one) => { const box = one.getBoundingClientRect(); return box.height < 23.9 || box.width < 23.9; })
        .map((one) => one.outerHTML.slice(0, 120));
";
