//! What a person gave, field by field, before it is known to be right: the one
//! form in which JSON, delimited files and pages reach the record's reading.

use crate::dictionary::{Variable, column};
use crate::finding::{Finding, Part, Place, Weight};
use crate::value::Kind;
use serde::de::{Deserialize, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use std::collections::BTreeMap;
use std::fmt;

/// Field key to text as given. Blank text counts as not given.
#[derive(Default, Clone, PartialEq, Eq)]
pub struct Entries(BTreeMap<String, String>);

impl Entries {
    /// The text given for a field, without the spaces around it.
    pub fn given(&self, key: &str) -> Option<&str> {
        self.0.get(key).map(|text| text.trim()).filter(|text| !text.is_empty())
    }

    /// Records what was given for a field.
    pub fn put(&mut self, key: impl Into<String>, text: impl Into<String>) {
        self.0.insert(key.into(), text.into());
    }

    /// Forgets what was given for a field.
    pub fn remove(&mut self, key: &str) {
        self.0.remove(key);
    }

    /// Whether nothing at all was given.
    pub fn is_blank(&self) -> bool {
        self.0.values().all(|text| text.trim().is_empty())
    }

    /// Keys and texts, by key.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().map(|(key, text)| (key.as_str(), text.as_str()))
    }

    /// Takes the fields of a JSON object. Each field that is unknown or of the
    /// wrong JSON type is left out and leaves a hard finding.
    pub fn from_json(
        object: &[(String, StrictJson)],
        part: Part,
        variables: &[&'static Variable],
        findings: &mut Vec<Finding>,
    ) -> Self {
        let mut entries = Self::default();
        for (key, value) in object {
            match column(variables, key) {
                None => findings.push(unknown_field(part, key)),
                Some((variable, is_unit)) => match text_of(value, variable, is_unit) {
                    Ok(text) => entries.put(key, text),
                    Err(expected) => findings.push(Finding::at(
                        Place::new(part, key),
                        "json_type",
                        Weight::Hard,
                        format!("{} takes {expected}; leave the field out if it is blank.", variable.label),
                    )),
                },
            }
        }
        entries
    }
}

/// Field names that ask for what this registry must never hold.
const IDENTIFYING_KEYS: [&str; 16] = [
    "name",
    "patient_name",
    "surname",
    "first_name",
    "mrn",
    "hospital_number",
    "dob",
    "date_of_birth",
    "birth_date",
    "ssn",
    "nhs_no",
    "insurance",
    "address",
    "postcode",
    "phone",
    "email",
];

/// A key as it may be repeated to the person: what stands there may be anything.
fn shown(key: &str) -> String {
    key.chars().filter(|c| c.is_ascii_alphanumeric() || *c == '_').take(40).collect()
}

/// The finding for a field that the dictionary does not know.
pub fn unknown_field(part: Part, key: &str) -> Finding {
    let shown = shown(key);
    if IDENTIFYING_KEYS.contains(&shown.to_ascii_lowercase().as_str()) {
        return Finding::at(
            Place::new(part, shown.clone()),
            "identifier_field",
            Weight::Hard,
            format!(
                "\"{shown}\" could identify a person and is never taken; remove it before you send the record."
            ),
        );
    }
    Finding::at(
        Place::new(part, shown.clone()),
        "unknown_field",
        Weight::Hard,
        format!(
            "\"{shown}\" is not a field of this record; remove it, or use the key that the dictionary gives."
        ),
    )
}

/// The text of a JSON value if its type suits the variable, else what would.
fn text_of(value: &StrictJson, variable: &Variable, is_unit: bool) -> Result<String, String> {
    let numeric =
        matches!(variable.kind, Kind::Whole { .. } | Kind::Decimal { .. } | Kind::Quantity(_)) && !is_unit;
    match (value, variable.kind) {
        (StrictJson::Number(number), _) if numeric => Ok(number.clone()),
        // A missing code, or a console's minutes and seconds, stands as text.
        (StrictJson::Text(text), _)
            if numeric && (crate::reported::MissingCode::from_code(text).is_some() || text.contains(':')) =>
        {
            Ok(text.clone())
        }
        (_, _) if numeric => Err("a number, or a missing code such as \"nr\"".to_owned()),
        (StrictJson::List(items), Kind::Codes(_)) => {
            let texts: Option<Vec<&str>> = items.iter().map(StrictJson::as_text).collect();
            texts.map(|texts| texts.join(";")).ok_or_else(|| "a list of codes".to_owned())
        }
        (StrictJson::Text(text), _) => Ok(text.clone()),
        (_, Kind::Codes(_)) => Err("a list of codes".to_owned()),
        (_, Kind::Code(list)) => Err(format!("one of these codes as text: {}", list.codes_joined())),
        _ => Err("text".to_owned()),
    }
}

/// JSON that refuses an object which names a key twice, because a reader that
/// quietly keeps the last one would store half of what was meant.
#[derive(Debug, Clone, PartialEq)]
pub enum StrictJson {
    /// `null`.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// A number, in its own digits.
    Number(String),
    /// A string.
    Text(String),
    /// An array.
    List(Vec<StrictJson>),
    /// An object, in its own order.
    Object(Vec<(String, StrictJson)>),
}

impl StrictJson {
    /// The string, if it is one.
    pub fn as_text(&self) -> Option<&str> {
        match self {
            Self::Text(text) => Some(text),
            _ => None,
        }
    }
}

impl<'de> Deserialize<'de> for StrictJson {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(StrictVisitor)
    }
}

struct StrictVisitor;

impl<'de> Visitor<'de> for StrictVisitor {
    type Value = StrictJson;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<StrictJson, E> {
        Ok(StrictJson::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<StrictJson, E> {
        Ok(StrictJson::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<StrictJson, E> {
        Ok(StrictJson::Number(value.to_string()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<StrictJson, E> {
        Ok(StrictJson::Number(value.to_string()))
    }

    fn visit_f64<E>(self, value: f64) -> Result<StrictJson, E> {
        Ok(StrictJson::Number(value.to_string()))
    }

    fn visit_str<E>(self, value: &str) -> Result<StrictJson, E> {
        Ok(StrictJson::Text(value.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<StrictJson, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element()? {
            items.push(item);
        }
        Ok(StrictJson::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<StrictJson, A::Error> {
        let mut fields: Vec<(String, StrictJson)> = Vec::new();
        while let Some((key, value)) = map.next_entry::<String, StrictJson>()? {
            if fields.iter().any(|(known, _)| *known == key) {
                return Err(A::Error::custom(format_args!(
                    "the field \"{}\" stands twice in the same object; send it once",
                    shown(&key)
                )));
            }
            fields.push((key, value));
        }
        Ok(StrictJson::Object(fields))
    }
}
