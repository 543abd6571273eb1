//! A real browser takes a summary to the public and back: one person composes it, a second approves,
//! a third publishes; everyone reads it; a later one corrects it; and one that would give a count
//! away is refused and composed anew.

use quietbeam_schema::access::Role;
use quietbeam_tests::browser::{Browser, ENTER};
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::{Asked, Sends, Served};

use crate::accessible::Judge;
use crate::imports_walk::{heading, press_button};
use crate::releases::{freeze, frozen, publish, send};

const QUESTION: &str = "How safe was it without X-ray?";

/// Where the browser is, without the server.
fn path(browser: &Browser, served: &Served<'_>) -> String {
    browser.address().strip_prefix(&served.address()).unwrap().to_owned()
}

/// Goes where the link of these words leads.
fn follow(browser: &Browser, words: &str) {
    let script = format!(
        "const found = [...document.querySelectorAll('main a')].filter((one) => one.textContent.trim() === {});
         if (found.length === 1) found[0].click(); return found.length;",
        serde_json::json!(words)
    );
    assert_eq!(browser.evaluate(&script), 1, "the link {words}");
}

/// Presses a button and waits for the answer, which comes after an attack.
fn press(browser: &Browser, words: &str) {
    browser.evaluate("document.body.dataset.left = ''");
    press_button(browser, words);
    browser.wait_until("return document.readyState === 'complete' && !('left' in document.body.dataset)");
}

fn reads(browser: &Browser, words: &str) -> bool {
    browser.evaluate("return document.querySelector('main').innerText").as_str().unwrap().contains(words)
}

