//! A real browser takes the investigator from a plan to the report: written, checked with its cost,
//! registered; the data are frozen; the plan is carried out; the report says what was shown.

use quietbeam_schema::access::Role;
use quietbeam_tests::browser::Browser;
use quietbeam_tests::demo;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::Served;
use serde_json::json;

/// What is ticked or chosen on the page of a plan.
const CHOSEN: [(&str, &str); 8] = [
    ("eligibility-procedure_groups", "svt"),
    ("eligibility-procedure_groups", "af_first"),
    ("eligibility-procedures", "cti_afl"),
    ("eligibility-exclude", "epicardial"),
    ("covariates", "age"),
    ("covariates", "structural_hd"),
    ("sensitivity", "leave_one_centre_out"),
    ("subgroups", "sex"),
];

/// What is typed there.
const TYPED: [(&str, &str); 11] = [
    ("title", "Zero-fluoroscopy against conventional"),
    ("question", "Is zero-fluoroscopy no worse than conventional fluoroscopy?"),
    ("endpoints-0-endpoint", "acute_success"),
    ("endpoints-0-margin", "3"),
    ("endpoints-0-expected", "95"),
    ("endpoints-0-reason", "Three in a hundred more repeats are outweighed by sparing everyone the beam."),
    ("endpoints-0-source", "decision of the writing group"),
    ("method", "standardised"),
    ("strata", "centre_and_procedure_group"),
    ("missing_covariates", "indicator"),
    ("near_zero", "in_neither_arm"),
];

/// Waits for a whole page at an address below this one, and gives its last part.
fn arrived(browser: &Browser, below: &str) -> String {
    let at = json!(below);
    browser.wait_until(&format!(
        "return document.readyState === 'complete' && location.pathname.startsWith({at})
            && location.pathname.length > {at}.length + 30"
    ));
    browser.address().rsplit('/').next().unwrap().to_owned()
}

fn reads(browser: &Browser, words: &str) {
    let main = browser.evaluate("return document.querySelector('main').innerText");
    assert!(main.as_str().unwrap().contains(words), "{words}: {main}");
}

fn planned(browser: &Browser, served: &Served<'_>) -> String {
    browser.go(&format!("{}/plans/new", served.address()));
    for (name, value) in CHOSEN {
        let control = format!("input[name='{name}'][value='{value}']");
        browser.evaluate(&format!("document.querySelector({}).click()", json!(control)));
    }
    let form = "main form[method='post']";
    browser.send_form(form, &TYPED, Some("check"));
    // Nobody typed how sure the intervals are: the page says so at the field and keeps the rest.
    browser.wait_until("return document.querySelector('.error-summary a[href=\"#level\"]') !== null");
    browser.send_form(form, &[("level", "95"), ("least_known", "90")], Some("check"));
    browser
        .wait_until("return document.readyState === 'complete' && document.querySelector('.costs') !== null");
    reads(browser, "869 cases in each arm");
    browser.send_form(form, &[], Some("register"));
    let plan = arrived(browser, "/plans/");
    for said in [
        "SVT, AF, first",
        "Typical flutter",
        "Centres and procedure groups",
        "less than 3 points worse",
        "Nobody can have looked",
    ] {
        reads(browser, said);
    }
    plan
}

#[test]
fn from_a_plan_to_the_report() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    served.desk.member("investigator", Role::Investigator, &[]);
    let browser = Browser::open();
    browser.sign_in(&served.address(), "investigator", PASSWORD);
    browser.wait_until("return document.querySelector(\"form[action='/sign-out']\") !== null");
    let plan = planned(&browser, &served);

    demo::take_in(&registry, 5, 300);
    browser.go(&format!("{}/data-cuts", served.address()));
    browser.send_form("form[action='/data-cuts']", &[("name", "first")], None);
    let cut = arrived(&browser, "/data-cuts/");
    browser.go(&format!("{}/comparisons", served.address()));
    browser.send_form("form[action='/comparisons']", &[("plan", &plan), ("cut", &cut)], None);
    arrived(&browser, "/comparisons/");

    for said in [
        "Primary question: is acute success less than 3 points worse with zero-fluoroscopy?",
        "The plan was registered before any case in its scope was entered",
        "Fluoroscopy stays available in every room",
        "Not the total effect: what remains with echo held alike.",
        "As intended, within centres and procedure groups",
        "Harm by centre",
        "to the letter the same",
    ] {
        reads(&browser, said);
    }
    // Of each figure one of the two drawings is drawn, and its numbers unfold.
    let drawn = "return [...document.querySelectorAll('figure.figure > svg')]
        .filter((one) => one.getBoundingClientRect().height > 50).length";
    assert_eq!(browser.evaluate(drawn), 10);
    let unfolded = "const one = document.querySelector('#centres-success details');
        one.querySelector('summary').click(); return one.open && one.querySelector('table') !== null";
    assert_eq!(browser.evaluate(unfolded), true);
    let refused = |line: &String| line.contains("Content Security Policy") || line.contains("404");
    assert_eq!(browser.complaints().into_iter().filter(refused).collect::<Vec<_>>(), [""; 0]);
}
