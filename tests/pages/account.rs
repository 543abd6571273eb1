//! The own account: password, sign-ins, look and keys.

use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_tests::browser::Browser;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::json;

const NEW: &str = "eleven boats at anchor by noon";

fn noted(registry: &Registry, deed: Deed) -> usize {
    registry.audit().iter().filter(|row| row.event.deed == deed).count()
}

fn sign_ins(page: &str) -> Vec<String> {
    let marker = "name=\"sign_in\" value=\"";
    page.split(marker).skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
}

on_both_stores! {
    /// Whoever sits down at a machine that was left cannot take the account over, and the
    /// attempt is seen.
    fn a_wrong_present_password_changes_nothing_and_is_noted(registry) {
        let served = Served::new(registry);
        let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
        let fields = [("do", "password"), ("present", "not the right sentence"), ("new", NEW)];
        let page = visitor.post("/account", &fields).expect(422).text();
        for part in ["This is not your present password.", "href=\"#present\"", "aria-describedby=\"present-message\""] {
            assert!(page.contains(part), "{part}: {page}");
        }
        assert!(!page.contains("not the right sentence") && !page.contains(NEW), "a password comes back");
        assert_eq!(noted(registry, Deed::PasswordRefused), 1);
        let program = served.sign_in("lead");
        let body = json!({ "present": "not the right sentence", "new": NEW });
        let problem = program.send(&Asked::new("PUT", "/me/password").json(&body)).expect(422).json();
        assert_eq!(problem["errors"][0]["pointer"], "/present");
        assert_eq!(noted(registry, Deed::PasswordRefused), 2);
        assert_eq!(noted(registry, Deed::PasswordChanged), 0);
        visitor.sign_in("lead", PASSWORD, "").expect(303);
    }

    fn a_new_password_ends_every_sign_in(registry) {
        let served = Served::new(registry);
        let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
        let elsewhere = Visitor::new(&served);
        elsewhere.sign_in("lead", PASSWORD, "").expect(303);
        for (new, part) in [("too short", "at least 15 characters"), ("lead lead lead lead", "too easy to guess")] {
            let fields = [("do", "password"), ("present", PASSWORD), ("new", new)];
            let page = visitor.post("/account", &fields).expect(422).text();
            assert!(page.contains(part) && page.contains("href=\"#new\""), "{page}");
        }
        let answer = visitor.post("/account", &[("do", "password"), ("present", PASSWORD), ("new", NEW)]).expect(303);
        assert_eq!(answer.header("location"), Some("/sign-in?to=%2Faccount"));
        for over in [&visitor, &elsewhere] {
            over.get("/desk").expect(303);
        }
        visitor.sign_in("lead", PASSWORD, "").expect(422);
        visitor.sign_in("lead", NEW, "").expect(303);
    }

    fn the_own_sign_ins_are_listed_and_can_be_ended(registry) {
        let served = Served::new(registry);
        let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
        let stranger = Visitor::member(&served, "other", Role::Monitor, &[]);
        let old = Visitor::new(&served);
        old.sign_in("lead", PASSWORD, "").expect(303);
        registry.hand.advance(29 * 60);
        visitor.get("/account").expect(200);
        stranger.get("/desk").expect(200);
        let program = served.sign_in("lead");
        registry.hand.advance(2 * 60);
        // The second browser was not used for half an hour, so it is over and not listed.
        let page = visitor.get("/account").expect(200).text();
        assert!(page.contains("This browser") && page.contains("A program") && !page.contains("A browser"), "{page}");
        let ids = sign_ins(&page);
        assert_eq!(ids.len(), 2, "{page}");
        for id in &ids {
            stranger.post("/account", &[("do", "end"), ("sign_in", id)]).expect(404);
        }
        visitor.post("/account", &[("do", "end"), ("sign_in", "nonsense")]).expect(404);
        let answer = visitor.post("/account", &[("do", "end"), ("sign_in", &ids[0])]).expect(303);
        assert_eq!(answer.header("location"), Some("/account?done=ended"));
        program.get("/me").problem(401, "signed_out");
        visitor.get("/account?done=ended").expect(200);
        visitor.post("/account", &[("do", "end"), ("sign_in", &ids[1])]).expect(303);
        visitor.get("/account").expect(303);
    }

    fn look_and_keys_are_kept_for_the_member_and_stand_on_every_page(registry) {
        let served = Served::new(registry);
        let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
        let page = visitor.get("/desk").expect(200).text();
        assert!(page.contains("data-single-keys=\"on\"") && !page.contains("data-theme"), "{page}");
        let chosen = [("do", "preferences"), ("theme", "dark"), ("single_keys", "off")];
        visitor.post("/account", &chosen).expect(303);
        let elsewhere = Visitor::new(&served);
        elsewhere.sign_in("lead", PASSWORD, "").expect(303);
        for (visitor, address) in [(&visitor, "/cases"), (&elsewhere, "/desk"), (&elsewhere, "/help")] {
            let page = visitor.get(address).expect(200).text();
            assert!(page.contains("<html lang=\"en\" data-theme=\"dark\" data-single-keys=\"off\">"), "{page}");
        }
        assert_eq!(noted(registry, Deed::PreferencesKept), 1);
        for wrong in [[("theme", "dark\" onload=\"x"), ("single_keys", "on")], [("theme", "light"), ("single_keys", "")]] {
            let page = visitor.post("/account", &[("do", "preferences"), wrong[0], wrong[1]]).expect(422).text();
            assert!(page.contains("Choose o") && !page.contains("onload"), "{page}");
        }
        visitor.post("/account", &[("do", "preferences"), ("theme", "system"), ("single_keys", "on")]).expect(303);
        assert!(!visitor.get("/desk").expect(200).text().contains("data-theme"));
        visitor.post("/account", &[("do", "something else")]).expect(400);
    }
}

/// The desk's script begins a case with N, unless the member turned single keys off.
#[test]
fn single_keys_work_until_they_are_turned_off() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let centre = registry.centre("S07");
    served.desk.member("sender", Role::Coordinator, &[centre]);
    let at = |path: &str| format!("{}{path}", served.address());
    let browser = Browser::open();
    browser.sign_in(&served.address(), "sender", PASSWORD);
    let hinted = "return document.documentElement.classList.contains('with-keys')";
    browser.wait_until(hinted);
    browser.keys("n");
    browser.wait_until("return location.pathname === '/cases/new'");
    browser.go(&at("/account"));
    browser.send_form("main form", &[("single_keys", "off")], None);
    browser.go(&at("/desk"));
    browser.keys("n");
    assert_eq!(browser.address(), at("/desk"));
    assert_eq!(browser.evaluate(hinted), false);
}

#[test]
fn the_chosen_theme_goes_before_the_machines_and_paper_stays_white() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    served.desk.member("lead", Role::Monitor, &[]);
    let browser = Browser::open();
    let ground = || browser.evaluate("return getComputedStyle(document.documentElement).backgroundColor");
    browser.show_on("screen", ("prefers-color-scheme", "light"));
    browser.sign_in(&served.address(), "lead", PASSWORD);
    // The colours of the page's ground in both themes, and white.
    assert_eq!(ground(), "rgb(231, 237, 234)");
    browser.go(&format!("{}/account", served.address()));
    browser.send_form("main form", &[("theme", "dark")], None);
    assert_eq!(ground(), "rgb(13, 20, 19)");
    browser.show_on("print", ("prefers-color-scheme", "light"));
    assert_eq!(ground(), "rgb(255, 255, 255)");
}
