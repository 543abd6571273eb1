//! One question: its whole thread, what stands in its field, and what can be done with it.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, Render, html};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::data_query::Stage;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::EntryField;
use quietbeam_schema::ids::DataQueryId;
use quietbeam_schema::instant::Instant;

use super::deed::{Deed, Refusal};
use crate::access::Permit;
use crate::access::action::{AnswerQuery, CloseQuery, ListQueries};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::brought::Part as PathPart;
use crate::pages::about::{About, label};
use crate::pages::components::{
    Control, FieldId, FieldRow, Lines, State, Word, case_code, error_summary, query_thread,
};
use crate::pages::desk::field_of;
use crate::pages::entry::field::{Beside, field_row};
use crate::pages::entry::posted::part;
use crate::pages::form::{Posted, unreadable};
use crate::pages::frame::{Frame, Page, Visit, may, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::queries::Mend;
use crate::registry::{IfMatch, Version, cases};
use crate::store::{QueryRow, Store, StoreError};

#[get("/queries/{id}")]
pub(in crate::pages) async fn one(
    permit: Permit<ListQueries>,
    visit: Visit,
    id: PathPart<DataQueryId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::read(permit, id.0, &store).await?;
    let frame = visit.frame(&store).await?;
    Ok(frame.show(&page(&frame, visit.signed()?, &asked, None)))
}

#[post("/queries/{id}")]
pub(in crate::pages) async fn send(
    permit: Permit<ListQueries>,
    visit: Visit,
    id: PathPart<DataQueryId>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::read(permit, id.0, &store).await?;
    let caller = visit.signed()?;
    let refusal = match asked.deed(&posted)?.perform(caller, &store, id.0).await? {
        Ok(row) if may::<AnswerQuery>(caller) => return Ok(see_other(&field_of(&row))),
        Ok(row) => return Ok(see_other(&format!("/queries/{}", row.query.id))),
        Err(refusal) => refusal,
    };
    let does = posted.one("do").to_owned();
    let troubles = match (refusal, asked.about) {
        (Refusal::Sentence(sentence), _) => Troubles::with(&format!("{does}-sentence"), sentence),
        (Refusal::Row(sentence), Some(about)) if does == "change" => {
            Troubles::with(about.id().as_str(), sentence)
        }
        (Refusal::Row(sentence), _) => Troubles::with(&format!("{does}-sentence"), sentence),
    };
    asked.take_typed(&posted);
    let sent = Sent { does, sentence: posted.one("sentence").to_owned(), troubles };
    let frame = visit.frame(&store).await?;
    Ok(frame.refuse(&page(&frame, caller, &asked, Some(&sent))))
}

/// The question with the case that it is about.
struct Asked {
    row: QueryRow,
    about: Option<About>,
    form: CaseForm,
    revision: i64,
    now: Instant,
}

/// What was sent and refused.
struct Sent {
    does: String,
    sentence: String,
    troubles: Troubles,
}

impl Asked {
    async fn read(permit: Permit<ListQueries>, id: DataQueryId, store: &Store) -> Result<Self, Problem> {
        let read = store.read(permit, move |session| {
            let row = session.find_query(id)?;
            let case = session.current_case(row.query.code)?;
            Ok::<_, StoreError>(Self {
                about: About::of(row.query.field.as_deref()),
                form: cases::form_of(&case)?,
                revision: case.revision,
                now: session.now(),
                row,
            })
        });
        Ok(read.await?)
    }

    /// What the form wants done.
    fn deed(&self, posted: &Posted) -> Result<Deed, Problem> {
        let sentence = posted.one("sentence").to_owned();
        Ok(match posted.one("do") {
            "answer" => Deed::Answer(sentence),
            "accept" => Deed::Accept(sentence),
            "reopen" => Deed::Reopen(sentence),
            "take-back" => Deed::TakeBack(sentence),
            "change" => {
                let read = IfMatch::parse(posted.one("read")).ok_or_else(unreadable)?;
                let about = self.about.ok_or_else(unreadable)?;
                let typed = part(posted, about.part, vec![about.variable]);
                let unit = about.variable.unit_key().and_then(|key| typed.given(&key).map(str::to_owned));
                let text = typed.given(about.variable.key).unwrap_or_default().to_owned();
                Deed::Change { read, mend: Mend::Value { text, unit }, because: sentence }
            }
            _ => return Err(unreadable()),
        })
    }

    /// What was typed stands in the field again.
    fn take_typed(&mut self, posted: &Posted) {
        let Some(about) = self.about else { return };
        let Some(entries) = self.form.part_mut(about.part) else { return };
        let typed = part(posted, about.part, vec![about.variable]);
        typed.iter().for_each(|(key, text)| entries.put(key, text));
    }
}

fn page(frame: &Frame, caller: &Caller, asked: &Asked, sent: Option<&Sent>) -> Page {
    let row = &asked.row;
    let content = html! {
        @if let Some(sent) = sent { (error_summary(&sent.troubles, "it is taken")) }
        div.title {
            div {
                h1 { "Question about case " (case_code(&row.query.code)) }
                p.quiet { (label(row.query.field.as_deref())) " · centre " (row.centre) }
            }
            a href=(field_of(row)) { "The field in its case" }
        }
        section.sheet.question {
            @if let Some(about) = asked.about {
                p { (about.label()) ": " b { (about.value(&asked.form).as_deref().unwrap_or("empty")) } }
            }
            (query_thread(&row.query, asked.now))
        }
        (Forms { frame, caller, asked, sent })
    };
    Page { title: format!("Question about {}", row.query.code), word: Some(Word::DataQueries), content }
}

struct Forms<'a> {
    frame: &'a Frame,
    caller: &'a Caller,
    asked: &'a Asked,
    sent: Option<&'a Sent>,
}

