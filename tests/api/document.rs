//! The API's document and the pages that show it.

use crate::network::central;
use quietbeam_schema::access::Role;
use quietbeam_tests::fit::misfit;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Asked, Sends, Served};
use serde_json::{Value, json};
use std::collections::BTreeSet;

#[test]
fn the_document_is_openapi_3_1_and_resolves_within_itself() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let answer = served.stranger().get("/openapi.json").expect(200);
    let document = answer.json();
    assert!(document["openapi"].as_str().unwrap().starts_with("3.1"));
    let mut references = Vec::new();
    collect(&document, &mut references);
    assert!(references.len() > 20, "{}", references.len());
    for reference in references {
        let pointer = reference.strip_prefix('#').expect("a reference within the document");
        assert!(document.pointer(pointer).is_some(), "{reference} leads nowhere");
    }
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let named = |key: &str| operation[key].as_str().is_some_and(|text| !text.is_empty());
            assert!(named("summary"), "{method} {path} is not described");
            assert!(named("operationId"), "{method} {path} has no name");
            let responses = operation["responses"].as_object().unwrap();
            assert!(responses.contains_key("default"), "{method} {path} names no problem");
        }
    }
}

fn collect(value: &Value, references: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            if let Some(reference) = fields.get("$ref").and_then(Value::as_str) {
                references.push(reference.to_owned());
            }
            fields.values().for_each(|field| collect(field, references));
        }
        Value::Array(items) => items.iter().for_each(|item| collect(item, references)),
        _ => {}
    }
}

/// What the document calls a case is what the dictionary calls a case.
#[test]
fn a_case_of_the_document_has_the_fields_of_the_dictionary() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let stranger = served.stranger();
    let document = stranger.get("/openapi.json").expect(200).json();
    let schema =
        &document["paths"]["/api/v1/cases"]["post"]["requestBody"]["content"]["application/json"]["schema"];
    let pointer = schema["$ref"].as_str().unwrap().trim_start_matches('#');
    let fields = document.pointer(pointer).unwrap()["properties"].as_object().unwrap();
    let dictionary = stranger.get("/dictionary").expect(200).json();
    for group in dictionary["groups"].as_array().unwrap().iter().filter(|group| group["file"] == "cases") {
        for variable in group["variables"].as_array().unwrap() {
            let key = variable["key"].as_str().unwrap();
            assert!(fields.contains_key(key), "{key}");
        }
    }
}

#[test]
fn typical_cases_fit_the_document_and_odd_ones_do_not() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let document = served.stranger().get("/openapi.json").expect(200).json();
    let schema = &document["components"]["schemas"]["CaseForm"];
    for case in [
        sample::zero_fluoroscopy_case(),
        sample::conventional_case(),
        sample::case_with_seen_effusion(),
        sample::case_with_tamponade(),
    ] {
        assert_eq!(misfit(&document, schema, &case), None);
    }
    for (field, value) in [
        ("sex", json!("q")),
        ("bmi", json!("heavy")),
        ("bmi", json!(-1)),
        ("shoe_size", json!(43)),
        ("period", Value::Null),
        ("energy", json!(["rf", 5])),
    ] {
        let mut case = sample::zero_fluoroscopy_case();
        case[field] = value;
        assert!(misfit(&document, schema, &case).is_some_and(|why| why.contains(field)), "{field}");
    }
}

/// The check that answers are held to elsewhere must itself be able to fail.
#[test]
fn an_answer_with_more_or_less_than_is_described_does_not_fit() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let document = served.stranger().get("/openapi.json").expect(200).json();
    let member = json!({ "$ref": "#/components/schemas/MemberView" });
    let mut me = central(&served, Role::Monitor).get("/me").expect(200).json();
    assert_eq!(misfit(&document, &member, &me), None);
    me["password_hash"] = json!("x");
    assert_eq!(misfit(&document, &member, &me).unwrap(), "password_hash is not described");
    me.as_object_mut().unwrap().retain(|key, _| key != "password_hash" && key != "role");
    assert_eq!(misfit(&document, &member, &me).unwrap(), "role is missing");
    me["role"] = json!(7);
    assert!(misfit(&document, &member, &me).unwrap().starts_with("role: 7"));
}

#[test]
fn the_document_says_what_each_request_needs() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let document = served.stranger().get("/openapi.json").expect(200).json();
    assert!(document["info"]["title"].is_string() && document["info"]["version"].is_string());
    assert_eq!(document["security"], json!([{ "access_token": [] }]));
    let mut names = BTreeSet::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let name = operation["operationId"].as_str().unwrap();
            assert!(names.insert(name.to_owned()), "{name} stands twice");
            for (status, response) in operation["responses"].as_object().unwrap() {
                let described = response["description"].as_str().is_some_and(|text| !text.is_empty());
                assert!(described, "{method} {path} {status}");
            }
            let parameters = operation["parameters"].as_array().cloned().unwrap_or_default();
            for part in path.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}')) {
                let named =
                    |one: &Value| one["name"] == part && one["in"] == "path" && one["required"] == true;
                assert!(parameters.iter().any(named), "{method} {path} does not describe {part}");
            }
            let creates = operation["responses"].get("201").is_some();
            let keyed =
                parameters.iter().any(|one| one["name"] == "Idempotency-Key" && one["required"] == true);
            assert_eq!(creates, keyed, "{method} {path}");
        }
    }
}

#[test]
fn the_dictionary_is_open_and_the_same_for_everyone() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let first = served.stranger().get("/dictionary").expect(200).json();
    assert_eq!(first["form_version"], "2");
    assert_eq!(central(&served, Role::Monitor).get("/dictionary").expect(200).json(), first);
}

#[test]
fn health_is_told_to_everyone_and_says_nothing_else() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    for path in ["//livez", "//readyz"] {
        let answer = served.stranger().get(path).expect(200);
        assert_eq!(answer.json().as_object().unwrap().len(), 1, "{}", answer.text());
        let wrong = served.stranger().send(&Asked::new("DELETE", path));
        assert!(matches!(wrong.status, 404 | 405), "{}", wrong.status);
        wrong.checked_problem();
    }
}
