//! Reads what a request brings into the type that a route expects, and tells
//! where and how it must be mended. Nothing that was sent is repeated.

use quietbeam_schema::entries::{StrictJson, unknown_field};
use quietbeam_schema::finding::Part;
use serde::de::value::{MapAccessDeserializer, StrDeserializer};
use serde::de::{
    DeserializeOwned, DeserializeSeed, Deserializer, Error, Expected, IntoDeserializer, MapAccess, SeqAccess,
    Unexpected, Visitor,
};
use serde::forward_to_deserialize_any;
use std::fmt;

/// The deepest nesting of a body. A case needs four levels.
const DEEPEST: usize = 16;
/// The most fields of a body. A case with twenty complications needs about 700.
const MOST_FIELDS: usize = 2_000;

/// Where a request cannot be read, and how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Misread {
    /// JSON pointer (RFC 6901).
    pub(crate) pointer: String,
    pub(crate) rule: &'static str,
    pub(crate) sentence: String,
}

/// Why bytes are no JSON that is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(crate) enum NotJson {
    #[error("The body is not UTF-8 text; encode it as UTF-8.")]
    NotUtf8,
    #[error("The body is nested deeper than {DEEPEST} levels; no record is.")]
    TooDeep,
    #[error("The body has more than {MOST_FIELDS} fields; no record has.")]
    TooManyFields,
    #[error("A field stands twice in the same object (line {line}, column {column}); keep the one you mean.")]
    FieldTwice { line: usize, column: usize },
    #[error("The body is not JSON (line {line}, column {column}); check quotes, commas and brackets there.")]
    Syntax { line: usize, column: usize },
}

/// Reads JSON in which no object names a field twice.
pub(crate) fn parse(bytes: &[u8]) -> Result<StrictJson, NotJson> {
    let text = std::str::from_utf8(bytes).map_err(|_| NotJson::NotUtf8)?;
    check_shape(text)?;
    serde_json::from_str(text).map_err(|error| {
        let (line, column) = (error.line(), error.column());
        // A custom error can only come from the one rule of StrictJson.
        match error.classify() {
            serde_json::error::Category::Data => NotJson::FieldTwice { line, column },
            _ => NotJson::Syntax { line, column },
        }
    })
}

/// Looks at brackets and colons before anything is built from them.
fn check_shape(text: &str) -> Result<(), NotJson> {
    let (mut depth, mut fields, mut in_text, mut escaped) = (0_usize, 0_usize, false, false);
    for byte in text.bytes() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' if in_text => escaped = true,
            b'"' => in_text = !in_text,
            _ if in_text => {}
            b'{' | b'[' => depth += 1,
            b'}' | b']' => depth = depth.saturating_sub(1),
            b':' => fields += 1,
            _ => {}
        }
        if depth > DEEPEST {
            return Err(NotJson::TooDeep);
        }
        if fields > MOST_FIELDS {
            return Err(NotJson::TooManyFields);
        }
    }
    Ok(())
}

/// Reads a body into its type.
pub(crate) fn read<T: DeserializeOwned>(json: &StrictJson) -> Result<T, Misread> {
    T::deserialize(Reader { json, from_query: false })
}

/// Reads the query of a URL into its type: there, numbers and answers are text.
pub(crate) fn read_query<T: DeserializeOwned>(query: &str) -> Result<T, Misread> {
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(query)
        .map_err(|_| Misread::custom("the part after the question mark cannot be read"))?;
    let mut fields: Vec<(String, StrictJson)> = Vec::new();
    for (key, value) in pairs {
        if fields.iter().any(|(known, _)| *known == key) {
            return Err(Misread::custom("this parameter stands twice; keep the one you mean").under(&key));
        }
        fields.push((key, StrictJson::Text(value)));
    }
    T::deserialize(Reader { json: &StrictJson::Object(fields), from_query: true })
}

impl Misread {
    fn new(rule: &'static str, sentence: impl Into<String>) -> Self {
        Self { pointer: String::new(), rule, sentence: sentence.into() }
    }

    /// The same, one level further out.
    fn under(mut self, key: &str) -> Self {
        let key: String = key.chars().filter(|c| c.is_ascii_graphic()).take(40).collect();
        self.pointer = format!("/{}{}", key.replace('~', "~0").replace('/', "~1"), self.pointer);
        self
    }
}

impl fmt::Display for Misread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.sentence)
    }
}

impl std::error::Error for Misread {}

