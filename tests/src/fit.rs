//! Whether a JSON value fits a schema of the API's document.

use std::cmp::Ordering;

use serde_json::Value;

/// Why a value does not fit, by the keywords that the document uses (patterns aside). An
/// object whose properties are described may have no others.
pub fn misfit(document: &Value, schema: &Value, value: &Value) -> Option<String> {
    if let Some(pointer) = schema["$ref"].as_str() {
        let target = document.pointer(pointer.trim_start_matches('#')).expect("a reference that resolves");
        return misfit(document, target, value);
    }
    if let Some(choices) = schema["anyOf"].as_array().or_else(|| schema["oneOf"].as_array()) {
        let fits = choices.iter().any(|choice| misfit(document, choice, value).is_none());
        return (!fits).then(|| format!("{value} fits none of {schema}"));
    }
    if !is_of_type(&schema["type"], value) {
        return Some(format!("{value} is no {}", schema["type"]));
    }
    if schema["enum"].as_array().is_some_and(|codes| !codes.contains(value)) {
        return Some(format!("{value} is not one of {}", schema["enum"]));
    }
    if is_beyond(schema, value, "minimum", Ordering::Less)
        || is_beyond(schema, value, "maximum", Ordering::Greater)
    {
        return Some(format!("{value} is beyond {schema}"));
    }
    match value {
        Value::Array(items) => items.iter().find_map(|item| misfit(document, &schema["items"], item)),
        Value::Object(fields) => {
            let required = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str);
            if let Some(key) = required.into_iter().find(|key| !fields.contains_key(*key)) {
                return Some(format!("{key} is missing"));
            }
            let properties = schema["properties"].as_object()?;
            fields.iter().find_map(|(key, value)| match properties.get(key) {
                Some(property) => misfit(document, property, value).map(|why| format!("{key}: {why}")),
                None => Some(format!("{key} is not described")),
            })
        }
        _ => None,
    }
}

fn is_of_type(wanted: &Value, value: &Value) -> bool {
    let kind = match value {
        Value::Null => "null",
        Value::Bool(_) => "boolean",
        Value::Number(number) if number.is_f64() => "number",
        Value::Number(_) => "integer",
        Value::String(_) => "string",
        Value::Array(_) => "array",
        Value::Object(_) => "object",
    };
    let one = |wanted: &Value| *wanted == kind || (*wanted == "number" && kind == "integer");
    match wanted {
        Value::Null => true,
        Value::Array(kinds) => kinds.iter().any(one),
        wanted => one(wanted),
    }
}

fn is_beyond(schema: &Value, value: &Value, limit: &str, ordering: Ordering) -> bool {
    let pair = (value.as_f64(), schema[limit].as_f64());
    matches!(pair, (Some(found), Some(limit)) if found.partial_cmp(&limit) == Some(ordering))
}
