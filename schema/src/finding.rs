//! What a check found in a record: where, how grave, and how to mend it.

use serde::Serialize;

/// How grave a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// Must be mended: the record is refused.
    Hard,
    /// To answer: the record is stored and a data query is raised.
    Query,
}

/// Which part of a case's record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// The case itself.
    Case,
    /// The complication at this position, counted from 0.
    Complication(usize),
    /// The follow-up.
    FollowUp,
}

/// One field of a record.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Place {
    /// The part of the record.
    pub part: Part,
    /// The field's key.
    pub key: String,
}

impl Place {
    /// A field of a part.
    pub fn new(part: Part, key: impl Into<String>) -> Self {
        Self { part, key: key.into() }
    }

    /// The place as a JSON pointer (RFC 6901) into the case's JSON.
    pub fn pointer(&self) -> String {
        match self.part {
            Part::Case => format!("/{}", self.key),
            Part::Complication(position) => format!("/complications/{position}/{}", self.key),
            Part::FollowUp => format!("/follow_up/{}", self.key),
        }
    }
}

impl Place {
    /// Reads a pointer back into the place it points to; `None` for what points to no field.
    #[must_use]
    pub fn from_pointer(pointer: &str) -> Option<Self> {
        let parts: Vec<&str> = pointer.strip_prefix('/')?.split('/').collect();
        let (part, key) = match parts.as_slice() {
            [key] => (Part::Case, *key),
            ["follow_up", key] => (Part::FollowUp, *key),
            ["complications", position, key] => (Part::Complication(position.parse().ok()?), *key),
            _ => return None,
        };
        (!key.is_empty()).then(|| Self::new(part, key))
    }
}

impl Serialize for Place {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.pointer())
    }
}

/// One thing that a check found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// The rule that found it.
    pub rule: &'static str,
    /// Must it be mended, or answered?
    pub weight: Weight,
    /// The fields it concerns, the one to mend first.
    pub places: Vec<Place>,
    /// What is wrong and how to mend it, for the person.
    pub sentence: String,
}

impl Finding {
    /// A finding about one field.
    pub fn at(place: Place, rule: &'static str, weight: Weight, sentence: impl Into<String>) -> Self {
        Self { rule, weight, places: vec![place], sentence: sentence.into() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pointer_reads_back_into_its_place() {
        for part in [Part::Case, Part::Complication(3), Part::FollowUp] {
            let place = Place::new(part, "death");
            assert_eq!(Place::from_pointer(&place.pointer()), Some(place));
        }
        for nowhere in ["", "/", "bmi", "/complications/x/outcome", "/follow_up/", "/a/b", "/a/b/c/d"] {
            assert_eq!(Place::from_pointer(nowhere), None, "{nowhere}");
        }
    }
}