impl Error for Misread {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self::new("value", sentence(&message.to_string()))
    }

    fn invalid_type(_: Unexpected<'_>, expected: &dyn Expected) -> Self {
        Self::new("json_type", format!("This takes {}.", plain(&expected.to_string())))
    }

    fn invalid_value(_: Unexpected<'_>, expected: &dyn Expected) -> Self {
        Self::new("value", format!("This takes {}.", plain(&expected.to_string())))
    }

    fn unknown_variant(_: &str, expected: &'static [&'static str]) -> Self {
        Self::new("value", format!("Choose one of: {}.", expected.join(", ")))
    }

    fn unknown_field(field: &str, expected: &'static [&'static str]) -> Self {
        let finding = unknown_field(Part::Case, field);
        let sentence = match finding.rule {
            "unknown_field" if expected.is_empty() => "No field is taken here; leave it out.".to_owned(),
            "unknown_field" => {
                format!("This field is not known here; leave it out. Known are: {}.", expected.join(", "))
            }
            _ => finding.sentence,
        };
        Self::new(finding.rule, sentence).under(field)
    }

    fn missing_field(field: &'static str) -> Self {
        Self::new("required", "This field is missing; add it.").under(field)
    }
}

/// The sentences of the core begin with the field or in lower case.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let Some(first) = letters.next() else { return String::new() };
    let full_stop = if text.ends_with('.') { "" } else { "." };
    format!("{}{}{full_stop}", first.to_uppercase(), letters.as_str())
}

/// The words of serde in the words of a person.
fn plain(expected: &str) -> &str {
    match expected {
        "u8" | "u16" | "u32" | "u64" | "usize" => "a whole number from 0",
        "i8" | "i16" | "i32" | "i64" => "a whole number",
        "f64" => "a number",
        "a boolean" => "true or false",
        "a string" => "text",
        "a sequence" => "a list",
        text if text.starts_with("struct ") || text == "a map" => "a JSON object",
        text => text,
    }
}

#[derive(Clone, Copy)]
struct Reader<'a> {
    json: &'a StrictJson,
    from_query: bool,
}

