//! Numbers and words are planted in the cases, and everything that the public is given is searched for
//! them. The PDF is not: it is typeset from the page that is.

use crate::network::{central, code, step, submit};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{conventional_case, with, zero_fluoroscopy_case};
use quietbeam_tests::server::{Asked, Sends, Served};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// Cases of each centre: no minute, second or day is as large.
const CASES: [(&str, usize); 3] = [("S01", 61), ("S02", 67), ("S03", 71)];

/// What a record says and nobody but its centre and whoever may read rows may know. The kerma-area product
/// is planted in µGy·m², of which a hundred are a Gy·cm².
const PLANTED: [&str; 5] = ["613.7", "4218.9", "42.189", "O87", "quillwort"];

/// Everything that is given to whoever asks.
const GIVEN: [&str; 8] = [
    "//summaries",
    "//summaries/1",
    "//summaries/1/embed",
    "//summaries/1/tables.csv",
    "//summaries/1/citation.json",
    "//summaries/feed.xml",
    "/summaries",
    "/summaries/1",
];

/// The words and numbers outside the marks of a page; a number keeps its decimals.
fn words(text: &str) -> BTreeSet<String> {
    // What stands before the first mark, and behind the end of each.
    let outside: Vec<&str> =
        text.split('<').map(|part| part.split_once('>').map_or(part, |(_, behind)| behind)).collect();
    let outside = outside.join(" ");
    let words = outside.split(|letter: char| !letter.is_alphanumeric() && letter != '.');
    words.map(|word| word.trim_matches('.').to_owned()).collect()
}

/// Cases of both kinds, one of them with a dose like no other.
fn send(served: &Served<'_>) -> (Vec<String>, Value) {
    let mut codes = Vec::new();
    let operator = json!({ "op_code": "O87" });
    for (name, cases) in CASES {
        let centre = served.registry.centre(name);
        let member =
            served.member(&format!("quillwort.{}", name.to_lowercase()), Role::Coordinator, &[centre]);
        for number in 0..cases {
            let most = json!({ "op_code": "O87", "air_kerma": 613.7, "kap": 4218.9 });
            let case = match (name, number) {
                ("S01", 0) => with(conventional_case(), most),
                (_, even) if even % 2 == 0 => with(conventional_case(), operator.clone()),
                _ => with(zero_fluoroscopy_case(), operator.clone()),
            };
            let sent = submit(&member, &case);
            if number == 0 {
                let code = code(&sent);
                let own = member.get(&format!("/cases/{code}")).expect(200).text();
                assert_eq!(own.contains("613.7"), name == "S01", "the search finds what was planted: {own}");
                codes.push(code);
            }
        }
    }
    let investigator = central(served, Role::Investigator);
    let cut = investigator.post("/data-cuts", &json!({ "name": "spring freeze" })).expect(201).json();
    (codes, cut["id"].clone())
}

on_both_stores! {
    fn nothing_planted_is_given_to_the_public(registry) {
        let served = Served::new(registry);
        let (codes, cut) = send(&served);
        let [author, publisher] = ["author.quillwort", "publisher.quillwort"].map(|name| served.member(name, Role::Society, &[]));
        let monitor = served.member("monitor.quillwort", Role::Monitor, &[]);
        let tables = ["complication_class", "detection_route", "year", "region", "dose", "staff", "staff_dose", "completeness", "capture"];
        let design = json!({ "tables": tables });
        let draft = author.post("/summary-drafts", &json!({ "data_cut": cut, "design": design })).expect(201);
        let path = format!("/summary-drafts/{}", draft.json()["id"].as_str().unwrap());
        monitor.send(&Asked::new("POST", format!("{path}/approval")).if_match(&draft.etag())).expect(200);
        step(&publisher, &format!("{path}/publication")).expect(200);
        let stranger = served.stranger();
        for address in GIVEN {
            let given = stranger.send(&Asked::new("GET", address).header("accept", "text/html,*/*")).expect(200).text();
            for planted in PLANTED.into_iter().chain(codes.iter().map(String::as_str)) {
                assert!(!given.contains(planted), "{address} holds {planted}: {given}");
            }
            let words = words(&given);
            if ["//summaries/1", "//summaries/1/tables.csv", "/summaries/1"].contains(&address) {
                assert!(words.contains("199"), "{address} tells all cases: {given}");
            }
            // Those of each centre, and those of two together: the rest is the third's.
            for secret in ["61", "67", "71", "128", "132", "138", "S01", "S02", "S03"] {
                assert!(!words.contains(secret), "{address} tells {secret}: {given}");
            }
        }
    }
}
