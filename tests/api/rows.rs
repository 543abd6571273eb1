//! De-identified rows of a data cut over the API.

use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served, SignedIn};
use serde_json::{Value, json};
use std::io::{Cursor, Read};

use crate::network::{central, code, coordinator, other, submit, text};

fn part(archive: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(archive)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

fn rows(archive: &[u8], table: &str) -> Vec<std::collections::BTreeMap<String, String>> {
    let text = part(archive, &format!("{table}.csv"));
    csv::Reader::from_reader(text.as_bytes()).deserialize().collect::<Result<_, _>>().unwrap()
}

fn cut(investigator: &SignedIn<'_>, name: &str) -> String {
    text(&investigator.post("/data-cuts", &json!({ "name": name })).expect(201).json(), "id")
}

/// A case with a complication and words of its own.
fn told() -> Value {
    sample::with(sample::case_with_seen_effusion(), json!({ "comment": "=HYPERLINK(1) secret words" }))
}

on_both_stores! {
    fn rows_go_out_where_enough_are_alike(registry) {
        let served = Served::new(registry);
        let (here, there, investigator) = (coordinator(&served), other(&served), central(&served, Role::Investigator));
        let mut codes: Vec<String> = (0..11).map(|_| code(&submit(&here, &told()))).collect();
        codes.extend((0..3).map(|_| code(&submit(&there, &told()))));
        let id = cut(&investigator, "first");
        let answer = investigator.get(&format!("/data-cuts/{id}/rows?profile=year_only")).expect(200);
        assert_eq!(answer.header("content-type"), Some("application/zip"));
        let about: Value = serde_json::from_str(&part(answer.body(), "about.json")).unwrap();
        assert_eq!((&about["profile"], &about["least_rows"], &about["rows"]), (&json!("year_only"), &json!(11), &json!(11)));
        assert_eq!(about["withheld"], json!({ "fewer_than": 11 }), "three rows are not told as three");
        assert_eq!(about["steps"], json!({ "as_recorded": 11 }));
        let shown = investigator.get(&format!("/data-cuts/{id}")).expect(200).json();
        assert_eq!(about["data_cut_hash"], shown["content_hash"]);
        assert!(about["cautions"].to_string().contains("privacy officer"), "{about}");
        assert!(!about.to_string().contains("compliant"));
        let cases = rows(answer.body(), "cases");
        let typical = sample::zero_fluoroscopy_case();
        let year = &typical["period"].as_str().unwrap()[..4];
        assert_eq!(cases.len(), 11);
        for row in &cases {
            assert_eq!((row["site"].as_str(), row["period"].as_str()), ("S07", year));
        }
        let ids = |table: &str| rows(answer.body(), table).iter().map(|row| row["row_id"].clone()).collect::<Vec<_>>();
        assert_eq!((ids("complications"), ids("follow_ups")), (ids("cases"), ids("cases")));
        assert!(ids("cases").is_sorted());
        for name in ["cases.csv", "complications.csv", "follow_ups.csv", "columns.csv", "about.json"] {
            let file = part(answer.body(), name);
            assert!(!file.contains("secret words") && !file.contains("S08"), "{name}");
            assert!(codes.iter().all(|code| !file.contains(code.as_str())), "{name} holds a case code");
        }
        // Nothing joins a second file of the same cut to the first.
        let second = investigator.get(&format!("/data-cuts/{id}/rows?profile=year_only")).expect(200);
        let again: Vec<String> = rows(second.body(), "cases").iter().map(|row| row["row_id"].clone()).collect();
        assert!(again.iter().all(|id| !ids("cases").contains(id)));
        // Inside the network five are enough, once the site is left out for the three.
        let inside = investigator.get(&format!("/data-cuts/{id}/rows?profile=pseudonymised&operators=true")).expect(200);
        let inside = rows(inside.body(), "cases");
        assert_eq!(inside.len(), 11);
        assert!(inside.iter().all(|row| row["op_code"].starts_with("S07-") && row["op_code"] == inside[0]["op_code"]));
        let operator = sample::zero_fluoroscopy_case()["op_code"].as_str().unwrap().to_owned();
        assert!(!inside[0]["op_code"].contains(&operator));
    }

    fn what_is_frozen_is_what_goes_out(registry) {
        let served = Served::new(registry);
        let (member, investigator) = (coordinator(&served), central(&served, Role::Investigator));
        for _ in 0..11 {
            submit(&member, &told());
        }
        let id = cut(&investigator, "first");
        let path = format!("/data-cuts/{id}/rows?profile=year_only");
        let values = |archive: &[u8]| {
            let mut rows = rows(archive, "cases");
            rows.iter_mut().for_each(|row| drop(row.remove("row_id")));
            rows.sort();
            rows
        };
        let before = values(investigator.get(&path).expect(200).body());
        submit(&member, &told());
        submit(&member, &sample::conventional_case());
        assert_eq!(values(investigator.get(&path).expect(200).body()), before);
        let notes: Vec<_> = registry.audit().into_iter().filter(|row| row.event.deed == Deed::RowsExported).collect();
        assert_eq!(notes.len(), 2);
        let what = notes[0].event.after.clone().unwrap();
        assert_eq!((&what["profile"], &what["rows"]), (&json!("year_only"), &json!(11)));
        assert_eq!(notes[0].event.subject_id, id);
    }

    fn only_investigators_take_rows_out(registry) {
        let served = Served::new(registry);
        let (member, investigator) = (coordinator(&served), central(&served, Role::Investigator));
        submit(&member, &told());
        let id = cut(&investigator, "first");
        let path = format!("/data-cuts/{id}/rows?profile=year_only");
        for role in [Role::Monitor, Role::Society, Role::Administrator, Role::Adjudicator] {
            served.member(role.name(), role, &[]).get(&path).problem(403, "not_allowed");
        }
        member.get(&path).problem(403, "not_allowed");
        served.stranger().get(&path).problem(401, "signed_out");
        investigator.get("/data-cuts/0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b/rows?profile=year_only").problem(404, "not_found");
        investigator.get(&format!("/data-cuts/{id}/rows")).problem(400, "bad_query");
        investigator.get(&format!("/data-cuts/{id}/rows?profile=limited")).problem(400, "bad_query");
        investigator.get(&format!("{path}&least_rows=1")).problem(400, "bad_query");
        assert!(registry.audit().iter().all(|row| row.event.deed != Deed::RowsExported));
        // A single case is withheld, and its number with it.
        let answer = investigator.get(&path).expect(200);
        assert_eq!(rows(answer.body(), "cases"), []);
    }
}
