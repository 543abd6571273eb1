//! A draft that saves itself in a real browser: what is said at each field, two editors, a
//! line that fails, a sign-in that ends, and a browser without script.

use quietbeam_schema::access::Role;
use quietbeam_tests::browser::{Browser, CONTROL, DOWN, ENTER, ESCAPE, F8, TAB};
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::json;
use std::time::{Duration, Instant};

use crate::entry::{begun, send};
use crate::keyboard::at_the_desk;

const MINUTE: i64 = 60;

/// A draft that is open in a browser, and a colleague without script.
struct Sitting<'s> {
    served: &'s Served<'s>,
    colleague: Visitor<'s>,
    browser: Browser,
    draft: String,
}

impl<'s> Sitting<'s> {
    fn new(served: &'s Served<'s>) -> Self {
        let centre = served.registry.centre("S07");
        served.desk.member("writer", Role::Coordinator, &[centre]);
        let colleague = Visitor::member(served, "colleague", Role::CentreLead, &[centre]);
        let draft = begun(&colleague, "zero");
        // A grown-up, of whom body mass index and ejection fraction are asked.
        send(&colleague, &draft, 1, "save", &json!({ "strategy_intended": "zero", "age_band": "60_69" }))
            .expect(303);
        let browser = Browser::open();
        at_the_desk(served, &browser, "writer");
        Self { served, colleague, browser, draft }
    }

    /// Opens the draft in a field.
    fn open(&self, field: &str) {
        self.browser.go("about:blank");
        self.browser.go(&format!("{}{}#{field}", self.served.address(), self.draft));
        self.browser.wait_until("return document.documentElement.classList.contains('with-keys')");
        self.wait(&format!("return document.activeElement.closest('.field')?.id === '{field}-row'"));
    }

    fn wait(&self, condition: &str) {
        self.browser.wait_until(condition);
    }

    /// Waits until nothing in the form is unsaved.
    fn saved(&self) {
        self.wait("return window.dispatchEvent(new Event('beforeunload', { cancelable: true }))");
    }

    /// Whether leaving would warn.
    fn warns(&self) -> bool {
        self.browser.evaluate("return !window.dispatchEvent(new Event('beforeunload', { cancelable: true }))")
            == json!(true)
    }

    /// What the colleague sees of it.
    fn kept(&self) -> String {
        self.colleague.get(&self.draft).expect(200).text()
    }

    fn value(&self, field: &str) -> serde_json::Value {
        self.browser.evaluate(&format!("return document.getElementById('{field}').value"))
    }
}

#[test]
fn a_draft_saves_itself_and_says_when() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("bmi");
    assert!(
        browser
            .evaluate("return document.querySelector('.draft-state').textContent")
            .as_str()
            .unwrap()
            .contains("09:00")
    );
    registry.hand.advance(5 * MINUTE);
    // A moment after typing, without leaving the field.
    browser.keys("27,4");
    sitting.wait("return document.querySelector('.draft-state').textContent.includes('09:05')");
    assert!(sitting.kept().contains("name=\"bmi\" value=\"27.4\""));
    assert_eq!(browser.evaluate("return document.activeElement.id"), "bmi");
    assert_eq!(sitting.value("bmi"), "27,4");
    // When the field is left it shows how it was read, and the address follows.
    browser.keys(TAB);
    browser.keys("58");
    browser.keys(TAB);
    sitting.wait("return document.getElementById('bmi').value === '27.4'");
    assert!(browser.address().ends_with("#structural_hd"), "{}", browser.address());
    sitting.wait("return document.querySelector('.strand-counts b').textContent === '4'");
    assert!(sitting.kept().contains("name=\"lvef\" value=\"58\""));
    assert!(!sitting.warns());
    // Enter in a box saves and stays.
    sitting.open("lvef");
    browser.evaluate("document.activeElement.select()");
    browser.keys("61");
    browser.keys(ENTER);
    sitting.saved();
    assert!(sitting.kept().contains("name=\"lvef\" value=\"61\""));
    assert_eq!(browser.evaluate("return document.activeElement.id"), "lvef");
}

