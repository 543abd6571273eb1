//! The record as JSON Schema (draft 2020-12), for the API document. It is
//! derived from the dictionary, so the document cannot promise another form.

use crate::case::{Complication, FollowUp, MAX_COMPLICATIONS, case_variables};
use crate::dictionary::{Need, Section, Variable};
use crate::quantity::Dimension;
use crate::reported::MissingCode;
use crate::value::Kind;
use serde_json::{Map, Value, json};

#[cfg(test)]
mod tests;

/// The schema of a case as it is sent.
pub fn case_form() -> Value {
    let mut schema = object_of(case_variables().into_iter());
    if let Some(properties) = schema["properties"].as_object_mut() {
        let complication = object_of(Complication::VARIABLES.iter());
        properties.insert(
            "complications".to_owned(),
            json!({"type": "array", "maxItems": MAX_COMPLICATIONS, "items": complication}),
        );
        properties.insert("follow_up".to_owned(), follow_up_form());
    }
    schema
}

/// The schema of a follow-up as it is sent.
pub fn follow_up_form() -> Value {
    object_of(FollowUp::VARIABLES.iter())
}

fn object_of<'a>(variables: impl Iterator<Item = &'a Variable>) -> Value {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for variable in variables {
        properties.insert(variable.key.to_owned(), schema_of(variable));
        if let (Kind::Quantity(dimension), Some(key)) = (variable.kind, variable.unit_key()) {
            let units: Vec<&str> = dimension.units.iter().map(|unit| unit.ucum).collect();
            let title = format!("{}: unit", variable.label);
            properties.insert(key, json!({"type": "string", "title": title, "examples": units}));
        }
        if variable.need == Need::Always {
            required.push(variable.key);
        }
    }
    json!({
        "type": "object",
        "additionalProperties": false,
        "required": required,
        "properties": properties,
    })
}

fn schema_of(variable: &Variable) -> Value {
    let mut value = value_schema(variable.kind);
    if variable.missing_allowed {
        let codes = MissingCode::ALL.map(MissingCode::code);
        value = json!({"anyOf": [value, {"type": "string", "enum": codes, "description": "Why there is no value."}]});
    }
    if let Some(object) = value.as_object_mut() {
        object.insert("title".to_owned(), Value::from(variable.label));
        object.insert("description".to_owned(), Value::from(description(variable)));
    }
    value
}

fn description(variable: &Variable) -> String {
    let help = variable.help.trim();
    let unit = if variable.unit.is_empty() { String::new() } else { format!(" Unit: {}.", variable.unit) };
    match variable.need {
        Need::When(condition) => format!("{help}{unit} Required when {}.", condition.words()),
        Need::Always | Need::Optional => format!("{help}{unit}"),
    }
}

fn value_schema(kind: Kind) -> Value {
    match kind {
        Kind::Code(list) => {
            json!({"type": "string", "enum": list.codes.iter().map(|code| code.code).collect::<Vec<_>>()})
        }
        Kind::Codes(list) => json!({
            "type": "array",
            "minItems": 1,
            "uniqueItems": true,
            "items": {"type": "string", "enum": list.codes.iter().map(|code| code.code).collect::<Vec<_>>()},
        }),
        Kind::Whole { min, max } => json!({"type": "integer", "minimum": min, "maximum": max}),
        Kind::Decimal { min, max } => json!({"type": "number", "minimum": min, "maximum": max}),
        Kind::Quantity(dimension) => quantity_schema(dimension),
        Kind::Quarter => json!({"type": "string", "pattern": "^20[1-9][0-9]Q[1-4]$", "examples": ["2025Q3"]}),
        Kind::CaseCode => json!({"type": "string", "minLength": 10, "maxLength": 10}),
        Kind::OperatorCode => json!({"type": "string", "pattern": "^O[0-9]{2}$"}),
        Kind::RoomCode => json!({"type": "string", "pattern": "^R[1-9][0-9]?$"}),
        Kind::Text { max_chars } => json!({"type": "string", "maxLength": max_chars}),
    }
}

/// The limits are those of the canonical unit, so they are told, not enforced.
fn quantity_schema(dimension: &Dimension) -> Value {
    let limits =
        format!("{} to {} {} after conversion", dimension.min, dimension.max, dimension.canonical().ucum);
    if dimension.units.iter().any(|unit| unit.ucum == "min") {
        // A console shows minutes and seconds, such as 7:30.
        json!({"type": ["number", "string"], "minimum": 0, "pattern": "^[0-9]+:[0-5][0-9]$", "$comment": limits})
    } else {
        json!({"type": "number", "minimum": 0, "$comment": limits})
    }
}
