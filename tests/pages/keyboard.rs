//! Whole cases entered with the keyboard alone, from the desk to the stored record, in a real
//! browser; the keys are counted.
//!
//! The time of a practised person follows from the count by the keystroke-level model (Card,
//! Moran and Newell, Communications of the ACM 23, 1980): a key takes 0.28 s at 40 words a
//! minute ("average non-secretary typist"), and each field one mental preparation of 1.35 s.
//! Both times as an introduction to the model at the University of Hamburg (GOMS) prints them;
//! the paper itself is cited from memory. Copying from a chart, and errors, are not in it.

use std::collections::BTreeMap;

use quietbeam_schema::access::Role;
use quietbeam_tests::browser::{Browser, CONTROL, DOWN, ENTER, TAB};
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use serde_json::Value;

use crate::entry::fields_of;

const KEY: f64 = 0.28;
const THINKING: f64 = 1.35;
const THREE_MINUTES: f64 = 180.0;

/// Somebody at a keyboard.
pub(crate) struct Typist<'b> {
    browser: &'b Browser,
    strokes: usize,
    decisions: usize,
}

/// What has the focus, as somebody sees it.
const FOCUS: &str = "
    const here = document.activeElement;
    const row = here.closest('.field[id]');
    const marked = document.getElementById(here.getAttribute('aria-activedescendant'));
    const holders = row ? [...row.querySelectorAll('.control select[name], .control .choices')] : [];
    const codes = holders.flatMap((one) => [...(one.options ?? one.querySelectorAll('input'))]);
    const strip = here.closest('.choice');
    return {
        field: row ? row.id.replace(/-row$/, '') : '',
        kind: here.getAttribute('role') ?? here.type ?? here.tagName,
        name: here.name ?? '',
        value: here.value ?? '',
        text: here.textContent.trim().slice(0, 60),
        marked: marked?.querySelector('b').textContent ?? '',
        labels: Object.fromEntries(codes.map((one) => [one.value, one.label || (one.text ?? one.closest('label').textContent.trim())])),
        order: [...(strip?.querySelectorAll('input') ?? here.options ?? [])].map((one) => one.value),
        inside: [...(here.tagName === 'SUMMARY' && !here.parentElement.open ? here.parentElement.querySelectorAll('.field[id]') : [])].map((one) => one.id.replace(/-row$/, '')),
    };
";

impl<'b> Typist<'b> {
    pub(crate) fn new(browser: &'b Browser) -> Self {
        Self { browser, strokes: 0, decisions: 0 }
    }

    /// Presses keys; a capital needs Shift.
    pub(crate) fn press(&mut self, keys: &str) {
        self.strokes += keys.chars().map(|key| 1 + usize::from(key.is_uppercase())).sum::<usize>();
        self.browser.keys(keys);
    }

    fn chord(&mut self, held: &str, key: &str) {
        self.strokes += 2;
        self.browser.chord(held, key);
    }

    fn focus(&self) -> Value {
        self.browser.evaluate(FOCUS)
    }

    /// Fills in every field that has a value, in the order in which Tab reaches them.
    fn fill(&mut self, mut wanted: BTreeMap<String, Vec<String>>) {
        let mut last = String::new();
        for _ in 0..400 {
            if wanted.is_empty() {
                return;
            }
            let focus = self.focus();
            let text = |key: &str| focus[key].as_str().unwrap_or_default().to_owned();
            let name = if text("kind") == "combobox" { text("field") } else { text("name") };
            if let Some(values) = wanted.remove(&name) {
                self.decisions += 1;
                self.answer(&focus, &values);
                last = name;
            } else if self.leads_on(&focus, &wanted) {
                self.press(ENTER);
                if text("kind") == "submit" {
                    self.browser.wait_until(
                        "return document.activeElement.id === 'complications-0-ae_code-by-typing'",
                    );
                    continue;
                }
            }
            self.press(TAB);
        }
        panic!("after {last} Tab reached no field for {wanted:?}; now at {}", self.focus());
    }

    /// Whether what has the focus opens the way to a field that is still to fill in.
    fn leads_on(&self, focus: &Value, wanted: &BTreeMap<String, Vec<String>>) -> bool {
        let inside = focus["inside"].as_array().cloned().unwrap_or_default();
        let opens = inside.iter().any(|name| wanted.contains_key(name.as_str().unwrap_or_default()));
        opens
            || (focus["text"] == "Add a complication"
                && wanted.keys().any(|name| name.starts_with("complications-")))
    }

