//! What pages load, and how much of it.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use quietbeam_schema::access::Role;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;

use crate::access::{allowed, case_with_question};
use crate::routes::{PAGES, Route};

/// The most a first visit loads, compressed.
const MOST: usize = 200 * 1024;

fn compressed(visitor: &Visitor<'_>, address: &str) -> Answer {
    visitor.send(&Asked::new("GET", address).header("accept-encoding", "gzip")).expect(200)
}

fn named_in(text: &str, before: &str) -> BTreeSet<String> {
    text.split(before).skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
}

/// The page without what loads our own modules, and their addresses.
pub(crate) fn without_own_scripts(page: &str) -> (String, BTreeSet<String>) {
    const BEFORE: &str = "<script type=\"module\" src=\"/assets/";
    let addresses = named_in(page, BEFORE);
    let tag = |address: &String| format!("{BEFORE}{address}\"></script>");
    let rest = addresses.iter().fold(page.to_owned(), |rest, address| rest.replace(&tag(address), ""));
    (rest, addresses.iter().map(|address| format!("/assets/{address}")).collect())
}

/// These modules and all that they import, each once.
fn all_modules(visitor: &Visitor<'_>, first: BTreeSet<String>) -> BTreeSet<String> {
    let (mut known, mut waiting) = (BTreeSet::new(), first);
    while let Some(address) = waiting.pop_first() {
        let module = visitor.get(&address).expect(200);
        assert_eq!(module.header("content-type"), Some("text/javascript; charset=utf-8"));
        let folder = address.rsplit_once('/').unwrap().0;
        let imported =
            named_in(&module.text(), "from \"./").into_iter().map(|name| format!("{folder}/{name}"));
        waiting.extend(imported.filter(|one| !known.contains(one)));
        known.insert(address);
    }
    known
}

#[test]
fn scripts_are_small_and_say_what_they_are_for() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../backend/src/pages/script");
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("// ") && text.lines().count() <= 150, "{}", path.display());
        for foreign in
            ["innerHTML = ", "eval(", "localStorage", "sessionStorage", "document.cookie", "http:", "https:"]
        {
            assert!(!text.contains(foreign), "{} holds {foreign}", path.display());
        }
    }
}

#[test]
fn a_first_visit_loads_little_and_only_from_here() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let code = case_with_question(&served);
    let visitor = Visitor::member(&served, "lead", Role::CentreLead, &["S07".parse().unwrap()]);
    let seen =
        |route: &&Route| !["/", "/sign-in"].contains(&route.template) && allowed(route, Role::CentreLead);
    for route in PAGES.iter().filter(seen) {
        let address = route.of(&code);
        let page = visitor.get(&address).expect(200).text();
        let (page, scripts) = without_own_scripts(&page);
        for foreign in ["<script", " style=", "<style", "http://", "https://", "onclick", "javascript:"] {
            assert!(!page.contains(foreign), "{address} holds {foreign}");
        }
        let style = named_in(&page, "rel=\"stylesheet\" href=\"").into_iter().next().expect("a stylesheet");
        let sheet = visitor.get(&style).expect(200).text();
        let folder = style.rsplit_once('/').unwrap().0;
        let fonts: Vec<String> =
            named_in(&sheet, "url(\"").into_iter().map(|name| format!("{folder}/{name}")).collect();
        assert_eq!(fonts.len(), 2, "{fonts:?}");
        let loaded = [address.clone(), style].into_iter().chain(fonts).chain(all_modules(&visitor, scripts));
        let size: usize = loaded.map(|one| compressed(&visitor, &one).size()).sum();
        assert!(size < MOST, "{address} loads {size} bytes");
        assert!(size > 80 * 1024, "{address}: fonts are missing from the sum");
    }
}

#[test]
fn what_has_its_version_in_its_address_is_kept_for_a_year() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let visitor = Visitor::new(&served);
    let page = visitor.get("/sign-in").expect(200);
    assert_eq!(page.header("cache-control"), Some("no-store"));
    let style = named_in(&page.text(), "rel=\"stylesheet\" href=\"").into_iter().next().unwrap();
    let folder = style.rsplit_once('/').unwrap().0.to_owned();
    for (name, kind) in [
        ("quietbeam.css", "text/css; charset=utf-8"),
        ("source-sans-3-latin-wght-normal.woff2", "font/woff2"),
        ("source-serif-4-latin-wght-normal.woff2", "font/woff2"),
        ("source-sans-3-LICENSE.txt", "text/plain; charset=utf-8"),
        ("source-serif-4-LICENSE.txt", "text/plain; charset=utf-8"),
    ] {
        let asset = visitor.get(&format!("{folder}/{name}")).expect(200);
        assert_eq!(asset.header("content-type"), Some(kind));
        assert_eq!(asset.header("cache-control"), Some("public, max-age=31536000, immutable"));
        visitor.get(&format!("/assets/0000000000000000/{name}")).expect(404);
    }
    let licence = visitor.get(&format!("{folder}/source-sans-3-LICENSE.txt")).expect(200).text();
    assert!(licence.contains("SIL Open Font License, Version 1.1"));
    visitor.get(&format!("{folder}/..%2Fmod.rs")).expect(404);
}

#[test]
fn pages_let_nothing_inline_or_foreign_in() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
    let page = visitor.get("/desk").expect(200);
    assert_eq!(page.header("cache-control"), Some("no-store"));
    let policy = page.header("content-security-policy").unwrap();
    for part in [
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "font-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    ] {
        assert!(policy.split("; ").any(|found| found == part), "{part}: {policy}");
    }
    assert!(!policy.contains("unsafe") && !policy.contains("data:") && !policy.contains('*'), "{policy}");
}
