//! The page on which a case is entered, in the order in which the work happens.

use maud::{Markup, Render, html};
use quietbeam_schema::case::{CaseForm, variables_of};
use quietbeam_schema::dictionary::{Need, Variable};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::{EntryField, EntrySection, entry_sections};
use quietbeam_schema::finding::{Finding, Part, Weight};
use quietbeam_schema::vocabulary::{Coded, FluoroUsed};

use super::field::field_row;
use super::later::later;
use super::posted::{COMPLICATIONS, name_of};
use crate::pages::assets::script;
use crate::pages::components::{FieldId, FormFoot, Link, Mark, Merge, Side, State, error_summary};
use crate::pages::figures::{Place, Strand, Stretch};
use crate::pages::shown::entered;
use crate::pages::trouble::Troubles;
use crate::pages::words::moment;
use crate::store::DraftRow;

/// The page's content.
pub(super) struct EntryView {
    /// The hidden field with which the form begins.
    pub(super) token: Markup,
    /// The draft as it is kept.
    pub(super) draft: DraftRow,
    /// What stands in the form.
    pub(super) form: CaseForm,
    /// What is said about it, each finding at a field of the form.
    pub(super) findings: Vec<Finding>,
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
    /// Somebody else saved meanwhile; this is what they saved.
    Overtaken(Box<CaseForm>),
}

/// The name under which the page remembers that the case could not be sent in, and its value.
pub(super) const OPENING: &str = "opening";
pub(super) const NOT_SENT: &str = "not_sent";

impl Render for EntryView {
    fn render(&self) -> Markup {
        let sections = entry_sections(&self.form);
        let strand = self.strand(&sections);
        html! {
            (script("entry.js"))
            (self.title())
            (strand.overview(&html! {
                @match strand.count(Place::MustBeMended) {
                    0 => span.quiet { "nothing to mend" },
                    number => (Mark::MustBeMended.with(format!("{number} must be mended"))),
                }
                @match strand.count(Place::ToAnswer) {
                    0 => {},
                    number => (Mark::ToAnswer.with(format!("{number} can be answered later"))),
                }
            }))
            (self.summary())
            form.entry method="post" action={ "/drafts/" (self.draft.id) } {
                (self.token)
                // Enter in a box saves; it must never send the case in.
                button type="submit" name="do" value="save" hidden {}
                input type="hidden" name="version" value=(self.draft.version);
                input type="hidden" name=(COMPLICATIONS) value=(self.form.complications.len());
                @if matches!(self.opening, Opening::NotSent) { input type="hidden" name=(OPENING) value=(NOT_SENT); }
                (self.merges())
                @for (at, section) in sections.iter().enumerate() { (self.section(at + 1, section)) }
                (self.foot())
            }
        }
    }
}

