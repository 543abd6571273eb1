//! A real browser: somebody signs in without a mouse, sees the desk, and signs out; and
//! every page fits a narrow screen.

use std::path::PathBuf;

use quietbeam_schema::access::Role;
use quietbeam_tests::browser::{Browser, ENTER, TAB};
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::Served;

use crate::access::case_with_question;
use crate::routes::PAGES;

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
    // Skip link, mark, help, sign out.
    for _ in 0..4 {
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

/// Reflow at 320 px (Web Content Accessibility Guidelines 2.2, 1.4.10) and targets of at
/// least 24 px (2.5.8, where links inside a sentence are excepted); numbers from memory.
/// With `QUIETBEAM_SCREENSHOTS` every page is drawn into that folder, for people to judge.
#[test]
fn every_page_fits_a_narrow_screen() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let code = case_with_question(&served);
    // Cases whose contact is due and overdue.
    for days in [21, 25] {
        for _ in 0..3 {
            crate::follow_up::case_without_follow_up(&served);
        }
        registry.hand.advance(days * 24 * 60 * 60);
    }
    served.desk.member("lead", Role::CentreLead, &["S07".parse().unwrap()]);
    let pictures = std::env::var_os("QUIETBEAM_SCREENSHOTS").map(PathBuf::from);
    let browser = Browser::open();
    let look = |template: &str| {
        let address = format!("{}{}", served.address(), template.replace("{code}", &code));
        browser.resize(320, 700);
        browser.go(&address);
        let width = browser.evaluate("return document.documentElement.scrollWidth");
        assert_eq!(width, 320, "{template} scrolls sideways");
        assert_eq!(browser.evaluate(SMALL_TARGETS), serde_json::json!([]), "{template}");
        for (theme, width) in [("light", 1280), ("light", 390), ("dark", 1280), ("dark", 390)] {
            if let Some(folder) = &pictures {
                browser.prefer(theme);
                browser.resize(width, 800);
                let name = template.replace(['/', '{', '}'], "-");
                browser.picture(&folder.join(format!("page{name}{theme}-{width}.png")));
            }
        }
    };
    for template in ["/", "/sign-in"] {
        look(template);
    }
    browser.go(&format!("{}/sign-in", served.address()));
    browser.press("lead");
    browser.press(TAB);
    browser.press(PASSWORD);
    browser.press(ENTER);
    for route in PAGES.iter().filter(|route| !["/", "/sign-in"].contains(&route.template)) {
        look(route.template);
    }
}

/// What can be pressed, is seen, is not inside a sentence, and is smaller than 24 px.
pub(crate) const SMALL_TARGETS: &str = "
    const inSentence = (one) => one.closest('p, li, td, th, dd, .quiet, h1, h2') && one.tagName === 'A'
        && getComputedStyle(one).display === 'inline';
    return [...document.querySelectorAll('a, button, summary, select, input:not([type=hidden]), textarea')]
        .filter((one) => one.getClientRects().length > 0 && !one.classList.contains('unseen') && !inSentence(one))
        .filter((one) => { const box = one.getBoundingClientRect(); return box.height < 23.9 || box.width < 23.9; })
        .map((one) => one.outerHTML.slice(0, 120));
";
