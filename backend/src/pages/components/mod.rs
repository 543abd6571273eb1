//! The parts that pages are made of, one file a part. A part takes what it shows as a type
//! in which a wrong combination cannot be written; its look is in `pages/style`.

mod arm_column;
mod case_code;
mod caution;
mod choice;
mod compared;
mod compared_flow;
mod complication_card;
mod control;
mod error_summary;
mod field_row;
mod filter;
mod form_foot;
mod head;
mod marks;
mod merge;
mod named_table;
mod quantity;
mod query_thread;
mod start_here;
mod table;
mod work_row;

pub(crate) use arm_column::arm_column;
pub(crate) use case_code::case_code;
pub(crate) use caution::caution;
pub(crate) use choice::{Choice, Choices, Pick, Picker};
pub(crate) use compared::compared;
pub(crate) use complication_card::complication_card;
pub(crate) use control::{Control, Joined, Lines, Secret, Text};
pub(crate) use error_summary::error_summary;
pub(crate) use field_row::{FieldId, FieldRow, State};
pub(crate) use filter::filter;
pub(crate) use form_foot::FormFoot;
pub(crate) use head::{Head, Word, public_head, role_word};
pub(crate) use marks::{Mark, arm, arm_shape};
pub(crate) use merge::{Merge, Side};
pub(crate) use named_table::{named_table, named_table_in_blocks};
pub(crate) use quantity::QuantityBox;
pub(crate) use query_thread::query_thread;
pub(crate) use start_here::{Link, StartHere};
pub(crate) use table::{Cell, Column, Table, as_blocks};
pub(crate) use work_row::{Age, WorkGroup, WorkRow};
