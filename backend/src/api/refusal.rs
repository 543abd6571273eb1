//! What the registry and the store say, as problems.

use super::problem::{
    APPROVAL_EXPIRED, BAD_QUERY, BROKEN_BODY, DISCLOSES, IF_MATCH_MISSING, ILLEGAL_STEP, KEY_REUSED, Problem,
    RACE, STALE, SUMMARY_DIFFERS, TAKEN,
};
use crate::export::ExportError;
use crate::registry::{RegistryError, Stale};
use crate::store::{Broken, Conflict, Refused, StoreError};

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Absent(_) => Self::absent(),
            StoreError::Refused(refused) => refused.into(),
            StoreError::Conflict(conflict) => conflict.into(),
            StoreError::Broken(Broken::Busy | Broken::Closed) => Self::busy(),
            StoreError::Broken(error) => {
                tracing::error!(%error, "the store failed");
                Self::broken()
            }
        }
    }
}

impl From<Refused> for Problem {
    fn from(refused: Refused) -> Self {
        match refused {
            Refused::KeyReused => Self::new(&KEY_REUSED, sentence(&refused)),
            Refused::CentreNotNamed => Self::new(&BAD_QUERY, sentence(&refused)),
            Refused::ReasonRequired => Self::field("/reason", "reason_required", refused),
            _ => Self::new(&ILLEGAL_STEP, sentence(&refused)),
        }
    }
}

impl From<Conflict> for Problem {
    fn from(conflict: Conflict) -> Self {
        let kind = match conflict {
            Conflict::StaleRevision { .. } => &STALE,
            Conflict::CaseExists | Conflict::Taken(_) => &TAKEN,
            Conflict::Race => &RACE,
        };
        Self::new(kind, sentence(&conflict))
    }
}

impl From<Stale> for Problem {
    fn from(stale: Stale) -> Self {
        Self::new(&STALE, stale.to_string())
    }
}

impl From<RegistryError> for Problem {
    fn from(error: RegistryError) -> Self {
        match error {
            RegistryError::Findings(findings) => Self::findings(&findings),
            RegistryError::Field { field, rule, sentence } => Self::field(field, rule, sentence),
            RegistryError::Plan(refusal) => Self::plan(&refusal),
            RegistryError::Design(problems) => Self::design(&problems),
            RegistryError::Approval(refusal) => Self::new(&APPROVAL_EXPIRED, sentence(&refusal)),
            RegistryError::Stale(stale) => stale.into(),
            RegistryError::VersionNotNamed => Self::new(&IF_MATCH_MISSING, error.to_string()),
            RegistryError::NotYet(why) => Self::new(&ILLEGAL_STEP, why.to_string()),
            RegistryError::Store(error) => error.into(),
            RegistryError::SignIn(error) => error.into(),
            RegistryError::Intake(_) => Self::new(&BROKEN_BODY, "A file cannot be taken at all."),
            RegistryError::RefusedOnItsWay(_) => Self::new(&DISCLOSES, sentence(&error)),
            RegistryError::SummaryDiffers(_) => Self::new(&SUMMARY_DIFFERS, sentence(&error)),
            RegistryError::Export(ExportError::TooManyForWorkbook { .. }) => {
                Self::new(&BAD_QUERY, error.to_string())
            }
            RegistryError::Export(_)
            | RegistryError::Unreadable(_)
            | RegistryError::NotWritten(_)
            | RegistryError::NotCounted(_)
            | RegistryError::NotRead(_) => {
                tracing::error!(%error, "the registry failed");
                Self::broken()
            }
        }
    }
}

/// A sentence with its first letter large and its full stop.
fn sentence(said: &impl std::fmt::Display) -> String {
    let text = said.to_string();
    let mut letters = text.chars();
    let first = letters.next().map(char::to_uppercase);
    let rest = letters.as_str();
    let stop = if rest.ends_with('.') { "" } else { "." };
    first.map_or_else(String::new, |first| format!("{first}{rest}{stop}"))
}