#[test]
fn a_message_appears_when_its_field_is_left_and_goes_when_it_is_mended() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("bmi");
    browser.keys("2");
    // Somebody may still be typing: nothing is said yet, though it was looked at.
    sitting.wait("return document.querySelector('form.entry').elements.version.value === '3'");
    assert_eq!(browser.evaluate("return document.querySelector('#bmi-message')"), json!(null));
    browser.keys(TAB);
    sitting.wait(
        "return document.querySelector('#bmi-message')?.textContent.startsWith('Must be mended.') ?? false",
    );
    let joined = "const box = document.getElementById('bmi'); return [box.getAttribute('aria-invalid'), box.getAttribute('aria-describedby')]";
    assert_eq!(browser.evaluate(joined), json!(["true", "bmi-message"]));
    let next = "return document.querySelector('.form-foot a')?.getAttribute('href') ?? null";
    assert_eq!(browser.evaluate(next), "#bmi");
    // F8 goes there from anywhere.
    browser.keys(TAB);
    browser.keys(F8);
    assert_eq!(browser.evaluate("return document.activeElement.id"), "bmi");
    browser.evaluate("document.activeElement.select()");
    browser.keys("60");
    browser.keys(TAB);
    sitting
        .wait("return document.querySelector('#bmi-message')?.textContent.startsWith('To answer.') ?? false");
    assert_eq!(browser.evaluate(joined), json!([null, "bmi-message"]));
    browser.keys(F8);
    browser.evaluate("document.activeElement.select()");
    browser.keys("27.4");
    browser.keys(TAB);
    sitting.wait("return document.querySelector('#bmi-message') === null");
    assert_eq!(browser.evaluate(joined), json!([null, null]));
    // Nothing is left to mend, so the way leads on to what is still empty.
    assert_eq!(browser.evaluate(next), "#intended_declared");
    assert_eq!(browser.evaluate("return document.getElementById('bmi-row').className"), "field");
}

#[test]
fn the_unit_that_is_offered_follows_the_room_and_one_that_was_chosen_stays() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let administrator = served.member("administrator", Role::Administrator, &[]);
    for (room, unit) in [("R1", "cGy.cm2"), ("R2", "Gy.cm2"), ("R3", "uGy.m2")] {
        let room = Asked::new("PUT", format!("/centres/S07/rooms/{room}"));
        administrator.send(&room.json(&json!({ "kap_unit": unit, "air_kerma_shown": true }))).expect(200);
    }
    let browser = &sitting.browser;
    sitting.open("fluoro_used");
    browser.keys("4");
    sitting.saved();
    let unit = "document.querySelector('[name=kap_unit]').value";
    let of_room = |room: &str, offered: &str| {
        browser.evaluate(&format!("document.querySelector('[name=room_code][value={room}]').click()"));
        sitting.wait(&format!("return {unit} === '{offered}'"));
        // An offer is not a change that would have to be saved.
        sitting.saved();
    };
    of_room("R1", "cGy.cm2");
    of_room("R2", "Gy.cm2");
    let choose = "const unit = document.querySelector('[name=kap_unit]'); unit.value = 'dGy.cm2'; unit.dispatchEvent(new Event('change', { bubbles: true }))";
    browser.evaluate(choose);
    browser.evaluate("document.querySelector('[name=room_code][value=R3]').click()");
    sitting.wait("return document.querySelector('#kap-row .note').textContent.includes('µGy·m²')");
    sitting.saved();
    assert_eq!(browser.evaluate(&format!("return {unit}")), "dGy.cm2");
}

#[test]
fn fields_come_and_go_with_the_answers_that_make_them_relevant() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("fluoro_used");
    let there = "return document.getElementById('air_kerma') !== null";
    assert_eq!(browser.evaluate(there), false);
    // At once, before the registry has answered.
    browser.offline(true);
    browser.keys("4");
    assert_eq!(browser.evaluate(there), true);
    browser.keys(TAB);
    assert_eq!(browser.evaluate("return document.activeElement.closest('.field').id"), "fluoro_phase-row");
    browser.offline(false);
    sitting.open("fluoro_used");
    browser.keys("4");
    browser.evaluate("document.getElementById('kap').focus()");
    browser.keys("636.7");
    browser.keys(TAB);
    while browser.evaluate("return document.activeElement.value") != "uGy.m2" {
        browser.keys(DOWN);
    }
    // 1 µGy·m² is 0.01 Gy·cm², by the SI prefixes.
    sitting.wait("return document.querySelector('#kap-row .echo').textContent === '= 6.37\u{a0}Gy·cm²'");
    browser.evaluate("document.querySelector('[name=fluoro_used][value=planned_used]').focus()");
    browser.keys("1");
    assert_eq!(browser.evaluate(there), false);
    sitting.wait("return document.querySelector('.kept-zeros') !== null");
    assert!(!sitting.kept().contains("636.7\""), "a dose without a beam");
    // What was typed comes back with its field.
    browser.keys("4");
    sitting.wait("return document.querySelector('.kept-zeros') === null");
    assert_eq!(sitting.value("kap"), "636.7");
    sitting.saved();
    assert!(sitting.kept().contains("name=\"kap\" value=\"636.7\""));
}

