//! The list of questions as it is drawn.

use maud::{Markup, Render, html};
use quietbeam_schema::data_query::{Origin, Stage};
use quietbeam_schema::value::Kind;
use std::collections::BTreeMap;

use super::many::{Sitting, tick_id};
use super::{Asked, BY_MONITOR, Found};
use crate::pages::about::{About, label};
use crate::pages::components::{
    Age, Cell, Column, FormFoot, Link, Mark, Table, WorkGroup, WorkRow, case_code, filter, query_thread,
};
use crate::pages::desk::field_of;
use crate::pages::frame::Frame;
use crate::pages::words::{age, capital, counted};
use crate::registry::{Version, cases};
use crate::store::{QueryGroup, QueryRow, StoreError};

/// The page's content.
pub(super) struct ListView<'a> {
    pub(super) frame: &'a Frame,
    pub(super) asked: &'a Asked,
    pub(super) sitting: &'a Sitting,
    pub(super) found: &'a Found,
}

impl ListView<'_> {
    /// The whole content.
    pub(super) fn draw(&self) -> Result<Markup, StoreError> {
        let found = self.found;
        let list = if found.rows.is_empty() {
            html! { p { (self.nothing()) } }
        } else {
            self.list()?
        };
        let main = html! {
            (self.filters())
            (self.same_question())
            (list)
            @if let Some(next) = &found.next {
                p { a href=(self.asked.address(&format!("after={next}"))) rel="next" { "Further questions" } }
            }
        };
        Ok(html! {
            (self.sitting.summary())
            div.title { div { h1 { (self.title()) } p.quiet { (self.explained()) } } }
            @if found.monitors && !found.ageing.is_empty() {
                div.sides { div { (main) } aside.margin { (self.ageing()) } }
            } @else { (main) }
        })
    }

    fn title(&self) -> String {
        let number = self.found.number;
        let said = match self.asked.state(self.found.monitors) {
            "open" => counted(number, "question waits for an answer", "questions wait for an answer"),
            "answered" => counted(number, "answer waits for a monitor", "answers wait for a monitor"),
            "closed" => counted(number, "question is closed", "questions are closed"),
            _ => counted(number, "question", "questions"),
        };
        capital(&said)
    }

    fn explained(&self) -> &'static str {
        if self.found.monitors {
            "An answer is accepted, or the question is opened again. A rule closes its own once it passes."
        } else {
            "A question blocks nothing. Say why a value is right, or change it."
        }
    }

    fn nothing(&self) -> Markup {
        let narrowed = [&self.asked.centre, &self.asked.field, &self.asked.rule, &self.asked.age];
        if narrowed.iter().all(|filter| filter.is_empty()) {
            return html! { "Nothing waits here." };
        }
        html! { "No question fits. " a href="/queries" { "Show all that wait" } }
    }

    fn filters(&self) -> Markup {
        let states = [("open", "open"), ("answered", "answered"), ("closed", "closed"), ("all", "all")];
        let ages = [("7", "7 days or longer"), ("14", "14 days or longer"), ("30", "30 days or longer")];
        let owned = |pairs: &[(&str, &str)]| -> Vec<(String, String)> {
            pairs.iter().map(|(value, label)| ((*value).to_owned(), (*label).to_owned())).collect()
        };
        let mut fields = BTreeMap::new();
        let mut rules = BTreeMap::new();
        for group in &self.found.groups {
            if let Some(field) = &group.field {
                fields.insert(field.clone(), label(Some(field)));
            }
            rules.insert(origin_code(&group.origin), origin_words(&group.origin));
        }
        let centres: Vec<_> = self.found.centres.iter().map(|code| (code.clone(), code.clone())).collect();
        html! {
            form.filters method="get" action="/queries" {
                (filter("state", "State", self.asked.state(self.found.monitors), &owned(&states), None))
                @if centres.len() > 1 { (filter("centre", "Centre", &self.asked.centre, &centres, Some("all"))) }
                (filter("field", "Field", &self.asked.field, &fields.into_iter().collect::<Vec<_>>(), Some("all")))
                (filter("rule", "Asked by", &self.asked.rule, &rules.into_iter().collect::<Vec<_>>(), Some("all")))
                (filter("age", "Asked", &self.asked.age, &owned(&ages), Some("at any time")))
                div { button.button type="submit" { "Show" } }
            }
        }
    }

    /// Questions that several cases share, each a list of its own that is answered at once.
    fn same_question(&self) -> Markup {
        let narrowed = !self.asked.field.is_empty() || !self.asked.rule.is_empty();
        if narrowed || self.found.monitors || self.asked.state(false) != "open" {
            return html! {};
        }
        let shared: Vec<&QueryGroup> =
            self.found.groups.iter().filter(|group| group.number > 1 && group.field.is_some()).collect();
        let row = |group: &&QueryGroup| WorkRow {
            mark: Mark::ToAnswer,
            about: html! { (group.number) " cases" },
            sentence: html! { span { (label(group.field.as_deref())) } span.quiet { "one answer may fit all" } },
            age: Age::Usual(origin_words(&group.origin)),
            verb: Link::new(self.together(group), "Answer"),
            verb_about: format!("{} of {} cases", label(group.field.as_deref()), group.number),
        };
        WorkGroup {
            title: "The same question in several cases",
            count: String::new(),
            all: None,
            rows: shared.iter().map(row).collect(),
        }
        .render()
    }

    fn together(&self, group: &QueryGroup) -> String {
        Asked {
            state: "open".to_owned(),
            field: group.field.clone().unwrap_or_default(),
            rule: origin_code(&group.origin),
            centre: self.asked.centre.clone(),
            ..Asked::default()
        }
        .address("")
    }

    fn list(&self) -> Result<Markup, StoreError> {
        let found = self.found;
        let rows = found.rows.iter().map(|row| self.row(row)).collect::<Result<Vec<_>, _>>()?;
        let table = Table {
            caption: match self.asked.state(found.monitors) {
                "open" | "answered" => "The longest waiting first".to_owned(),
                _ => "Newest first".to_owned(),
            },
            columns: ["Case", "Question", "Asked", ""].map(Column::words),
            rows,
        };
        if !found.rows.iter().any(|row| found.can_be_ticked(row, self.asked)) {
            return Ok(html! { div.questions { (table) } });
        }
        Ok(html! {
            form.questions method="post" action=(self.asked.address("")) {
                (self.frame.token())
                p { a href=(self.asked.address("all=yes")) { "Tick all on this page" } }
                (table)
                (self.at_once())
            }
        })
    }

    fn row(&self, row: &QueryRow) -> Result<[Cell; 4], StoreError> {
        let query = &row.query;
        let about = About::of(query.field.as_deref());
        let case = self.found.cases.get(&query.code);
        let value = match (about, case) {
            (Some(about), Some(case)) => about.value(&cases::form_of(case)?),
            _ => None,
        };
        let ticked = self.found.can_be_ticked(row, self.asked);
        let id = tick_id(query.id);
        let said = self.sitting.said(query.id);
        let head = html! {
            @if ticked {
                label.tick {
                    input type="checkbox" id=(id) name="pick" value=(query.id)
                        checked[self.asked.all == "yes" || self.sitting.is_picked(query.id)];
                    (case_code(&query.code))
                }
                @if let Some(case) = case {
                    input type="hidden" name={ "read-" (query.id) } value=(Version::of_revision(case.revision).etag());
                }
            } @else { (case_code(&query.code)) }
            @if self.found.monitors { span.quiet { "centre " (row.centre) } }
        };
        let question = html! {
            p.of-field {
                b { (label(query.field.as_deref())) }
                @if let Some(value) = &value { ", " span.one-line { (value) } }
            }
            (query_thread(query, self.found.now))
            @if let Some(sentence) = said { p.message.hard { b { "Not done." } " " (sentence) } }
        };
        let verb = match (&query.stage, self.found.monitors) {
            (Stage::Open { .. }, false) => Link::new(field_of(row), "Answer"),
            (Stage::Answered { .. }, true) => Link::new(format!("/queries/{}", query.id), "Judge"),
            _ => Link::new(format!("/queries/{}", query.id), "Show"),
        };
        Ok([
            Cell::shown(head),
            Cell::shown(question),
            Cell::text(age(query.raised_at, self.found.now)),
            Cell::shown(html! { a href=(verb.to) { (verb.says) span.unseen { ": " (query.code) } } }),
        ])
    }

    /// What is done with the rows that are ticked.
    fn at_once(&self) -> Markup {
        let refused = self.sitting.sentence_refused();
        let (label, hint) = if self.found.monitors {
            (
                "A sentence for every ticked row",
                "Accepting needs none; opening again says what is still to answer.",
            )
        } else {
            (
                "One sentence for every ticked row",
                "It stands as the answer, and as the reason where a unit is changed.",
            )
        };
        let (send, does, further) = if self.found.monitors {
            ("Accept", "accept", self.reopen())
        } else {
            ("It is right", "answer", self.unit())
        };
        html! {
            div.at-once {
                label.label for="sentence" { (label) }
                textarea.input id="sentence" name="sentence" rows="2" aria-invalid=[refused.map(|_| "true")]
                    aria-describedby="sentence-note" { (self.sitting.sentence()) }
                @if let Some(sentence) = refused { p.message.hard { b { "Must be mended." } " " (sentence) } }
                p.small id="sentence-note" { (hint) " Each row passes its own check; what is refused is told, the rest is kept." }
            }
            (FormFoot { next: None, send, does: Some(does), further, aside: html! {} })
        }
    }

    fn reopen(&self) -> Markup {
        html! { button.button type="submit" name="do" value="reopen" { "Open again" } }
    }

    /// "All of these were typed in another unit."
    fn unit(&self) -> Markup {
        let Some(about) = About::of(Some(&self.asked.field)) else { return html! {} };
        let Kind::Quantity(dimension) = about.variable.kind else { return html! {} };
        html! {
            label for="unit" { "or all were typed in" }
            select.select id="unit" name="unit" {
                option value="" {}
                @for unit in dimension.units {
                    option value=(unit.ucum) selected[unit.ucum == self.sitting.unit()] { (unit.label) }
                }
            }
            button.button type="submit" name="do" value="unit" { "Change the unit" }
        }
    }

    fn ageing(&self) -> Markup {
        let days = |days: f64| if days == 1.0 { "1 day".to_owned() } else { format!("{days} days") };
        let table = Table {
            caption: "Open questions by centre".to_owned(),
            columns: [Column::words("Centre"), Column::numbers("Open"), Column::numbers("Median age")],
            rows: self
                .found
                .ageing
                .iter()
                .map(|one| {
                    let address = Asked {
                        centre: one.centre.to_string(),
                        state: "open".to_owned(),
                        ..Asked::default()
                    };
                    [
                        Cell::shown(html! { a href=(address.address("")) { (one.centre) } }),
                        Cell::text(one.open),
                        Cell::text(days(one.median_days)),
                    ]
                })
                .collect(),
        };
        html! { section { (table) } }
    }
}

/// What asks, as the address says it.
fn origin_code(origin: &Origin) -> String {
    match origin {
        Origin::Rule(rule) => rule.clone(),
        Origin::Manual => BY_MONITOR.to_owned(),
    }
}

fn origin_words(origin: &Origin) -> String {
    match origin {
        Origin::Rule(rule) => format!("rule: {}", rule.replace('_', " ")),
        Origin::Manual => "a monitor".to_owned(),
    }
}
