//! What the registry does, one file a capability. Each function asks the core to
//! decide and the session to keep, and knows neither HTTP nor SQL.

pub mod adjudication;
pub mod approvals;
mod at_cut;
pub mod case_list;
pub mod cases;
pub mod centres;
pub mod codes;
pub mod comparisons;
pub mod contacts;
mod current_cases;
mod cut_columns;
pub mod cuts;
pub mod deidentified;
pub mod drafts;
pub mod exports;
pub mod imports;
mod judged;
pub mod late_contacts;
pub mod members;
pub mod outlook;
pub mod own_picture;
pub mod own_summary;
pub mod plans;
pub mod precondition;
pub mod published_comparison;
pub mod queries;
pub mod rechecks;
pub mod report_texts;
pub mod reports;
pub mod screening;
pub mod summaries;
pub mod watching;
pub mod words;

use quietbeam_analysis::study::plan::PlanRefusal;
use quietbeam_analysis::study::summary::SummaryError;
use quietbeam_schema::centre::CentreError;
use quietbeam_schema::centre_approval::ApprovalRefusal;
use quietbeam_schema::finding::Finding;
use quietbeam_schema::summary_design::DesignProblem;

use crate::access::session::SignInError;
use crate::intake::{FileKind, IntakeError};
use crate::store::StoreError;
pub use precondition::{IfMatch, Stale, Version};
pub use words::WordsError;

/// Why the registry did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum RegistryError {
    /// The record must be mended first; the findings say how.
    #[error("{} things must be mended in the record", .0.len())]
    Findings(Vec<Finding>),
    /// One field must be mended.
    #[error("{field}: {sentence}")]
    Field {
        /// JSON pointer to the field.
        field: &'static str,
        /// The rule that refused it.
        rule: &'static str,
        /// What is wrong and how to mend it.
        sentence: String,
    },
    /// An analysis plan must be mended; every place is named.
    #[error(transparent)]
    Plan(#[from] PlanRefusal),
    /// The design of a summary must be mended; every field is named.
    #[error("{} things must be mended in the design", .0.len())]
    Design(Vec<DesignProblem>),
    /// It was changed since it was read.
    #[error(transparent)]
    Stale(#[from] Stale),
    /// It exists, and the change does not say which version was read.
    #[error("It exists already; read it first, and send its ETag as If-Match.")]
    VersionNotNamed,
    /// An approval of the centre stands in the way.
    #[error(transparent)]
    Approval(#[from] ApprovalRefusal),
    /// An import under way does not take this step now.
    #[error(transparent)]
    NotYet(#[from] imports::jobs::NotYet),
    /// The store did not do it.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A file cannot be taken at all.
    #[error("a file cannot be taken")]
    Intake(IntakeError),
    /// The bytes of a file cannot be read.
    #[error("the {} file cannot be read: {}", .0.0, .0.1)]
    Unreadable((FileKind, std::io::Error)),
    /// A summary on its way was refused, because beside what was published meanwhile somebody could
    /// work out a count; names the number and who, and no count.
    #[error(
        "{0}. What was published meanwhile cannot be unread, so this summary ends here. Compose it anew: it will hide more."
    )]
    RefusedOnItsWay(String),
    /// A summary does not say what its cases say: no other can be checked beside it.
    #[error("{0}; it can neither be relied on nor be checked with others. Ask the operator of the server.")]
    SummaryDiffers(SummaryError),
    /// A summary cannot be made of its cases, or an earlier one not be found in its own.
    #[error("the summary cannot be made: {0}")]
    NotCounted(SummaryError),
    /// An earlier summary cannot be read.
    #[error("an earlier summary cannot be read: {0}")]
    NotRead(serde_json::Error),
    /// A file cannot be written.
    #[error(transparent)]
    Export(#[from] crate::export::ExportError),
    /// A result cannot be written as JSON.
    #[error("the result cannot be written: {0}")]
    NotWritten(serde_json::Error),
    /// The sign-in did not succeed.
    #[error(transparent)]
    SignIn(#[from] SignInError),
}

impl RegistryError {
    /// One field must be mended.
    pub fn field(field: &'static str, rule: &'static str, sentence: impl std::fmt::Display) -> Self {
        Self::Field { field, rule, sentence: sentence.to_string() }
    }
}

impl From<SummaryError> for RegistryError {
    fn from(error: SummaryError) -> Self {
        match error {
            SummaryError::Refused(_) => Self::RefusedOnItsWay(error.to_string()),
            SummaryError::EarlierDiffers { .. } => Self::SummaryDiffers(error),
            SummaryError::Tables(_) | SummaryError::Attack(_) => Self::NotCounted(error),
        }
    }
}

impl From<CentreError> for RegistryError {
    fn from(error: CentreError) -> Self {
        let field = match error {
            CentreError::Text { field: "name", .. } => "/name",
            CentreError::Text { .. } => "/region",
            CentreError::KapUnit(_) => "/kap_unit",
            CentreError::DoseCorrection { .. } => "/dose_correction",
            CentreError::PulseRate { .. } => "/pulse_rate",
        };
        Self::field(field, "value", error)
    }
}

impl From<IntakeError> for RegistryError {
    fn from(error: IntakeError) -> Self {
        match error {
            IntakeError::Refused(_) => Self::Intake(error),
            IntakeError::Unreadable(file, error) => Self::Unreadable((file, error)),
        }
    }
}
