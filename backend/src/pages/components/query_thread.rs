//! A question with its answer and how it was settled.

use maud::{Markup, html};
use quietbeam_schema::data_query::{Answer, Closing, DataQuery, Origin, Reopened, Stage};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::instant::Instant;

use crate::pages::words::age;

/// The thread, read on `now`.
pub(crate) fn query_thread(query: &DataQuery, now: Instant) -> Markup {
    let asker = match query.origin {
        Origin::Rule(_) => "raised by a rule",
        Origin::Manual => "raised by a monitor",
    };
    html! {
        div.thread id={ "query-" (query.id) } {
            p { (query.sentence) }
            p.small { (asker) ", " (ago(query.raised_at, now)) }
            @match &query.stage {
                Stage::Open { again: None } => {},
                Stage::Open { again: Some(again) } => (reopened(again, &query.code, now)),
                Stage::Answered { answer: said } => (answer(said, &query.code, now)),
                Stage::Closed { answer: said, at, why, .. } => {
                    @if let Some(said) = said { (answer(said, &query.code, now)) }
                    @if let Closing::AnswerAcceptedSaying(sentence) = why { p { (sentence) } }
                    p.closed { (closing(why)) " " (ago(*at, now)) "." }
                },
            }
        }
    }
}

fn answer(answer: &Answer, code: &CaseCode, now: Instant) -> Markup {
    html! {
        p { (answer.text) }
        p.small {
            "answered by the centre, " (ago(answer.at, now))
            @if let Some(revision) = answer.revision {
                "; " a href={ "/cases/" (code) "/history#revision-" (revision) } { "the value was changed" }
            }
        }
    }
}

fn reopened(again: &Reopened, code: &CaseCode, now: Instant) -> Markup {
    html! {
        @if let Some(said) = &again.answer { (answer(said, code, now)) }
        p { (again.sentence) }
        p.small { "opened again by a monitor, " (ago(again.at, now)) }
    }
}

fn closing(why: &Closing) -> String {
    match why {
        Closing::AnswerAccepted | Closing::AnswerAcceptedSaying(_) => "Answer accepted".to_owned(),
        Closing::RulePasses => "Closed by the rule, which now passes,".to_owned(),
        Closing::TakenBack(reason) => format!("Taken back ({reason})"),
    }
}

fn ago(then: Instant, now: Instant) -> String {
    let age = age(then, now);
    if age.ends_with("days") { format!("{age} ago") } else { age }
}
