//! The methods over the API, on rows that the member brings.

use crate::network::{central, coordinator, only_mend};
use quietbeam_schema::access::Role;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

fn put(member: &SignedIn<'_>, method: &str, body: &Value) -> Answer {
    member.send(&Asked::new("POST", format!("/calculations/{method}")).json(body))
}

/// Numbers need no registry's data, so one store is enough.
fn on_one_store(check: impl Fn(&Served<'_>)) {
    let registry = Registry::new(Engine::Sqlite);
    check(&Served::new(&registry));
}

#[test]
fn every_role_may_calculate_and_nobody_who_has_not_signed_in() {
    on_one_store(|served| {
        let body = json!({ "columns": ["x", "n"], "rows": [[81, 263]] });
        for role in Role::ALL.into_iter().filter(|role| !role.belongs_to_centres()) {
            put(&central(served, role), "wilson", &body).expect(200);
        }
        put(&coordinator(served), "wilson", &body).expect(200);
        let asked = Asked::new("POST", "/calculations/wilson").json(&body);
        served.stranger().send(&asked).problem(401, "signed_out");
        served.stranger().get("/calculations").problem(401, "signed_out");
    });
}

#[test]
fn rows_come_back_with_what_was_calculated() {
    on_one_store(|served| {
        let member = central(served, Role::Investigator);
        let body = json!({ "columns": ["centre", "x", "n"], "rows": [["007", 81, 263], ["B", 0, 45]] });
        let answer = put(&member, "wilson", &body).expect(200).json();
        let columns = json!(["centre", "x", "n", "level", "estimate", "lower", "upper", "method", "reason"]);
        assert_eq!(answer["columns"], columns);
        let row = answer["rows"][0].as_array().unwrap();
        assert_eq!(row[..4], [json!("007"), json!(81), json!(263), json!(0.95)]);
        // Newcombe, Stat Med 1998;17:857-872, table I; from memory.
        let shown = |value: &Value| format!("{:.4}", value.as_f64().unwrap());
        assert_eq!((shown(&row[5]), shown(&row[6])), ("0.2553".to_owned(), "0.3662".to_owned()));
        assert_eq!(answer["rows"][1][5], json!(0.0));
        assert_eq!(row[7..], [json!("wilson"), Value::Null]);
    });
}

#[test]
fn the_numbers_are_those_of_the_command_line() {
    on_one_store(|served| {
        let member = central(served, Role::Investigator);
        let rows = [[28, 99, 34, 104], [0, 47, 23, 92], [1, 1_000_000, 0, 7]];
        let folder = tempfile::tempdir().unwrap();
        let input = folder.path().join("rows.csv");
        let lines: Vec<String> = rows.iter().map(|row| row.map(|cell| cell.to_string()).join(",")).collect();
        std::fs::write(&input, format!("x1,n1,x2,n2\n{}\n", lines.join("\n"))).unwrap();
        for method in ["miettinen_nurminen_difference", "katz", "fisher"] {
            let body = json!({ "columns": ["x1", "n1", "x2", "n2"], "rows": rows });
            let answer = put(&member, method, &body).expect(200).json();
            let mut out = Vec::new();
            let words = ["calculate", method, "--input", input.to_str().unwrap()];
            quietbeam::cli::run_words(&words, &mut out).unwrap();
            let mut told = csv::Reader::from_reader(out.as_slice());
            assert_eq!(json!(told.headers().unwrap().iter().collect::<Vec<_>>()), answer["columns"]);
            for (record, row) in told.records().zip(answer["rows"].as_array().unwrap()) {
                for (text, value) in record.unwrap().iter().zip(row.as_array().unwrap()) {
                    match value {
                        Value::Null => assert_eq!(text, ""),
                        Value::String(word) => assert_eq!(text, word),
                        number => assert_eq!(text.parse::<f64>().unwrap(), number.as_f64().unwrap()),
                    }
                }
            }
        }
    });
}

#[test]
fn sets_and_parameters_are_taken() {
    on_one_store(|served| {
        let member = central(served, Role::Monitor);
        let body = json!({
            "columns": ["set_id", "group", "dose"],
            "rows": [["a", 1, 3.5], ["a", 2, 4], ["a", 1, 2], ["b", 1, 1], ["b", 1, 2]],
            "with": { "level": 0.9 },
        });
        let answer = put(&member, "hodges_lehmann", &body).expect(200).json();
        assert_eq!((&answer["rows"][0][0], &answer["rows"][0][1]), (&json!("a"), &json!(0.9)));
        assert_eq!(answer["rows"][1][6], "the second arm has no cases", "{answer}");
        assert_eq!(answer["rows"].as_array().unwrap().len(), 2);
        let unbounded = json!({ "columns": ["x1", "n1", "x2", "n2"], "rows": [[3, 9, 0, 9]] });
        let answer = put(&member, "koopman", &unbounded).expect(200).json();
        assert_eq!((&answer["rows"][0][5], &answer["rows"][0][7]), (&json!("Inf"), &json!("Inf")));
    });
}

#[test]
fn what_must_be_mended_is_named() {
    on_one_store(|served| {
        let member = central(served, Role::Society);
        let check = |body: Value, pointer: &str, rule: &str| {
            let problem = put(&member, "wilson", &body).problem(422, "must_be_mended");
            assert_eq!(only_mend(&problem), (pointer.to_owned(), rule.to_owned()), "{problem}");
        };
        check(json!({ "columns": ["x", "n"], "rows": [[1, 9], [9, 1]] }), "/rows/1/0", "value");
        check(json!({ "columns": ["n", "x"], "rows": [[9, -1]] }), "/rows/0/1", "value");
        check(json!({ "columns": ["x", "n"], "rows": [["NaN", 1]] }), "/rows/0/0", "value");
        check(json!({ "columns": ["x", "n"], "rows": [[null, 1]] }), "/rows/0/0", "value");
        check(json!({ "columns": ["x", "n"], "rows": [[true, 1]] }), "/rows/0/0", "json_type");
        check(json!({ "columns": ["x", "n"], "rows": [[1, 2, 3]] }), "/rows/0", "value");
        check(json!({ "columns": ["x"], "rows": [[1]] }), "/columns", "missing_column");
        check(json!({ "columns": ["x", "n", "x"], "rows": [] }), "/columns", "duplicate_column");
        check(json!({ "columns": ["x", "n", " "], "rows": [] }), "/columns/2", "column_without_name");
        let level = |level: Value| json!({ "columns": ["x", "n"], "rows": [[1, 9], [2, 9]], "with": { "level": level } });
        check(
            json!({ "columns": ["x", "n"], "rows": [], "with": { "day": 3 } }),
            "/with",
            "unknown_parameter",
        );
        check(json!({ "columns": ["x", "n"], "rows": [], "with": [] }), "/with", "json_type");
        check(level(json!({})), "/with", "json_type");
        check(level(json!(95)), "/with", "value");
    });
}

#[test]
fn an_unknown_method_and_too_many_rows_are_refused() {
    on_one_store(|served| {
        let member = central(served, Role::Adjudicator);
        let rows = |count: usize| json!({ "columns": ["x", "n"], "rows": vec![[1, 9]; count] });
        let problem = put(&member, "wilsen", &rows(1)).problem(404, "not_found");
        assert!(problem["detail"].as_str().unwrap().contains("\"wilson\""), "{problem}");
        assert_eq!(put(&member, "wilson", &rows(0)).expect(200).json()["rows"], json!([]));
        assert_eq!(
            put(&member, "wilson", &rows(1_000)).expect(200).json()["rows"].as_array().unwrap().len(),
            1_000
        );
        let problem = put(&member, "wilson", &rows(1_001)).problem(422, "must_be_mended");
        assert_eq!(only_mend(&problem), ("/rows".to_owned(), "too_many_rows".to_owned()));
        put(&member, "wilson", &rows(20_000)).problem(413, "too_large");
        member.get("/calculations/wilson").problem(405, "method_not_allowed");
    });
}

#[test]
fn the_list_is_the_list_of_the_command_line() {
    on_one_store(|served| {
        let list = central(served, Role::Monitor).get("/calculations").expect(200).json();
        let mut out = Vec::new();
        quietbeam::cli::run_words(&["calculate", "list", "--json"], &mut out).unwrap();
        let told: Value = serde_json::from_slice(&out).unwrap();
        let names = |list: &Value| -> Vec<Value> {
            list.as_array().unwrap().iter().map(|one| one["name"].clone()).collect()
        };
        assert_eq!(names(&list["items"]), names(&told));
        let wilson = &list["items"][0];
        assert_eq!(wilson["inputs"][2]["default"], "0.95");
        assert_eq!((&wilson["takes_sets"], &wilson["source"]), (&json!(false), &json!("wilson1927")));
    });
}
