//! A case code as people read it: in three groups, which are no part of what is copied.

use maud::{Markup, html};
use quietbeam_schema::ids::CaseCode;

use crate::pages::words::code_groups;

/// The code.
pub(crate) fn case_code(code: &CaseCode) -> Markup {
    html! { span.code { @for group in code_groups(code) { span { (group) } } } }
}