#[test]
fn nothing_is_lost_while_the_line_is_away() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("bmi");
    browser.offline(true);
    browser.keys("27.4");
    browser.keys(TAB);
    let notice = "return document.querySelector('.draft-notice').textContent";
    sitting.wait("return document.querySelector('.draft-notice').textContent.startsWith('Not saved: no connection. What you typed stays here.')");
    assert_eq!(browser.evaluate("return document.querySelector('.draft-state').hidden"), true);
    assert!(sitting.warns());
    // One goes on typing, and even tries to submit: the page stays.
    browser.keys("58");
    browser.chord(CONTROL, ENTER);
    browser.keys(TAB);
    sitting.wait("return document.activeElement.closest('.field').id === 'structural_hd-row'");
    assert_eq!((sitting.value("bmi"), sitting.value("lvef")), (json!("27.4"), json!("58")));
    browser.offline(false);
    browser.evaluate("window.dispatchEvent(new Event('online'))");
    sitting.wait("return document.querySelector('.draft-notice').textContent === ''");
    sitting.saved();
    assert_eq!(browser.evaluate(notice), "");
    let kept = sitting.kept();
    assert!(
        kept.contains("name=\"bmi\" value=\"27.4\"") && kept.contains("name=\"lvef\" value=\"58\""),
        "{kept}"
    );
}

#[test]
fn two_editors_are_led_to_both_values_side_by_side() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("bmi");
    let theirs = sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": 31.5 }));
    send(&sitting.colleague, &sitting.draft, 2, "save", &theirs).expect(303);
    browser.keys("27.4");
    browser.keys(TAB);
    sitting.wait("return document.querySelector('.draft-notice').textContent.startsWith('Not saved: somebody else saved this draft.')");
    assert!(sitting.kept().contains("value=\"31.5\""));
    browser.evaluate("document.querySelector('[data-compare]').focus()");
    browser.keys(ENTER);
    sitting.wait("return document.querySelector('[name=merge-bmi]') !== null");
    // The script decides nothing here.
    browser.evaluate("document.querySelectorAll('.merge').forEach((one) => one.querySelector('[value=there]').checked = true)");
    browser.evaluate("document.querySelector('[name=merge-bmi][value=here]').checked = true; document.querySelector('.form-foot [value=save]').focus()");
    browser.keys(ENTER);
    sitting.wait("return document.querySelector('.merge') === null && document.readyState === 'complete'");
    let kept = sitting.kept();
    assert!(kept.contains("value=\"27.4\"") && kept.contains("name=\"lvef\" value=\"58\""), "{kept}");
}

#[test]
fn a_sign_in_that_ends_loses_nothing_and_comes_back_to_the_field() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("bmi");
    registry.hand.advance(30 * 24 * 60 * MINUTE);
    browser.keys("27.4");
    sitting.wait("return document.querySelector('.draft-notice').textContent.startsWith('Not saved: your sign-in is over.')");
    let first = browser.tabs();
    browser.evaluate("document.querySelector('.draft-notice a').focus()");
    browser.keys(ENTER);
    let other = loop {
        let tabs = browser.tabs();
        if let Some(other) = tabs.into_iter().find(|tab| !first.contains(tab)) {
            break other;
        }
    };
    browser.show_tab(&other);
    sitting.wait("return location.pathname === '/sign-in' && document.activeElement?.id === 'account'");
    browser.press("writer");
    browser.press(TAB);
    browser.press(PASSWORD);
    browser.press(ENTER);
    sitting.wait("return document.activeElement?.id === 'bmi'");
    assert!(browser.address().ends_with(&format!("{}#bmi", sitting.draft)));
    browser.show_tab(&first[0]);
    browser.evaluate("document.dispatchEvent(new Event('visibilitychange'))");
    sitting.wait("return document.querySelector('.draft-notice').textContent === ''");
    assert_eq!(sitting.value("bmi"), "27.4");
    sitting.colleague.sign_in("colleague", PASSWORD, "").expect(303);
    assert!(sitting.kept().contains("name=\"bmi\" value=\"27.4\""));
}

