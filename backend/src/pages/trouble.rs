//! What a refused form must mend, field by field, for its summary and its rows.

use quietbeam_schema::finding::{Finding, Weight};

use super::components::{FieldId, State};
use super::words;
use crate::registry::RegistryError;

/// One thing to mend.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Trouble {
    /// The field.
    pub(crate) field: FieldId,
    /// What is wrong and how to mend it.
    pub(crate) sentence: String,
}

/// Everything to mend; never nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Troubles(Vec<Trouble>);

impl From<Trouble> for Troubles {
    fn from(trouble: Trouble) -> Self {
        Self(vec![trouble])
    }
}

impl Troubles {
    /// Trouble with one field.
    pub(crate) fn with(field: &str, sentence: impl Into<String>) -> Self {
        Self(vec![Trouble { field: FieldId::of(field), sentence: sentence.into() }])
    }

    /// Trouble of several rows; `None` when there is none.
    pub(crate) fn of_rows(rows: Vec<Trouble>) -> Option<Self> {
        (!rows.is_empty()).then_some(Self(rows))
    }

    /// What the registry refused, where the person can mend it; any other failure is given
    /// back as it is.
    pub(crate) fn of(error: RegistryError) -> Result<Self, RegistryError> {
        match error {
            RegistryError::Field { field, sentence, .. } => Ok(Self::with(field, words::sentence(sentence))),
            RegistryError::Findings(findings) => {
                Self::of_findings(&findings).ok_or(RegistryError::Findings(findings))
            }
            other => Err(other),
        }
    }

    /// The hard findings among these; `None` when there are none.
    pub(crate) fn of_findings(findings: &[Finding]) -> Option<Self> {
        let hard = findings.iter().filter(|finding| finding.weight == Weight::Hard);
        let troubles: Vec<Trouble> = hard
            .map(|finding| Trouble {
                field: FieldId::of(&finding.places.first().map(|place| place.pointer()).unwrap_or_default()),
                sentence: finding.sentence.clone(),
            })
            .collect();
        (!troubles.is_empty()).then_some(Self(troubles))
    }

    /// The same trouble with fields of which the page has several, told apart by a name.
    pub(crate) fn of_one(self, name: &str) -> Self {
        let named = |trouble: Trouble| {
            let field = FieldId::of(&format!("{}-{name}", trouble.field.as_str()));
            Trouble { field, ..trouble }
        };
        Self(self.0.into_iter().map(named).collect())
    }

    /// How many.
    pub(crate) fn len(&self) -> usize {
        self.0.len()
    }

    /// One by one.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &Trouble> {
        self.0.iter()
    }

    /// How a field stands.
    pub(crate) fn state(&self, field: &FieldId) -> State {
        match self.0.iter().find(|trouble| trouble.field == *field) {
            Some(trouble) => State::MustBeMended { sentence: trouble.sentence.clone() },
            None => State::Quiet,
        }
    }
}
