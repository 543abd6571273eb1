//! The page on which a case is entered, in the order in which the work happens.

use maud::{Markup, Render, html};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::finding::Place;
use quietbeam_schema::merge::{Choices, Side, differences};
use quietbeam_schema::vocabulary::{Coded, ProcedureType};

use super::posted::{THEIRS, VERSION, merge_name, name_of};
use super::sections::Sections;
use crate::pages::assets::script;
use crate::pages::components::{FormFoot, Mark, Merge, Side as Shown, error_summary};
use crate::pages::shown::entered;
use crate::pages::trouble::Troubles;
use crate::pages::words::{clock_time, moment};
use crate::store::DraftRow;

/// The page's content.
pub(super) struct EntryView {
    /// The hidden field with which the form begins.
    pub(super) token: Markup,
    /// The draft as it is kept.
    pub(super) draft: DraftRow,
    /// What stands in the form.
    pub(super) sections: Sections,
    /// What the page says first.
    pub(super) opening: Opening,
}

/// What the page says first.
pub(super) enum Opening {
    /// Nothing: the draft is open.
    Quiet,
    /// It was saved, and some of it must be mended.
    NotAllKept,
    /// It could not be sent in.
    NotSent,
    /// Somebody else saved meanwhile.
    Overtaken(Box<Overtaken>),
}

/// What somebody else saved meanwhile.
pub(super) struct Overtaken {
    /// The version that was looked at here.
    pub(super) version: i64,
    /// What they saved.
    pub(super) theirs: CaseForm,
    /// Whose value stands, where it was chosen.
    pub(super) choices: Choices,
}

/// The name under which the page remembers that the case could not be sent in, and its value.
pub(super) const OPENING: &str = "opening";
pub(super) const NOT_SENT: &str = "not_sent";

impl Render for EntryView {
    fn render(&self) -> Markup {
        let version = match &self.opening {
            Opening::Overtaken(overtaken) => overtaken.version,
            _ => self.draft.version,
        };
        html! {
            (script("entry.js"))
            (self.title())
            (self.sections.overview())
            (self.summary())
            form.entry method="post" action={ "/drafts/" (self.draft.id) } {
                (self.token)
                // Enter in a box saves; it must never send the case in.
                button type="submit" name="do" value="save" hidden {}
                input type="hidden" name=(VERSION) value=(version);
                @if matches!(self.opening, Opening::NotSent) { input type="hidden" name=(OPENING) value=(NOT_SENT); }
                (self.merges())
                (self.sections)
                (self.foot())
            }
        }
    }
}

impl EntryView {
    fn title(&self) -> Markup {
        let given = |key| self.sections.form.case.given(key);
        let procedure = given("proc_primary").and_then(ProcedureType::from_code);
        html! {
            div.title {
                div {
                    h1 { "Enter a case" }
                    p.quiet {
                        @if let Some(procedure) = procedure { (procedure.label()) " · " }
                        @if let Some(period) = given("period") { (period) " · " }
                        "Centre " (self.draft.centre)
                        " · nothing that names a person: no name, number, or date"
                    }
                }
                span.draft-state {
                    (Mark::Saved.with(html! { span title=(moment(self.draft.saved_at)) { "Saved as draft, " (clock_time(self.draft.saved_at)) } }))
                }
            }
        }
    }

    fn summary(&self) -> Markup {
        let before = match self.opening {
            Opening::Quiet => return Markup::default(),
            Opening::NotAllKept => "it is kept in the draft",
            Opening::NotSent => "this case can be submitted",
            Opening::Overtaken(_) => {
                return html! {
                    section.error-summary role="alert" tabindex="-1" autofocus {
                        (Mark::MustBeMended.shape())
                        h2 { "Somebody else saved this draft since you read it" }
                        p { "Choose below which value stands, then save. Nothing of theirs is lost until you do." }
                    }
                };
            }
        };
        html! {
            @if let Some(troubles) = Troubles::of_findings(&self.sections.findings) { (error_summary(&troubles, before)) }
        }
    }

    /// Each field that differs between what is here and what somebody else saved.
    fn merges(&self) -> Markup {
        let Opening::Overtaken(overtaken) = &self.opening else { return Markup::default() };
        let shown =
            |entries: Option<&Entries>, variable| entries.and_then(|entries| entered(variable, entries));
        html! {
            input type="hidden" name=(THEIRS) value=(self.draft.version);
            @for field in differences(&self.sections.form, &overtaken.theirs) {
                @let here = shown(self.sections.form.part(field.part), field.variable);
                @let there = shown(overtaken.theirs.part(field.part), field.variable);
                @let chosen = overtaken.choices.get(&Place::new(field.part, field.variable.key));
                (Merge {
                    name: &merge_name(&name_of(field.part, field.variable.key)),
                    label: field.variable.label,
                    sides: [
                        Shown { value: "here", shown: here.as_deref().unwrap_or("empty"), from: "here, now".to_owned(), chosen: chosen == Some(&Side::Here) },
                        Shown { value: "there", shown: there.as_deref().unwrap_or("empty"), from: format!("saved elsewhere, {}", moment(self.draft.saved_at)), chosen: chosen == Some(&Side::There) },
                    ],
                })
            }
        }
    }

    fn foot(&self) -> Markup {
        FormFoot {
            next: self.sections.next(),
            send: "Submit",
            does: Some("submit"),
            further: html! {
                button.button type="submit" name="do" value="save" { "Save draft" }
                button.button.discard type="submit" name="do" value="discard" { "Discard" }
            },
            aside: html! { "Saving asks for what your answers make relevant." },
        }
        .render()
    }
}