impl EntryView {
    fn title(&self) -> Markup {
        html! {
            div.title {
                div {
                    h1 { "Enter a case" }
                    p.quiet {
                        "Centre " (self.draft.centre)
                        " · nothing that names a person: no name, number, or date"
                    }
                }
                span.draft-state { (Mark::Saved.with(format!("Saved as draft, {}", moment(self.draft.saved_at)))) }
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
            @if let Some(troubles) = Troubles::of_findings(&self.findings) { (error_summary(&troubles, before)) }
        }
    }

    fn finding(&self, id: &FieldId) -> Option<&Finding> {
        let about = |finding: &&Finding| {
            finding.places.first().is_some_and(|place| name_of(place.part, &place.key) == *id)
        };
        let mut found: Vec<&Finding> = self.findings.iter().filter(about).collect();
        found.sort_by_key(|finding| finding.weight);
        found.first().copied()
    }

    fn state(&self, id: &FieldId) -> State {
        match self.finding(id) {
            None => State::Quiet,
            Some(finding) if finding.weight == Weight::Hard => {
                State::MustBeMended { sentence: finding.sentence.clone() }
            }
            Some(finding) => State::ToAnswer { sentence: finding.sentence.clone() },
        }
    }

    fn entries(&self, part: Part) -> &Entries {
        static NOTHING: std::sync::OnceLock<Entries> = std::sync::OnceLock::new();
        self.form.part(part).unwrap_or_else(|| NOTHING.get_or_init(Entries::default))
    }

    fn is_given(&self, field: &EntryField) -> bool {
        self.entries(field.part).given(field.variable.key).is_some()
    }

    /// Whether a field stands among the first ones: it is asked of every such case, or
    /// something stands in it.
    fn is_asked(&self, field: &EntryField) -> bool {
        !matches!(field.variable.need, Need::Optional)
            || self.is_given(field)
            || self.finding(&name_of(field.part, field.variable.key)).is_some()
    }

    fn strand(&self, sections: &[EntrySection]) -> Strand {
        let place = |field: &EntryField| match self.finding(&name_of(field.part, field.variable.key)) {
            Some(finding) if finding.weight == Weight::Hard => Place::MustBeMended,
            Some(_) => Place::ToAnswer,
            None if self.is_given(field) => Place::Filled,
            None => Place::Empty,
        };
        let asked = |field: &&EntryField| {
            self.is_asked(field) && (field.part != Part::FollowUp || self.form.follow_up.is_some())
        };
        let stretch = |section: &EntrySection| Stretch {
            label: section.label.to_owned(),
            to: format!("#{}", section.key),
            places: section.fields.iter().filter(asked).map(place).collect(),
        };
        Strand(sections.iter().map(stretch).filter(|stretch| !stretch.places.is_empty()).collect())
    }

    fn section(&self, ordinal: usize, section: &EntrySection) -> Markup {
        let filled =
            section.fields.iter().filter(|field| self.is_asked(field) && self.is_given(field)).count();
        let asked = section.fields.iter().filter(|field| self.is_asked(field)).count();
        let head = html! {
            span.ordinal { (ordinal) }
            h2 { (section.label) }
            span.aside {
                @match section.key {
                    "complications" if asked == 0 => "none entered",
                    "follow_up" if self.form.follow_up.is_none() => "later, or now if it is known",
                    _ => { (filled) " of " (asked) },
                }
            }
        };
        html! {
            section.fields.entry-section id=(section.key) {
                @if section.key == "follow_up" {
                    details open[self.form.follow_up.is_some()] {
                        summary.section-head { (head) }
                        (self.rows(&section.fields))
                        (later(section, Part::FollowUp, self.entries(Part::FollowUp)))
                    }
                } @else {
                    div.section-head { (head) }
                    @match section.key {
                        "complications" => (self.complications(section)),
                        _ => { (self.rows(&section.fields)) (later(section, Part::Case, self.entries(Part::Case))) }
                    }
                }
            }
        }
    }

    /// The fields that are asked, and folded under them those that some centres record.
    fn rows(&self, fields: &[EntryField]) -> Markup {
        let (asked, more): (Vec<&EntryField>, Vec<&EntryField>) =
            fields.iter().partition(|field| self.is_asked(field));
        html! {
            @for field in asked { (self.row(field)) }
            @if !more.is_empty() {
                details.more {
                    summary { "More, where your centre records it (" (more.len()) ")" }
                    @for field in more { (self.row(field)) }
                }
            }
        }
    }

    fn row(&self, field: &EntryField) -> Markup {
        let id = name_of(field.part, field.variable.key);
        html! {
            (field_row(*field, self.entries(field.part), self.state(&id)))
            @if field.variable.key == "fluoro_used" { (self.zeros()) }
        }
    }

    /// Without a beam every dose is zero: set by the registry, not typed.
    fn zeros(&self) -> Markup {
        let used = self.form.case.given("fluoro_used").and_then(FluoroUsed::from_code);
        let zeros = [("air kerma", "mGy"), ("kerma-area product", "Gy·cm²"), ("fluoroscopy time", "s")];
        html! {
            @if used.is_some_and(|used| !used.beam_on()) {
                div.field.kept-zeros {
                    span.mark { (Mark::Locked.shape()) }
                    span.label { "Kept as" }
                    div.control.controls {
                        @for (what, unit) in zeros { span { (what) " " span.locked-value { "0" } " " (unit) } }
                    }
                    div.note { "Set to 0 because no X-ray was used." }
                }
            }
        }
    }

    fn complications(&self, section: &EntrySection) -> Markup {
        html! {
            @for at in 0..self.form.complications.len() {
                @let fields: Vec<EntryField> = section.fields.iter().filter(|field| field.part == Part::Complication(at)).copied().collect();
                div.entry-card role="group" aria-label={ "Complication " (at + 1) } {
                    header {
                        h3 { "Complication " (at + 1) }
                        button.button type="submit" name="do" value={ "remove-" (at) } { "Remove" }
                    }
                    (self.rows(&fields))
                    (later(section, Part::Complication(at), self.entries(Part::Complication(at))))
                }
            }
            div.entry-add {
                button.button type="submit" name="do" value="add" {
                    @if self.form.complications.is_empty() { "Add a complication" } @else { "Add another" }
                }
                @if self.form.complications.is_empty() {
                    span.quiet { "That there was none is confirmed under Result." }
                }
            }
        }
    }

    /// Each column that differs between what is here and what somebody else saved.
    fn merges(&self) -> Markup {
        let Opening::Overtaken(theirs) = &self.opening else { return Markup::default() };
        html! {
            @for part in self.form.parts_beside(theirs) {
                (self.differences(part, self.form.part(part), theirs.part(part)))
            }
        }
    }

    fn differences(&self, part: Part, here: Option<&Entries>, there: Option<&Entries>) -> Markup {
        let shown =
            |entries: Option<&Entries>, variable| entries.and_then(|entries| entered(variable, entries));
        let sent = |entries: Option<&Entries>, variable: &Variable| {
            let columns = variable
                .columns()
                .map(|key| entries.and_then(|entries| entries.given(&key)).unwrap_or_default().to_owned());
            columns.collect::<Vec<_>>().join(" ").trim().to_owned()
        };
        html! {
            @for variable in variables_of(part) {
                @let (mine, theirs) = (sent(here, variable), sent(there, variable));
                @if mine != theirs {
                    (Merge {
                        name: &format!("merge-{}", name_of(part, variable.key).as_str()),
                        label: variable.label,
                        sides: [
                            Side { value: "here", shown: shown(here, variable).as_deref().unwrap_or("empty"), from: "here, now".to_owned() },
                            Side { value: "there", shown: shown(there, variable).as_deref().unwrap_or("empty"), from: format!("saved elsewhere, {}", moment(self.draft.saved_at)) },
                        ],
                    })
                }
            }
        }
    }

    fn foot(&self) -> Markup {
        let next = self
            .findings
            .iter()
            .find(|finding| finding.weight == Weight::Hard)
            .and_then(|finding| finding.places.first());
        FormFoot {
            next: next.map(|place| {
                Link::new(format!("#{}", name_of(place.part, &place.key).as_str()), "Next problem")
            }),
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
