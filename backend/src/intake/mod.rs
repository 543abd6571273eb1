//! Delimited text on its way to case forms: three files of one centre, joined
//! by case code, read row by row so that memory does not grow with the rows.

mod bounds;
mod cases;
mod check;
pub mod dose_report;
mod guard;
mod header;
mod labels;
mod layout;
mod marked;
mod mending;
mod parts;
mod plain;
mod problem;
mod report;
mod source;
mod staged;
mod table;
mod template;
mod trouble;
mod understood;
mod withheld;
mod workbook;

pub use bounds::Limits;
pub use cases::{CaseRow, CaseRows, Places, RefusedRow, Row};
pub use check::check_files;
pub(crate) use guard::guarded;
pub use header::header;
pub(crate) use header::variables;
pub use layout::Encoding;
pub use marked::{Marked, marked_workbook};
pub use mending::Mend;
pub use parts::{Leftover, OfCase, Parts};
pub(crate) use plain::{PlainRows, Stopped};
pub use problem::{At, Problem};
pub use report::{Counts, FileCounts, Report, Tally};
pub use source::{Files, Source};
pub use staged::{FileLayout, GivenColumn, Staged, Withheld};
pub use template::workbook_template;
pub(crate) use template::{Book, as_text};
pub use trouble::{FileRefused, IntakeError};
pub use understood::{ColumnRead, Question, UnitChoice};
pub use workbook::{LARGEST_WORKBOOK, WorkbookTrouble, is_workbook};

use clap::ValueEnum;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What the rows of a file are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, ValueEnum)]
#[serde(rename_all = "snake_case")]
#[value(rename_all = "snake_case")]
pub enum FileKind {
    /// One row a case.
    Cases,
    /// One row a complication, each naming its case.
    Complications,
    /// One row a follow-up, each naming its case.
    FollowUps,
}

impl FileKind {
    /// All kinds, in the order in which they are read about.
    pub const ALL: [Self; 3] = [Self::Cases, Self::Complications, Self::FollowUps];

    /// The kind of exactly this name, such as `follow_ups`.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.to_string() == name)
    }

    /// The kind that a file's name tells, such as `follow_ups_2025.csv`.
    pub fn of_name(name: &str) -> Option<Self> {
        let plain: String = name.to_ascii_lowercase().replace(['-', ' ', '_'], "");
        let told =
            [(Self::Complications, "complication"), (Self::FollowUps, "followup"), (Self::Cases, "case")];
        told.into_iter().find_map(|(kind, word)| plain.contains(word).then_some(kind))
    }
}

impl fmt::Display for FileKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Cases => "cases",
            Self::Complications => "complications",
            Self::FollowUps => "follow_ups",
        })
    }
}
