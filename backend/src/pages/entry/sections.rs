//! The seven sections of a case with what stands in them, what is said about it, and what can
//! be offered beside it: for a draft, and for a submitted case that is changed.

use maud::{Markup, Render, html};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::centre::{Consoles, Room};
use quietbeam_schema::dictionary::Need;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::{Because, EntryField, EntrySection, complication_so_far, entry_sections};
use quietbeam_schema::finding::{Finding, Part, Weight};
use quietbeam_schema::value::Kind;
use quietbeam_schema::vocabulary::{Coded, FluoroUsed, IntentDeclared, Strategy};

use super::field::{Beside, field_row};
use super::later::later;
use super::posted::{COMPLICATIONS, because_name, name_of};
use super::report::{Report, ReportPlace};
use crate::pages::components::{FieldId, Link, Mark, State, arm, complication_card};
use crate::pages::figures::{Place, Strand, Stretch};
use crate::pages::words::moment;
use crate::registry::drafts::Declared;

/// The rule of a finding about what was said of a value, not about the value.
pub(super) const UNSAID: &str = "free_text";

/// A form with everything that is shown in and beside its fields.
pub(in crate::pages) struct Sections {
    /// What stands in it.
    pub(in crate::pages) form: CaseForm,
    /// What is said about it, each finding at a field of the form.
    pub(in crate::pages) findings: Vec<Finding>,
    /// Why values are right that a rule asks about; `None` where it is not asked here.
    pub(in crate::pages) because: Option<Vec<Because>>,
    /// When the intended strategy was entered.
    pub(in crate::pages) declared: Option<Declared>,
    /// The X-ray rooms of the centre.
    pub(in crate::pages) rooms: Vec<Room>,
    /// What came of a dose report.
    pub(in crate::pages) report: Option<Report>,
    /// Where the form is sent with a dose report.
    pub(in crate::pages) report_to: String,
}

impl Render for Sections {
    fn render(&self) -> Markup {
        html! {
            input type="hidden" name=(COMPLICATIONS) value=(self.form.complications.len());
            @for (at, section) in entry_sections(&self.form).iter().enumerate() { (self.section(at + 1, section)) }
        }
    }
}

impl Sections {
    /// How far the form is, with its counts.
    pub(in crate::pages) fn overview(&self) -> Markup {
        let strand = self.strand(&entry_sections(&self.form));
        strand.overview(&html! {
            @match strand.refused() {
                0 => span.quiet { "nothing to mend" },
                number => (Mark::MustBeMended.with(format!("{number} must be mended"))),
            }
            @match strand.count(Place::ToAnswer) {
                0 => {},
                number => (Mark::ToAnswer.with(format!("{number} can be answered later"))),
            }
            @match strand.count(Place::Empty) {
                0 => {},
                number => span.quiet { (number) " still empty" },
            }
        })
    }

    /// The way to what is to be done next: the first problem, else the first empty field.
    pub(in crate::pages) fn next(&self) -> Option<Link> {
        let hard = self.findings.iter().find(|finding| finding.weight == Weight::Hard);
        if let Some(place) = hard.and_then(|finding| finding.places.first()) {
            return Some(Link::new(format!("#{}", name_of(place.part, &place.key).as_str()), "Next problem"));
        }
        let sections = entry_sections(&self.form);
        let empty = sections.iter().flat_map(|section| &section.fields).find(|field| {
            (field.part != Part::FollowUp || self.form.follow_up.is_some())
                && self.is_asked(field)
                && !self.is_given(field)
        })?;
        let id = name_of(empty.part, empty.variable.key);
        Some(Link::new(format!("#{}", id.as_str()), "Next empty field"))
    }

