//! Answering a question where it is asked: at the field on the case's page.

use actix_web::{HttpResponse, post, web};
use maud::{Markup, html};
use quietbeam_schema::data_query::{DataQuery, Stage};
use quietbeam_schema::ids::{CaseCode, DataQueryId};
use serde::Deserialize;

use super::page;
use crate::access::Permit;
use crate::access::action::{AnswerQuery, ReadCase};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{FieldId, State, error_summary};
use crate::pages::desk::field_of;
use crate::pages::form::Form;
use crate::pages::frame::{Frame, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::queries;
use crate::store::Store;

/// What the form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Answer {
    query: DataQueryId,
    answer: String,
}

#[post("/cases/{code}")]
pub(in crate::pages) async fn answer(
    permit: Permit<AnswerQuery>,
    visit: Visit,
    code: Part<CaseCode>,
    form: Form<Answer>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let Answer { query, answer } = form.0;
    let typed = answer.clone();
    let refused = match store.write(permit, move |session| queries::answer(session, query, &typed)).await {
        Ok(row) => return Ok(see_other(&field_of(&row))),
        Err(error) => Refused { query, answer, troubles: Troubles::of(error)?.of_one(&query.to_string()) },
    };
    let frame = visit.frame(&store).await?;
    let answering = Answering { refused: Some(refused), ..Answering::new(&frame, code.0) };
    let permit = visit.signed()?.permit::<ReadCase>()?;
    let page = page(permit, &visit, (code.0, Some(answering)), &store).await?;
    Ok(frame.refuse(&page))
}

/// What forms to answer need, and what became of the last one.
pub(super) struct Answering {
    token: Markup,
    code: CaseCode,
    refused: Option<Refused>,
}

struct Refused {
    query: DataQueryId,
    answer: String,
    troubles: Troubles,
}

impl Answering {
    /// Nothing was sent yet.
    pub(super) fn new(frame: &Frame, code: CaseCode) -> Self {
        Self { token: frame.token(), code, refused: None }
    }

    /// What must be mended in the answer that was refused.
    pub(super) fn summary(&self) -> Markup {
        html! {
            @if let Some(refused) = &self.refused { (error_summary(&refused.troubles, "the answer is kept")) }
        }
    }

    /// The form under an open question.
    pub(super) fn form(&self, query: &DataQuery) -> Markup {
        let id = FieldId::of(&format!("answer-{}", query.id));
        let refused = self.refused.as_ref().filter(|refused| refused.query == query.id);
        let said = match refused.map(|refused| refused.troubles.state(&id)) {
            Some(State::MustBeMended { sentence, .. }) => Some(sentence),
            _ => None,
        };
        let message = format!("{}-message", id.as_str());
        html! {
            @if matches!(query.stage, Stage::Open { .. }) {
                form.answer method="post" action={ "/cases/" (self.code) } {
                    (self.token)
                    input type="hidden" name="query" value=(query.id);
                    label.label for=(id) { "It is right, because" }
                    textarea.input id=(id) name="answer" rows="2" required aria-invalid=[said.as_ref().map(|_| "true")]
                        aria-describedby=[said.as_ref().map(|_| &message)] { (refused.map_or("", |refused| &refused.answer)) }
                    @if let Some(sentence) = &said {
                        p.message.hard id=(message) { b { "Must be mended." } " " (sentence) }
                    }
                    div.mends {
                        button.button type="submit" { "Send the answer" }
                        @if query.field.is_some() { a.button href={ "/queries/" (query.id) "#change" } { "Change it" } }
                    }
                }
            }
        }
    }
}
