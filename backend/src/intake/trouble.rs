//! What can be wrong with a file or a row before any field is read.

use super::FileKind;
use super::header::CHANGE_REASON;
use super::problem::{At, Problem};
use quietbeam_schema::case::CASE_CODE;
use quietbeam_schema::finding::Weight;
use quietbeam_schema::ids::CaseCodeError;
use quietbeam_schema::value::ValueProblem;
use std::io;
use thiserror::Error;

/// Why a file is refused whole.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub(crate) enum FileTrouble {
    #[error("The file is empty; send a header and at least one row, or leave the file out.")]
    Empty,
    #[error("The file has a header and no rows; add the rows, or leave the file out if there are none.")]
    HeaderOnly,
    #[error(
        "The file is a spreadsheet workbook; save the sheet as comma-separated text (CSV, UTF-8) and send that."
    )]
    Workbook,
    #[error("The file is written in UTF-16; save it as comma-separated text in UTF-8.")]
    Utf16,
    #[error("The columns are separated by {found}; save the file with {taken} between the columns.")]
    Delimiter { found: &'static str, taken: &'static str },
    #[error("Column {0} of the header has no name; name it, or delete the column.")]
    Nameless(usize),
    #[error("The column {0} stands twice in the header; keep one of the two.")]
    ColumnTwice(String),
    #[error("The header lacks {0}, without which no row can be taken; add what is missing.")]
    ColumnsMissing(String),
    #[error(
        "The text is not valid UTF-8 here; the file mixes encodings or is damaged, so save it again in UTF-8, which any spreadsheet offers."
    )]
    Utf8,
    #[error("The file holds a NUL byte here, so it is damaged or no text; export it again.")]
    Nul,
    #[error(
        "A field is longer than {0} bytes, which no field of the dictionary takes; look for a quotation mark that is never closed."
    )]
    FieldTooLong(usize),
    #[error("A row is longer than {0} bytes; look for a quotation mark that is never closed.")]
    RowTooLong(usize),
    #[error("The file is longer than {0} bytes, the most this registry takes at once; send it in parts.")]
    FileTooLong(u64),
    #[error("A quotation mark is opened in this row and never closed; close it, or take it out.")]
    QuoteOpen,
}

impl FileTrouble {
    fn rule(&self) -> &'static str {
        match self {
            Self::Empty => "empty_file",
            Self::HeaderOnly => "header_only",
            Self::Workbook | Self::Utf16 => "not_utf8_text",
            Self::Delimiter { .. } => "wrong_delimiter",
            Self::Nameless(_) => "column_without_name",
            Self::ColumnTwice(_) => "duplicate_column",
            Self::ColumnsMissing(_) => "missing_column",
            Self::Utf8 => "invalid_utf8",
            Self::Nul => "nul_byte",
            Self::FieldTooLong(_) => "field_too_long",
            Self::RowTooLong(_) => "row_too_long",
            Self::FileTooLong(_) => "file_too_long",
            Self::QuoteOpen => "quotation_mark_open",
        }
    }

    pub(super) fn at(&self, file: FileKind, at: At) -> Problem {
        let column = match self {
            Self::ColumnTwice(key) => Some(key.clone()),
            _ => None,
        };
        Problem { file, at, column, rule: self.rule(), weight: Weight::Hard, sentence: self.to_string() }
    }
}

/// A file that is refused whole, with everything that can be told at once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileRefused {
    /// What is wrong; never empty.
    pub problems: Vec<Problem>,
}

/// Why reading stopped.
#[derive(Debug, Error)]
pub enum IntakeError {
    /// The file is refused whole.
    #[error("{}", .0.problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Refused(FileRefused),
    /// The bytes could not be read.
    #[error("the {0} file cannot be read: {1}")]
    Unreadable(FileKind, #[source] io::Error),
}

impl From<Problem> for IntakeError {
    fn from(problem: Problem) -> Self {
        Self::Refused(FileRefused { problems: vec![problem] })
    }
}

/// Why a row is refused before its fields are read.
#[derive(Debug, Clone, PartialEq, Error)]
pub(super) enum RowTrouble {
    #[error(
        "The row has {found} fields where the header has {expected}; a text with the separator in it needs quotation marks around it."
    )]
    Ragged { found: usize, expected: usize },
    #[error("The case code also stands in {0}; keep one of the two rows.")]
    CodeTwice(At),
    #[error("The same case already has a follow-up in {0}; keep one of the two rows.")]
    FollowUpTwice(At),
    #[error("Case code is not filled in; name the case to which the row belongs.")]
    CodeBlank,
    #[error("Case code {0}.")]
    Code(CaseCodeError),
    #[error(
        "A {what} without a case: no case with this code is {place}; correct the code, or send the case too."
    )]
    WithoutCase { what: &'static str, place: &'static str },
    #[error(
        "{what} of this case, {at}, cannot be taken, and a case is never stored without what belongs to it; mend that row first."
    )]
    PartSpoilt { what: &'static str, at: At },
    #[error("Reason for the change {0}.")]
    ChangeReason(ValueProblem),
}

impl RowTrouble {
    fn rule(&self) -> &'static str {
        match self {
            Self::Ragged { .. } => "row_shape",
            Self::CodeTwice(_) => "case_code_twice",
            Self::FollowUpTwice(_) => "follow_up_twice",
            Self::CodeBlank => "required",
            Self::Code(_) => "case_code",
            Self::WithoutCase { .. } => "without_case",
            Self::PartSpoilt { .. } => "part_refused",
            Self::ChangeReason(_) => "change_reason",
        }
    }

    fn column(&self) -> Option<&'static str> {
        match self {
            Self::Ragged { .. } | Self::PartSpoilt { .. } => None,
            Self::ChangeReason(_) => Some(CHANGE_REASON),
            _ => Some(CASE_CODE.key),
        }
    }

    pub(super) fn at(&self, file: FileKind, at: At) -> Problem {
        Problem {
            file,
            at,
            column: self.column().map(str::to_owned),
            rule: self.rule(),
            weight: Weight::Hard,
            sentence: self.to_string(),
        }
    }
}
