//! Cases taken out again over the API.

use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Asked, Sends, Served};
use serde_json::{Value, json};
use std::io::{Cursor, Read};

use crate::network::{code, coordinator, other, submit, submitted};

/// A file in an archive, as text.
fn part(archive: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(archive)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

on_both_stores! {
    fn each_format_is_a_file_to_keep(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let code = submitted(&member);
        for (format, ending, start) in [("delimited", "zip", "PK"), ("workbook", "xlsx", "PK"), ("json", "json", "{")] {
            let answer = member.get(&format!("/exports/cases?format={format}")).expect(200);
            let name = format!("attachment; filename=\"quietbeam-cases-S07.{ending}\"");
            assert_eq!(answer.header("content-disposition"), Some(name.as_str()));
            assert!(answer.body().starts_with(start.as_bytes()), "{format}");
        }
        let archive = member.get("/exports/cases").expect(200);
        for (name, mark) in [("cases.csv", code.as_str()), ("codebook.csv", "air_kerma"), ("follow_ups.csv", code.as_str()), ("complications.csv", "ae_code")] {
            assert!(part(archive.body(), name).contains(mark), "{name}");
        }
        member.get("/exports/cases?format=parquet").problem(400, "bad_query");
        member.get("/exports/cases?after=1").problem(400, "bad_query");
    }

    fn the_filters_are_those_of_the_list(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let zero = submitted(&member);
        let conventional = code(&submit(&member, &sample::conventional_case()));
        let codes = |query: &str| -> Vec<String> {
            let file = member.get(&format!("/exports/cases?format=json{query}")).expect(200).json();
            let listed = member.get(&format!("/cases?limit=200{query}")).expect(200).json();
            let of = |items: &Value| items["items"].as_array().unwrap().iter().map(|item| item["code"].as_str().unwrap().to_owned()).collect::<Vec<_>>();
            assert_eq!(of(&file), of(&listed), "{query}");
            of(&file)
        };
        assert_eq!(codes(""), [conventional.clone(), zero.clone()]);
        assert_eq!(codes("&strategy_intended=zero"), [zero]);
        assert_eq!(codes("&strategy_intended=conventional"), [conventional]);
        assert_eq!(codes("&period=2011Q1"), [""; 0]);
        assert_eq!(codes("&completeness=something_left"), [""; 0]);
        assert_eq!(codes("&completeness=complete&open_query=no&state=submitted").len(), 2);
        member.get("/exports/cases?procedure_group=%27%20OR%201%3D1--").problem(400, "bad_query");
    }

    fn every_file_is_noted_and_none_is_sent_unnoted(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        submitted(&member);
        let answer = member.get("/exports/cases?format=workbook&strategy_intended=zero").expect(200);
        let note = registry.audit().into_iter().find(|row| row.event.deed == Deed::CasesExported).unwrap();
        let what = note.event.after.unwrap();
        assert_eq!(note.event.centre, Some("S07".parse().unwrap()));
        assert_eq!((&what["cases"], &what["format"], &what["strategy_intended"]), (&json!(1), &json!("workbook"), &json!("zero")));
        assert_eq!(what["sha256"], quietbeam::store::sha256_hex(answer.body()));
        let noted = registry.audit().len();
        member.get("/exports/cases?format=nothing").problem(400, "bad_query");
        assert_eq!(registry.audit().len(), noted);
    }

    fn another_centres_cases_are_never_in_the_file(registry) {
        let served = Served::new(registry);
        let (member, outsider) = (coordinator(&served), other(&served));
        let (own, theirs) = (submitted(&member), submitted(&outsider));
        for format in ["delimited", "json"] {
            let file = member.get(&format!("/exports/cases?format={format}")).expect(200);
            let text = if format == "json" { file.text() } else { part(file.body(), "cases.csv") };
            assert!(text.contains(&own) && !text.contains(&theirs), "{format}");
        }
        member.get("/exports/cases?centre=S08").problem(404, "not_found");
        member.get("/exports/cases?centre=S99").problem(404, "not_found");
        // Whoever belongs to two centres names one, and gets that one's.
        let both = served.member("both", Role::CentreLead, &["S07".parse().unwrap(), "S08".parse().unwrap()]);
        both.get("/exports/cases?format=json").problem(400, "bad_query");
        let file = both.get("/exports/cases?format=json&centre=S08").expect(200).text();
        assert!(file.contains(&theirs) && !file.contains(&own));
        for role in [Role::Monitor, Role::Investigator, Role::Society, Role::Administrator, Role::Adjudicator] {
            served.member(role.name(), role, &[]).get("/exports/cases").problem(403, "not_allowed");
        }
        served.stranger().get("/exports/cases").problem(401, "signed_out");
    }

    /// The records of one registry, sent to another over the API, are the same records there.
    fn records_go_round_as_json(registry) {
        let first = Registry::new(Engine::Sqlite);
        let (there, here) = (Served::new(&first), Served::new(registry));
        let (sender, member) = (coordinator(&there), coordinator(&here));
        let hostile = sample::with(sample::case_with_seen_effusion(), json!({ "comment": "=1;\"x\" <b>" }));
        for case in [sample::zero_fluoroscopy_case(), sample::conventional_case(), hostile] {
            submit(&sender, &case);
        }
        let records = |file: Value| -> Vec<Value> { file["items"].as_array().unwrap().iter().map(|item| item["record"].clone()).collect() };
        let out = records(sender.get("/exports/cases?format=json").expect(200).json());
        for record in out.iter().rev() {
            let checked = member.send(&Asked::new("POST", "/cases/check").json(record)).expect(200).json();
            assert_eq!(checked["acceptable"], true, "{checked}");
            submit(&member, record);
        }
        let again = records(member.get("/exports/cases?format=json").expect(200).json());
        assert_eq!(again, out);
        assert_eq!(out.len(), 3);
        // When it was written and by whom stands in the trail, not in the file.
        let file = member.get("/exports/cases?format=json").expect(200).text();
        assert!(!file.contains("2026-11-25") && !file.contains("\"by\""), "{file}");
    }
}