    fn answer(&mut self, focus: &Value, values: &[String]) {
        let order: Vec<&str> =
            focus["order"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
        let at = |value: &str| {
            let found = order.iter().position(|known| known.eq_ignore_ascii_case(value));
            found.unwrap_or_else(|| panic!("{value} is not offered: {focus}"))
        };
        match focus["kind"].as_str().unwrap_or_default() {
            "radio" => self.press(&(at(&values[0]) + 1).to_string()),
            "select-one" => {
                for _ in at(focus["value"].as_str().unwrap_or_default())..at(&values[0]) {
                    self.press(DOWN);
                }
            }
            "combobox" => {
                for (nth, value) in values.iter().enumerate() {
                    self.find(focus["labels"][value].as_str().unwrap_or_else(|| panic!("{value}: {focus}")));
                    // The last one is taken with the Tab that leaves the field.
                    if nth + 1 < values.len() {
                        self.press(ENTER);
                    }
                }
            }
            _ => self.press(&values[0]),
        }
    }

    /// Types the beginning of a label until the list marks it.
    fn find(&mut self, label: &str) {
        for letter in label.to_lowercase().chars() {
            self.press(&letter.to_string());
            if self.focus()["marked"] == label {
                return;
            }
        }
        panic!("{label} is not found by typing it: {}", self.focus());
    }

    fn seconds(&self) -> f64 {
        KEY * self.strokes as f64 + THINKING * self.decisions as f64
    }
}

/// The draft's fields as the form names them.
fn wanted(case: &Value) -> BTreeMap<String, Vec<String>> {
    let mut wanted: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (name, value) in fields_of(case) {
        if name != "complications-count" && name != "strategy_intended" {
            wanted.entry(name).or_default().push(value);
        }
    }
    wanted
}

/// Signs somebody in and shows the desk.
pub(crate) fn at_the_desk(served: &Served<'_>, browser: &Browser, name: &str) {
    browser.go(&format!("{}/sign-in", served.address()));
    browser.press(name);
    browser.press(TAB);
    browser.press(PASSWORD);
    browser.press(ENTER);
    browser.wait_until("return location.pathname === '/desk'");
}

#[test]
fn three_typical_cases_are_entered_by_keyboard_alone_in_under_three_minutes() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let centre = registry.centre("S07");
    let direct = served.member("direct", Role::Coordinator, &[centre]);
    served.desk.member("typist", Role::Coordinator, &[centre]);
    let browser = Browser::open();
    at_the_desk(&served, &browser, "typist");
    for (name, case, first, most) in [
        ("zero fluoroscopy", sample::zero_fluoroscopy_case(), "1", 210),
        ("conventional", sample::conventional_case(), "3", 252),
        ("tamponade", sample::case_with_tamponade(), "1", 272),
    ] {
        browser.go(&format!("{}/desk", served.address()));
        let mut typist = Typist::new(&browser);
        typist.press("n");
        browser.wait_until("return document.activeElement?.name === 'strategy_intended'");
        typist.press(first);
        typist.press(ENTER);
        browser.wait_until("return document.activeElement?.name === 'intended_declared'");
        typist.decisions += 1;
        typist.fill(wanted(&case));
        typist.chord(CONTROL, ENTER);
        browser.wait_until("return location.pathname.startsWith('/cases/') || document.querySelector('.error-summary') !== null");
        let address = browser.address();
        let said = browser.evaluate("return document.querySelector('.error-summary')?.textContent ?? ''");
        assert_eq!(said, "", "{name}");
        let code = address.rsplit('/').next().unwrap();
        let kept = direct.get(&format!("/cases/{code}")).expect(200).json();
        let same = direct.post("/cases", &case).expect(201).json();
        let same = direct.get(&format!("/cases/{}", same["code"].as_str().unwrap())).expect(200).json();
        assert_eq!(kept["record"], same["record"], "{name}");
        println!("{name}: {} keys, {} fields, {:.0} s", typist.strokes, typist.decisions, typist.seconds());
        assert!(typist.strokes <= most, "{name} needs {} keys", typist.strokes);
        assert!(typist.seconds() < THREE_MINUTES, "{name} takes {:.0} s", typist.seconds());
    }
    assert_eq!(
        browser.complaints().into_iter().filter(|line| !line.contains("favicon")).collect::<Vec<_>>(),
        [""; 0]
    );
}