impl<'de> Deserializer<'de> for Reader<'_> {
    type Error = Misread;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misread> {
        match self.json {
            StrictJson::Null => visitor.visit_unit(),
            StrictJson::Bool(value) => visitor.visit_bool(*value),
            StrictJson::Number(digits) => visit_number(digits, visitor),
            StrictJson::Text(text) => visitor.visit_str(text),
            StrictJson::List(items) => visitor.visit_seq(Items { items, position: 0, reader: self }),
            StrictJson::Object(fields) => visitor.visit_map(Fields { fields, position: 0, reader: self }),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misread> {
        match self.json {
            StrictJson::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Misread> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misread> {
        match self.json {
            StrictJson::Text(text) => {
                visitor.visit_enum(IntoDeserializer::<Misread>::into_deserializer(text.as_str()))
            }
            StrictJson::Object(fields) => {
                visitor.visit_enum(MapAccessDeserializer::new(Fields { fields, position: 0, reader: self }))
            }
            _ => Err(Misread::new("json_type", "This takes text.")),
        }
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misread> {
        match self.json {
            StrictJson::Text(text) if self.from_query => match text.as_str() {
                "true" => visitor.visit_bool(true),
                "false" => visitor.visit_bool(false),
                _ => Err(Misread::new("value", "This takes true or false.")),
            },
            _ => self.deserialize_any(visitor),
        }
    }

    fn deserialize_u32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misread> {
        match self.json {
            StrictJson::Text(text) if self.from_query => visit_number(text, visitor),
            _ => self.deserialize_any(visitor),
        }
    }

    forward_to_deserialize_any! {
        i8 i16 i32 i64 i128 u8 u16 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map struct identifier ignored_any
    }
}

fn visit_number<'de, V: Visitor<'de>>(digits: &str, visitor: V) -> Result<V::Value, Misread> {
    if let Ok(number) = digits.parse::<u64>() {
        return visitor.visit_u64(number);
    }
    if let Ok(number) = digits.parse::<i64>() {
        return visitor.visit_i64(number);
    }
    match digits.parse::<f64>() {
        Ok(number) if number.is_finite() => visitor.visit_f64(number),
        _ => Err(Misread::new("value", "This takes a number.")),
    }
}

struct Items<'a> {
    items: &'a [StrictJson],
    position: usize,
    reader: Reader<'a>,
}

impl<'de> SeqAccess<'de> for Items<'_> {
    type Error = Misread;

    fn next_element_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, Misread> {
        let Some(json) = self.items.get(self.position) else { return Ok(None) };
        let position = self.position.to_string();
        self.position += 1;
        seed.deserialize(Reader { json, ..self.reader }).map(Some).map_err(|error| error.under(&position))
    }
}

struct Fields<'a> {
    fields: &'a [(String, StrictJson)],
    position: usize,
    reader: Reader<'a>,
}

impl<'de> MapAccess<'de> for Fields<'_> {
    type Error = Misread;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Misread> {
        let Some((key, _)) = self.fields.get(self.position) else { return Ok(None) };
        let read = seed.deserialize(StrDeserializer::<Misread>::new(key)).map(Some);
        // A name that is none of a closed list says of itself only what may stand there.
        read.map_err(|error| if error.pointer.is_empty() { error.under(key) } else { error })
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Misread> {
        let Some((key, json)) = self.fields.get(self.position) else {
            return Err(Misread::custom("a value without its field"));
        };
        self.position += 1;
        seed.deserialize(Reader { json, ..self.reader }).map_err(|error| error.under(key))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use serde::Deserialize;
    use std::collections::BTreeMap;

    #[derive(Deserialize, Debug, PartialEq)]
    #[serde(deny_unknown_fields)]
    struct Wanted {
        number: u32,
        role: Option<quietbeam_schema::access::Role>,
        #[serde(default)]
        counts: BTreeMap<String, u32>,
        #[serde(default)]
        roles: BTreeMap<quietbeam_schema::access::Role, u32>,
        #[serde(default)]
        flags: Vec<bool>,
    }

    fn body(text: &str) -> Result<Wanted, Misread> {
        read(&parse(text.as_bytes()).unwrap())
    }

    #[test]
    fn reads_what_is_right() {
        let wanted =
            body(r#"{"number": 3, "role": "monitor", "counts": {"a": 1}, "flags": [true]}"#).unwrap();
        assert_eq!(wanted.number, 3);
        assert_eq!(wanted.flags, [true]);
        let wanted: Wanted = read_query("number=3&role=society").unwrap();
        assert_eq!((wanted.number, wanted.role.unwrap().name()), (3, "society"));
    }

    #[test]
    fn says_where_and_how_to_mend() {
        let check = |text: &str, pointer: &str, rule: &str, part: &str| {
            let misread = body(text).unwrap_err();
            assert_eq!((misread.pointer.as_str(), misread.rule), (pointer, rule), "{text}");
            assert!(misread.sentence.contains(part), "{}", misread.sentence);
        };
        check("{}", "/number", "required", "add it");
        check(r#"{"number": "3"}"#, "/number", "json_type", "a whole number from 0");
        check(r#"{"number": -1}"#, "/number", "value", "a whole number from 0");
        check(r#"{"number": 1, "counts": {"a/b": {}}}"#, "/counts/a~1b", "json_type", "a whole number");
        check(r#"{"number": 1, "flags": [true, 0]}"#, "/flags/1", "json_type", "true or false");
        check(r#"{"number": 1, "role": "nurse"}"#, "/role", "value", "coordinator");
        check(r#"{"number": 1, "colour": 1}"#, "/colour", "unknown_field", "number, role");
        check(r#"{"number": 1, "mrn": 1}"#, "/mrn", "identifier_field", "never taken");
        check(r#"{"number": 1, "roles": {"nurse": 1}}"#, "/roles/nurse", "value", "coordinator");
        check("[]", "", "value", "");
    }

    #[test]
    fn refuses_what_is_no_json() {
        let check = |bytes: &[u8], expected: NotJson| assert_eq!(parse(bytes).err(), Some(expected));
        check(b"\xff", NotJson::NotUtf8);
        assert!(matches!(parse(br#"{"a": 1, "a": 2}"#), Err(NotJson::FieldTwice { line: 1, .. })));
        assert!(matches!(parse(br#"{"a": 1e400}"#), Err(NotJson::Syntax { .. })), "no number is that large");
        check(br#"{"a": }"#, NotJson::Syntax { line: 1, column: 7 });
        check(br#""\ud800""#, NotJson::Syntax { line: 1, column: 8 });
        check("[".repeat(17).as_bytes(), NotJson::TooDeep);
        assert!(parse(format!("{}{}", "[".repeat(16), "]".repeat(16)).as_bytes()).is_ok());
        let many: Vec<String> = (0..2_001).map(|n| format!("\"k{n}\":1")).collect();
        check(format!("{{{}}}", many.join(",")).as_bytes(), NotJson::TooManyFields);
    }

    #[test]
    fn a_query_is_held_to_its_parameters() {
        let check = |query: &str, pointer: &str| {
            assert_eq!(read_query::<Wanted>(query).unwrap_err().pointer, pointer, "{query}");
        };
        check("number=x", "/number");
        check("number=1&number=2", "/number");
        check("number=1&sort=id%3B+DROP+TABLE", "/sort");
    }
}
