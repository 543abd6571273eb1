//! Every page and every state of it in a real browser: axe-core and the checks of
//! `checks.js`, light and dark, for a desk and a phone. With `QUIETBEAM_SCREENSHOTS` each is
//! drawn into that folder too, for people to judge.

mod looks;

use std::fs;
use std::path::{Path, PathBuf};

use quietbeam_tests::browser::Browser;

/// Beside axe-core.
const CHECKS: &str = include_str!("checks.js");

/// Desk and phone, light and dark.
const LOOKS: [(&str, u32); 4] = [("light", 1280), ("light", 390), ("dark", 1280), ("dark", 390)];

#[test]
fn every_page_of_the_demo_is_accessible_and_fits_a_narrow_screen() {
    let mut judge = Judge::new();
    looks::of_the_demo(&mut judge);
    judge.conclude();
}

#[test]
fn empty_and_refused_pages_are_accessible_and_fit_a_narrow_screen() {
    let mut judge = Judge::new();
    looks::empty_and_refused(&mut judge);
    judge.conclude();
}

/// The checks must be able to find something.
#[test]
fn what_is_wrong_is_found() {
    let judge = Judge::new();
    judge.browser.resize(320, 700);
    judge.browser.go(
        "data:text/html,<title>x</title><meta name=viewport content='width=device-width'><body style='width:900px'><h1>a</h1><h3>b</h3><a href='%23no' id=p>c</a>\
         <button id=p style='outline:0;width:9px;height:9px'></button><svg width=9 height=9><path fill=none /></svg>\
         <i style='transition:color 1s'>i</i><p style='color:%23ccc'>faint</p>",
    );
    for (check, part) in [
        ("structure", "names no language"),
        ("structure", "a heading h3 comes after h1"),
        ("structure", "the id \"p\" is there twice"),
        ("structure", "leads nowhere"),
        ("reflow", "scrolls sideways"),
        ("targets", "smaller than 24 px: <button"),
        ("focus", "has no outline with the focus: <button"),
        ("forced", "is not to be seen in forced colours: <svg"),
        ("motion", "moves: <i"),
        ("axe", "axe color-contrast"),
        ("axe", "axe button-name"),
    ] {
        let found = judge.ask(check);
        assert!(found.iter().any(|line| line.contains(part)), "{check} does not find \"{part}\": {found:?}");
    }
}

/// Looks at whatever the browser shows, and keeps what is wrong.
pub(crate) struct Judge {
    pub(crate) browser: Browser,
    axe: String,
    pictures: Option<PathBuf>,
    wrong: Vec<String>,
}

impl Judge {
    pub(crate) fn new() -> Self {
        Self {
            browser: Browser::open(),
            axe: axe(),
            pictures: std::env::var_os("QUIETBEAM_SCREENSHOTS").map(PathBuf::from),
            wrong: Vec::new(),
        }
    }

    /// Judges the page that is shown, under a name for people.
    pub(crate) fn look(&mut self, name: &str) {
        let usual = ("prefers-color-scheme", "light");
        self.browser.show_on("screen", usual);
        self.browser.resize(320, 700);
        for check in ["structure", "reflow", "targets", "focus"] {
            self.note(name, "320 px", check);
        }
        self.browser.resize(1280, 800);
        self.note(name, "1280 px", "focus");
        self.browser.show_on("screen", ("forced-colors", "active"));
        self.note(name, "forced colours", "forced");
        self.browser.show_on("screen", ("prefers-reduced-motion", "reduce"));
        self.note(name, "reduced motion", "motion");
        for (theme, width) in LOOKS {
            self.browser.show_on("screen", ("prefers-color-scheme", theme));
            self.browser.resize(width, 800);
            // As high as the page, so that nothing lies under a foot that sticks.
            let height = self.browser.evaluate("return document.documentElement.scrollHeight").as_u64();
            self.browser.resize(width, height.and_then(|height| height.try_into().ok()).unwrap_or(800));
            self.note(name, &format!("{theme}, {width} px"), "axe");
            self.browser.resize(width, 800);
            self.draw(name, &format!("{theme}-{width}"));
        }
        self.browser.show_on("print", usual);
        self.browser.without_colours(true);
        self.draw(name, "print");
        self.browser.without_colours(false);
        self.browser.show_on("screen", usual);
    }

    fn note(&mut self, name: &str, how: &str, check: &str) {
        let found = self.ask(check);
        self.wrong.extend(found.into_iter().map(|line| format!("{name} ({how}): {line}")));
    }

    fn ask(&self, check: &str) -> Vec<String> {
        let axe = if check == "axe" { self.axe.as_str() } else { "" };
        let found = self.browser.evaluate(&format!("{axe}\n{CHECKS}\nreturn checks.{check}();"));
        let lines = found.as_array().unwrap_or_else(|| panic!("{check} came to no end: {found}"));
        lines.iter().map(|line| line.as_str().unwrap().to_owned()).collect()
    }

    fn draw(&self, name: &str, how: &str) {
        if let Some(folder) = &self.pictures {
            fs::create_dir_all(folder).unwrap();
            let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
            let name: String = name.trim_matches('/').chars().map(plain).collect();
            self.browser.picture(&folder.join(format!("{name}-{how}.png")));
        }
    }

    pub(crate) fn conclude(self) {
        assert!(self.wrong.is_empty(), "{} things are wrong:\n{}", self.wrong.len(), self.wrong.join("\n"));
    }
}

fn axe() -> String {
    let brought = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/axe/axe.min.js");
    let file = std::env::var_os("QUIETBEAM_TEST_AXE").map_or(brought, PathBuf::from);
    fs::read_to_string(&file).unwrap_or_else(|_| {
        panic!("these tests need axe-core: run tests/axe once, or name its axe.min.js in QUIETBEAM_TEST_AXE")
    })
}