/// Does one person's work and signs out.
fn as_member(judge: &mut Judge, (served, name): (&Served<'_>, &str), work: impl FnOnce(&mut Judge)) {
    // Whoever goes on at once takes the answer of the sign-in, or of the sign-out, away.
    let signed_in = |wanted: &str| {
        format!(
            "return document.readyState === 'complete'
                && (document.querySelector(\"form[action='/sign-out']\") !== null) === {wanted}"
        )
    };
    judge.browser.sign_in(&served.address(), name, PASSWORD);
    judge.browser.wait_until(&signed_in("true"));
    work(judge);
    judge.browser.send_form("form[action='/sign-out']", &[], None);
    judge.browser.wait_until(&signed_in("false"));
}

/// Whoever composes, whoever approves and whoever publishes.
fn staff(served: &Served<'_>) {
    for (name, role) in
        [("composer", Role::Society), ("approver", Role::Monitor), ("publisher", Role::Society)]
    {
        served.desk.member(name, role, &[]);
    }
}

fn compose(judge: &mut Judge, served: &Served<'_>) -> String {
    let browser = &judge.browser;
    browser.go(&format!("{}/releases", served.address()));
    follow(browser, "Compose a summary");
    let newest = browser
        .evaluate("const cut = document.querySelector('#cut'); return cut.selectedOptions[0].textContent");
    assert_eq!(newest, "spring");
    browser.evaluate("document.querySelector('[name=tables][value=completeness]').click()");
    browser.evaluate("document.querySelector('#question').focus()");
    browser.press(QUESTION);
    // The Enter key previews; it keeps nothing.
    browser.press(ENTER);
    browser.wait_until("return document.querySelector('#preview') !== null");
    assert!(reads(browser, QUESTION) && reads(browser, "Centres S01 and S02 together"));
    judge.look("releases, preview");
    press(&judge.browser, "Keep as draft");
    assert!(heading(&judge.browser).starts_with("Draft "));
    assert!(!reads(&judge.browser, "Approve exactly this"), "whoever composed does not approve");
    path(&judge.browser, served)
}

fn approve(judge: &mut Judge, served: &Served<'_>, address: &str) {
    judge.browser.go(&format!("{}{address}", served.address()));
    judge.look("releases, to approve");
    press(&judge.browser, "Approve exactly this");
    assert!(reads(&judge.browser, "approved, waits for publication"));
    assert!(!reads(&judge.browser, "Publish for everyone"), "whoever approved does not publish");
}

fn make_public(judge: &mut Judge, served: &Served<'_>, address: &str) {
    judge.browser.go(&format!("{}{address}", served.address()));
    press(&judge.browser, "Publish for everyone");
    assert_eq!(heading(&judge.browser), "Safety summary 1");
    follow(&judge.browser, "As the public sees it");
    assert_eq!(path(&judge.browser, served), "/summaries/1");
}

fn correct(judge: &mut Judge, served: &Served<'_>, address: &str) {
    let browser = &judge.browser;
    browser.go(&format!("{}{address}", served.address()));
    browser.evaluate("document.querySelector('.next-step summary').click()");
    judge.look("releases, to withdraw");
    press(&judge.browser, "Withdraw it");
    assert!(judge.browser.title().starts_with("Must be mended"), "without a reason");
    judge.look("releases, reason missing");
    judge.browser.evaluate("document.querySelector('#reason').focus()");
    judge.browser.press("a column was mislabelled");
    judge.browser.evaluate("document.querySelector('#corrected_by').value = '2'");
    press(&judge.browser, "Withdraw it");
    assert!(reads(&judge.browser, "corrected by safety summary 2"));
}

#[test]
fn three_people_take_a_summary_to_the_public_and_a_later_one_corrects_it() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let cut = frozen(&served);
    staff(&served);
    let mut judge = Judge::new();
    let mut address = String::new();
    as_member(&mut judge, (&served, "composer"), |judge| address = compose(judge, &served));
    judge.browser.go(&format!("{}/summaries/1", served.address()));
    assert!(!reads(&judge.browser, QUESTION));
    as_member(&mut judge, (&served, "approver"), |judge| approve(judge, &served, &address));
    as_member(&mut judge, (&served, "publisher"), |judge| make_public(judge, &served, &address));
    judge.browser.go(&format!("{}/summaries/1", served.address()));
    assert_eq!(heading(&judge.browser), QUESTION);

    publish(&served, &cut, &[("question", "And said right?")]);
    as_member(&mut judge, (&served, "publisher"), |judge| correct(judge, &served, &address));
    // A browser that read it may keep it for five minutes; asked to look again it says so at once.
    judge.browser.go(&format!("{}/summaries/1", served.address()));
    judge.browser.evaluate("location.reload()");
    judge.browser.wait_until("return document.querySelector('main').innerText.includes('was withdrawn')");
    judge.look("summaries, withdrawn");
    assert!(reads(&judge.browser, "a column was mislabelled"));
    let gone = served.stranger().send(&Asked::new("GET", "//summaries/1").header("accept", "text/html"));
    assert_eq!(gone.status, 410);
    follow(&judge.browser, "safety summary 2");
    assert_eq!(heading(&judge.browser), "And said right?");
    judge.conclude();
}

/// Approved, and then another is published: at the last step it is refused, and begun anew.
#[test]
fn a_summary_that_would_give_a_count_away_is_refused_and_composed_anew() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let first = frozen(&served);
    staff(&served);
    send(&served, 1);
    freeze(&served, "summer");
    let mut judge = Judge::new();
    let mut address = String::new();
    as_member(&mut judge, (&served, "composer"), |judge| {
        judge.browser.go(&format!("{}/releases/new", served.address()));
        press(&judge.browser, "Keep as draft");
        address = path(&judge.browser, &served);
    });
    as_member(&mut judge, (&served, "approver"), |judge| {
        judge.browser.go(&format!("{}{address}", served.address()));
        press(&judge.browser, "Approve exactly this");
        assert!(reads(&judge.browser, "approved, waits for publication"), "{}", judge.browser.html());
    });
    publish(&served, &first, &[]);
    as_member(&mut judge, (&served, "publisher"), |judge| {
        judge.browser.go(&format!("{}{address}", served.address()));
        press(&judge.browser, "Publish for everyone");
        assert!(judge.browser.title().starts_with("Must be mended"), "{}", judge.browser.html());
        assert!(reads(&judge.browser, "this summary ends here"));
        judge.look("releases, refused");
    });
    as_member(&mut judge, (&served, "composer"), |judge| {
        judge.browser.go(&format!("{}/releases", served.address()));
        assert!(reads(&judge.browser, "refused, to be composed anew"));
        judge.browser.go(&format!("{}{address}", served.address()));
        follow(&judge.browser, "Compose it anew");
        press(&judge.browser, "Keep as draft");
        assert!(heading(&judge.browser).starts_with("Draft ") && path(&judge.browser, &served) != address);
    });
    judge.conclude();
}

/// Whatever is wider than what shows it, and every cell of a block that does not name its column.
const PUSHED_SIDEWAYS: &str = "
    const wide = [document.documentElement, ...document.querySelectorAll('.scroll')]
        .filter((one) => one.scrollWidth > one.clientWidth)
        .map((one) => one.getAttribute('aria-label') ?? 'the page');
    const nameless = [...document.querySelectorAll('.as-blocks tbody td')]
        .filter((cell) => getComputedStyle(cell).display !== 'none')
        .filter((cell) => ['none', 'normal', '\"\"'].includes(getComputedStyle(cell, '::before').content))
        .map((cell) => cell.textContent);
    return [...wide, ...nameless];
";

/// The longest numbers that a large network could have.
const LONG_NUMBERS: &str = "
    document.querySelectorAll('td.number:not(.of-nothing), td.not-shown')
        .forEach((cell) => { cell.className = 'number'; cell.textContent = '12,068 (94.0\u{2009}%)'; });
";

#[test]
fn no_table_of_a_public_summary_is_pushed_sideways_on_a_phone() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let cut = frozen(&served);
    publish(&served, &cut, &[("tables", "staff_dose"), ("tables", "dose")]);
    let browser = Browser::open();
    for address in ["/summaries/1", "/summaries/1/embed"] {
        for (theme, width) in [("light", 390), ("dark", 390), ("light", 320)] {
            browser.prefer(theme);
            browser.resize(width, 800);
            browser.go(&format!("{}{address}", served.address()));
            let rows = browser.evaluate("return document.querySelectorAll('tbody th[scope=row]').length");
            assert!(rows.as_u64() > Some(5), "{address}: {rows}");
            for long in ["", LONG_NUMBERS] {
                browser.evaluate(long);
                let found = browser.evaluate(PUSHED_SIDEWAYS);
                assert_eq!(found, serde_json::json!([]), "{address}, {theme}, {width} px, {long}");
            }
        }
    }
    browser.resize(1280, 800);
    browser.go(&format!("{}/summaries/1", served.address()));
    let blocks = browser.evaluate("return getComputedStyle(document.querySelector('.as-blocks tr')).display");
    assert_eq!(blocks, "table-row", "on a desk a table is a table");
}