    fn findings_at(&self, id: &FieldId) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(move |finding| {
            finding.places.first().is_some_and(|place| name_of(place.part, &place.key) == *id)
        })
    }

    /// The gravest that is found at a field.
    fn finding(&self, id: &FieldId) -> Option<&Finding> {
        self.findings_at(id).min_by_key(|finding| finding.weight)
    }

    fn state(&self, field: &EntryField) -> State {
        let id = name_of(field.part, field.variable.key);
        let (unsaid, found): (Vec<&Finding>, Vec<&Finding>) =
            self.findings_at(&id).partition(|finding| finding.rule == UNSAID);
        let sentence = |finding: &Finding| finding.sentence.clone();
        match found.iter().min_by_key(|finding| finding.weight) {
            None if self.is_given(field) || matches!(field.variable.need, Need::Optional) => State::Quiet,
            None => State::Empty,
            Some(hard) if hard.weight == Weight::Hard => State::MustBeMended { sentence: sentence(hard) },
            Some(query) => State::ToAnswer {
                sentence: sentence(query),
                answer: self.because(&id, query, unsaid.first().map(|unsaid| unsaid.sentence.as_str())),
            },
        }
    }

    /// The two ways to deal with a question: to say why the value is right, or to change it.
    fn because(&self, id: &FieldId, finding: &Finding, refused: Option<&str>) -> Option<Markup> {
        let said = self.because.as_ref()?.iter().find(|because| because.is_about(finding));
        let (name, text) = (because_name(finding), said.map_or("", |because| because.text.as_str()));
        let message =
            format!("{}-{}", id.as_str(), if refused.is_some() { "because-message" } else { "message" });
        Some(html! {
            div.mends {
                details.because open[said.is_some()] {
                    summary.button { "It is right, because …" }
                    textarea.input name=(name) rows="2" maxlength="1000" aria-label="Why it is right"
                        aria-describedby=(message) aria-invalid=[refused.map(|_| "true")] { (text) }
                    @if let Some(sentence) = refused {
                        p.message.hard id=(message) { b { "Must be mended." } " " (sentence) }
                    }
                    p.small { "Kept with the draft; it becomes the answer once the case is sent in. It can wait." }
                }
                a.button href={ "#" (id) } { "Change it" }
            }
        })
    }

    fn entries(&self, part: Part) -> &Entries {
        static NOTHING: std::sync::OnceLock<Entries> = std::sync::OnceLock::new();
        self.form.part(part).unwrap_or_else(|| NOTHING.get_or_init(Entries::default))
    }

    fn is_given(&self, field: &EntryField) -> bool {
        self.entries(field.part).given(field.variable.key).is_some()
    }

    /// Whether a field stands among the first ones: it is asked of every such case, or
    /// something stands in it or is offered for it. The room is asked where there are several.
    fn is_asked(&self, field: &EntryField) -> bool {
        !matches!(field.variable.need, Need::Optional)
            || self.is_given(field)
            || self.finding(&name_of(field.part, field.variable.key)).is_some()
            || self.offer(field).is_some()
            || (matches!(field.variable.kind, Kind::RoomCode) && self.rooms.len() > 1)
    }

    /// What the console of this case's room shows.
    fn consoles(&self) -> Option<Consoles> {
        Consoles::of(&self.rooms, self.form.case.given("room_code").and_then(|code| code.parse().ok()))
    }

    fn offer(&self, field: &EntryField) -> Option<Markup> {
        self.report
            .as_ref()?
            .beside(field.variable, self.entries(field.part))
            .filter(|_| field.part == Part::Case)
    }

    fn strand(&self, sections: &[EntrySection]) -> Strand {
        let place = |field: &EntryField| match self.finding(&name_of(field.part, field.variable.key)) {
            Some(finding) if finding.weight == Weight::Hard && self.is_given(field) => Place::MustBeMended,
            Some(finding) if finding.weight == Weight::Hard => Place::Missing,
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

    /// A section that is done is folded to one line; it is sent with the form all the same.
    fn section(&self, ordinal: usize, section: &EntrySection) -> Markup {
        let asked: Vec<&EntryField> = section.fields.iter().filter(|field| self.is_asked(field)).collect();
        let filled = asked.iter().filter(|field| self.is_given(field)).count();
        let said = |field: &EntryField| self.finding(&name_of(field.part, field.variable.key)).is_some();
        let open = match section.key {
            "complications" => true,
            "follow_up" if self.form.follow_up.is_none() => false,
            "x_ray" if self.report.is_some() => true,
            _ => filled < asked.len() || section.fields.iter().any(said),
        };
        html! {
            section.fields.entry-section {
                details open[open] {
                    summary.section-head {
                        span.ordinal { (ordinal) }
                        h2 { (section.label) }
                        span.aside {
                            (self.told(section.key))
                            @match section.key {
                                "complications" => @match self.form.complications.len() {
                                    0 => "none entered",
                                    number => { (number) " entered" },
                                },
                                "follow_up" if self.form.follow_up.is_none() => "later, or now if it is known",
                                _ => { (filled) " of " (asked.len()) },
                            }
                            " · " span.fold-word {}
                        }
                    }
                    // Inside, so that a link to the section opens it.
                    div id=(section.key) { (self.inside(section)) }
                }
            }
        }
    }

    fn inside(&self, section: &EntrySection) -> Markup {
        html! {
            @match section.key {
                "complications" => (self.complications(section)),
                "follow_up" => { (self.rows(&section.fields)) (self.later(section, Part::FollowUp)) },
                _ => { (self.rows(&section.fields)) (self.later(section, Part::Case)) },
            }
            @if section.key == "x_ray" && self.used().is_none_or(FluoroUsed::beam_on) {
                (ReportPlace {
                    to: &self.report_to,
                    report: self.report.as_ref(),
                    beam_on: self.used().is_some(),
                })
            }
        }
    }

    /// What a section says of itself beside its head.
    fn told(&self, key: &str) -> Markup {
        let given = |key| self.form.case.given(key);
        html! {
            @match key {
                "before" => {
                    @if let Some(strategy) = given("strategy_intended").and_then(Strategy::from_code) { (arm(strategy)) " intended" }
                    @if let Some(how) = given("intended_declared").and_then(IntentDeclared::from_code) {
                        ", declared " (how.label().to_lowercase())
                    }
                    " · "
                },
                "x_ray" if self.used().is_some_and(|used| !used.beam_on()) => {
                    (Mark::Locked.with("no X-ray used: every dose is 0")) " · "
                },
                _ => {},
            }
        }
    }

    fn later(&self, section: &EntrySection, part: Part) -> Markup {
        let said = Beside { rooms: &self.rooms, consoles: self.consoles(), note: None };
        later(section, part, self.entries(part), &said)
    }

    fn used(&self) -> Option<FluoroUsed> {
        self.form.case.given("fluoro_used").and_then(FluoroUsed::from_code)
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
        let note = match field.variable.key {
            "strategy_intended" => self.declared.as_ref().map(|declared| {
                html! {
                    "Entered in the registry " (moment(declared.at)) "; kept with the case."
                }
            }),
            _ => self.offer(field),
        };
        let beside = Beside { rooms: &self.rooms, consoles: self.consoles(), note };
        html! {
            (field_row(*field, self.entries(field.part), self.state(field), beside))
            @if field.variable.key == "fluoro_used" { (self.zeros()) }
        }
    }

    /// Without a beam every dose is zero: set by the registry, not typed.
    fn zeros(&self) -> Markup {
        let zeros = [("air kerma", "mGy"), ("kerma-area product", "Gy·cm²"), ("fluoroscopy time", "s")];
        html! {
            @if self.used().is_some_and(|used| !used.beam_on()) {
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
                (self.complication(at, &fields, self.later(section, Part::Complication(at))))
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

    /// A complication is read as a card once it can be; its fields then wait behind "Change".
    fn complication(&self, at: usize, fields: &[EntryField], later: Markup) -> Markup {
        let inside = html! {
            (self.rows(fields))
            (later)
            div.entry-remove { button.button type="submit" name="do" value={ "remove-" (at) } { "Remove" } }
        };
        let said =
            fields.iter().any(|field| self.finding(&name_of(field.part, field.variable.key)).is_some());
        let (head, word, open) = match complication_so_far(&self.form, at) {
            Some((event, tier)) => (complication_card(&event, tier), "Change", said),
            None => {
                let head = html! {
                    header {
                        h3 { "Complication " (at + 1) }
                        span.quiet { "its tier follows from what is entered" }
                    }
                };
                (head, "To fill in", true)
            }
        };
        // The fields stand in the same place in either case, so that the page's script keeps them.
        html! {
            div.entry-card role="group" aria-label={ "Complication " (at + 1) } {
                (head)
                details.change open[open] { summary { (word) } (inside) }
            }
        }
    }
}
