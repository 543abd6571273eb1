//! The API's document and the pages that show it.

use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::{Asked, Sends, Served};
use serde_json::Value;

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
    let schema = &document["paths"]["/api/v1/cases"]["post"]["requestBody"]["content"]["application/json"]["schema"];
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
fn the_dictionary_is_open_and_unchanged_until_it_changes() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let first = served.stranger().get("/dictionary").expect(200);
    assert_eq!(first.etag(), served.stranger().get("/dictionary").expect(200).etag());
    assert_eq!(first.json()["form_version"], "1");
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