#[test]
fn what_was_refused_is_listed_until_it_is_mended() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    let almost = sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": null, "lvef": null }));
    send(&sitting.colleague, &sitting.draft, 2, "save", &almost).expect(303);
    sitting.open("sex");
    browser.chord(CONTROL, ENTER);
    let title = "return document.querySelector('.error-summary h2')?.textContent ?? ''";
    sitting.wait(
        "return document.querySelector('.error-summary') !== null && document.readyState === 'complete'",
    );
    assert_eq!(browser.evaluate(title), "Two things must be mended before this case can be submitted");
    browser.keys(F8);
    assert_eq!(browser.evaluate("return document.activeElement.id"), "bmi");
    browser.keys("27.4");
    browser.keys(TAB);
    sitting.wait(
        "return document.querySelector('.error-summary h2')?.textContent.startsWith('One thing') ?? false",
    );
    assert_eq!(browser.evaluate("return document.activeElement.id"), "lvef");
    browser.keys("58");
    browser.chord(CONTROL, ENTER);
    sitting.wait("return location.pathname.startsWith('/cases/')");
}

#[test]
fn hostile_words_stay_words() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("bmi");
    let hostile = "\"><img src=x onerror=\"window.broken=1\"><script>window.broken=1</script>";
    browser.keys(hostile);
    browser.keys(TAB);
    sitting.wait("return document.querySelector('#bmi-message') !== null");
    assert_eq!(sitting.value("bmi"), hostile);
    // A code that is typed is searched for, and shown back as it is.
    sitting.open("proc_primary");
    browser.keys("<b onclick=alert(1)>");
    browser.keys(TAB);
    sitting.wait("return document.querySelector('#proc_primary-row .picker-said').textContent.includes('<b onclick=alert(1)>')");
    assert_eq!(
        browser.evaluate("return [window.broken ?? 0, document.querySelectorAll('main img').length]"),
        json!([0, 0])
    );
    assert!(!registry.raw().texts("SELECT entries FROM case_draft").join("").contains("onerror"));
}

#[test]
fn a_code_is_found_by_typing() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    sitting.open("device_in_situ");
    let box_ = "document.getElementById('device_in_situ-by-typing')";
    let list = "document.getElementById('device_in_situ-by-typing-list')";
    let state =
        format!("return [{box_}.getAttribute('aria-expanded'), {list}.hidden, {list}.children.length > 0]");
    assert_eq!(browser.evaluate(&state), json!(["false", true, false]));
    browser.keys(DOWN);
    assert_eq!(browser.evaluate(&state), json!(["true", false, true]));
    let marked = format!(
        "return document.getElementById({box_}.getAttribute('aria-activedescendant'))?.querySelector('b').textContent ?? ''"
    );
    let first = browser.evaluate(&marked);
    browser.keys(DOWN);
    assert_ne!(browser.evaluate(&marked), first);
    browser.keys(ESCAPE);
    assert_eq!(browser.evaluate(&state)[0], "false");
    for _ in 0..2 {
        browser.keys(DOWN);
        browser.keys(DOWN);
        browser.keys(ENTER);
    }
    // The same again takes it back.
    assert_eq!(browser.evaluate("return document.querySelectorAll('#device_in_situ-row .chip').length"), 0);
    browser.keys(DOWN);
    browser.keys(DOWN);
    browser.keys(ENTER);
    assert_eq!(browser.evaluate("return document.querySelectorAll('#device_in_situ-row .chip').length"), 1);
    browser.keys("\u{e003}");
    assert_eq!(browser.evaluate("return document.querySelectorAll('#device_in_situ-row .chip').length"), 0);
    assert_eq!(
        browser.evaluate(
            "return document.getElementById('device_in_situ-row').querySelectorAll('input:checked').length"
        ),
        0
    );
    let said =
        browser.evaluate("return document.querySelector('#device_in_situ-row .picker-said').textContent");
    assert_eq!(said, "");
}

#[test]
fn without_script_the_form_is_as_it_was() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let sitting = Sitting::new(&served);
    let browser = &sitting.browser;
    browser.without_script();
    browser.go(&format!("{}{}#bmi", served.address(), sitting.draft));
    let page = browser.html();
    assert!(page.contains("<select class=\"select\" id=\"proc_primary\""), "{page}");
    for by_script in ["with-keys", "combobox", "draft-notice"] {
        assert!(!page.contains(by_script), "{by_script}");
    }
    browser.keys("27.4");
    browser.keys(ENTER);
    let deadline = Instant::now() + Duration::from_secs(20);
    while !sitting.kept().contains("name=\"bmi\" value=\"27.4\"") {
        assert!(Instant::now() < deadline, "{}", sitting.kept());
    }
}