/// A form with one sentence.
struct Step {
    does: &'static str,
    heading: &'static str,
    label: &'static str,
    second: Option<&'static str>,
    button: &'static str,
    main: bool,
}

const ANSWER: Step = Step {
    does: "answer",
    heading: "It is right",
    label: "It is right, because",
    second: None,
    button: "Send the answer",
    main: true,
};
const ACCEPT: Step = Step {
    does: "accept",
    heading: "The answer will do",
    label: "A sentence with it",
    second: Some("may stay empty"),
    button: "Accept the answer",
    main: true,
};
const REOPEN: Step = Step {
    does: "reopen",
    heading: "The answer will not do",
    label: "What is still to answer",
    second: None,
    button: "Open it again",
    main: false,
};
const TAKE_BACK: Step = Step {
    does: "take-back",
    heading: "The question is not needed",
    label: "Why it is taken back",
    second: None,
    button: "Take it back",
    main: false,
};

impl Render for Forms<'_> {
    fn render(&self) -> Markup {
        let (answers, closes) = (may::<AnswerQuery>(self.caller), may::<CloseQuery>(self.caller));
        html! {
            @match (&self.asked.row.query.stage, answers, closes) {
                (Stage::Open { .. } | Stage::Answered { .. }, true, _) => { (self.step(&ANSWER)) (self.change()) },
                (Stage::Answered { .. }, _, true) => { (self.step(&ACCEPT)) (self.step(&REOPEN)) },
                (Stage::Open { .. }, _, true) => (self.step(&TAKE_BACK)),
                (Stage::Closed { .. }, _, true) => (self.step(&REOPEN)),
                _ => {},
            }
        }
    }
}

impl Forms<'_> {
    /// What was sent by this form, if it was this one.
    fn sent(&self, does: &str) -> Option<&Sent> {
        self.sent.filter(|sent| sent.does == does)
    }

    fn state(&self, does: &str, id: &FieldId) -> State {
        self.sent(does).map_or(State::Quiet, |sent| sent.troubles.state(id))
    }

    fn sentence(&self, does: &str, label: &str, second: Option<&str>) -> Markup {
        let id = FieldId::of(&format!("{does}-sentence"));
        let value = self.sent(does).map_or("", |sent| &sent.sentence);
        let control = Control::Lines(Lines { name: "sentence", value });
        let state = self.state(does, &id);
        FieldRow { id, label, second, control, state, note: None, help: None }.render()
    }

    fn step(&self, step: &Step) -> Markup {
        html! {
            form.step method="post" action={ "/queries/" (self.asked.row.query.id) } {
                (self.frame.token())
                h2 { (step.heading) }
                div.fields { (self.sentence(step.does, step.label, step.second)) }
                button.button.main[step.main] type="submit" name="do" value=(step.does) { (step.button) }
            }
        }
    }

    /// Another value, with why: a change of the case like any other.
    fn change(&self) -> Markup {
        let Some(about) = self.asked.about else { return html! {} };
        let nothing = Entries::default();
        let entries = self.asked.form.part(about.part).unwrap_or(&nothing);
        let state = self.state("change", &about.id());
        let field = EntryField { variable: about.variable, part: about.part };
        html! {
            form.step id="change" method="post" action={ "/queries/" (self.asked.row.query.id) } {
                (self.frame.token())
                input type="hidden" name="read" value=(Version::of_revision(self.asked.revision).etag());
                h2 { "Change it" }
                div.fields {
                    (field_row(field, entries, state, Beside::default()))
                    (self.sentence("change", "Why it changes", Some("stands in the history")))
                }
                button.button type="submit" name="do" value="change" { "Change the value" }
            }
        }
    }
}
