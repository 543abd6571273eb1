//! Rows of work: each says what waits and for how long, and leads to the very field.

use maud::{Markup, Render, html};

use super::marks::Mark;
use super::start_here::Link;

/// How long it has waited.
pub(crate) enum Age {
    /// In time.
    Usual(String),
    /// Too long.
    Overdue(String),
}

/// One row.
pub(crate) struct WorkRow {
    /// Its mark.
    pub(crate) mark: Mark,
    /// The case, quarter or group it is about.
    pub(crate) about: Markup,
    /// What waits.
    pub(crate) sentence: Markup,
    /// For how long.
    pub(crate) age: Age,
    /// What to do; leads to the field.
    pub(crate) verb: Link,
    /// What the link is about, for those who hear it alone.
    pub(crate) verb_about: String,
}

impl Render for WorkRow {
    fn render(&self) -> Markup {
        html! {
            li.work-row {
                span.mark { (self.mark.shape()) }
                span.code { (self.about) }
                span.said { (self.sentence) }
                @match &self.age {
                    Age::Usual(text) => span.age { (text) },
                    Age::Overdue(text) => span.age.hard { (text) },
                }
                span.verb { a href=(self.verb.to) { (self.verb.says) span.unseen { ": " (self.verb_about) } } }
            }
        }
    }
}

/// Rows of one kind.
pub(crate) struct WorkGroup {
    /// The kind.
    pub(crate) title: &'static str,
    /// How many, and what is particular.
    pub(crate) count: String,
    /// To all of them at once.
    pub(crate) all: Option<Link>,
    /// The rows that are shown.
    pub(crate) rows: Vec<WorkRow>,
}

impl Render for WorkGroup {
    fn render(&self) -> Markup {
        html! {
            @if !self.rows.is_empty() {
                section.work-group {
                    div.group-head {
                        h2 { (self.title) }
                        span { (self.count) }
                        @if let Some(all) = &self.all { (all) }
                    }
                    ul { @for row in &self.rows { (row) } }
                }
            }
        }
    }
}
