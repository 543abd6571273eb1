//! A monitor asks about a field of a case, or about the case as a whole.

use actix_web::{HttpResponse, get, post, web};
use maud::{Render, html};
use quietbeam_schema::ids::CaseCode;
use serde::Deserialize;

use crate::access::Permit;
use crate::access::action::{RaiseQuery, ReadCase};
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::pages::about::label;
use crate::pages::components::{Control, FieldId, FieldRow, Lines, State, Word, case_code, error_summary};
use crate::pages::desk::field_of;
use crate::pages::form::Form;
use crate::pages::frame::{Frame, Page, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::queries;
use crate::store::{Question, Store};

/// What is asked about; nothing is the case as a whole.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Field {
    field: Option<String>,
}

/// What the form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Asking {
    field: String,
    sentence: String,
}

#[get("/cases/{code}/ask")]
pub(in crate::pages) async fn asking_page(
    _permit: Permit<RaiseQuery>,
    visit: Visit,
    code: Part<CaseCode>,
    field: Query<Field>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let permit = visit.signed()?.permit::<ReadCase>()?;
    let code = code.0;
    store.read(permit, move |session| session.current_case(code).map(|_| ())).await.map_err(Problem::from)?;
    let frame = visit.frame(&store).await?;
    let asking = Asking { field: field.0.field.unwrap_or_default(), sentence: String::new() };
    Ok(frame.show(&page(&frame, code, &asking, None)))
}

#[post("/cases/{code}/ask")]
pub(in crate::pages) async fn ask(
    permit: Permit<RaiseQuery>,
    visit: Visit,
    code: Part<CaseCode>,
    form: Form<Asking>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (code, asking) = (code.0, form.0);
    let field = Some(asking.field.clone()).filter(|field| !field.is_empty());
    let question = Question { code, field, sentence: asking.sentence.clone() };
    match store.write(permit, move |session| queries::raise(session, question)).await {
        Ok(row) => Ok(see_other(&field_of(&row))),
        Err(error) => {
            let troubles = Troubles::of(error)?;
            let frame = visit.frame(&store).await?;
            Ok(frame.refuse(&page(&frame, code, &asking, Some(&troubles))))
        }
    }
}

fn page(frame: &Frame, code: CaseCode, asking: &Asking, troubles: Option<&Troubles>) -> Page {
    let id = FieldId::of("sentence");
    let about = label(Some(asking.field.as_str()).filter(|field| !field.is_empty()));
    let row = FieldRow {
        state: troubles.map_or(State::Quiet, |troubles| troubles.state(&id)),
        id,
        label: "The question",
        second: Some("names nobody"),
        control: Control::Lines(Lines { name: "sentence", value: &asking.sentence }),
        note: Some(html! { "Say what seems odd and how it could be mended. It blocks nothing." }),
        help: None,
    };
    let content = html! {
        @if let Some(troubles) = troubles { (error_summary(troubles, "the question is asked")) }
        div.title {
            div { h1 { "Ask about case " (case_code(&code)) } p.quiet { (about) } }
            a href={ "/cases/" (code) } { "The case" }
        }
        form.step method="post" action={ "/cases/" (code) "/ask" } {
            (frame.token())
            input type="hidden" name="field" value=(asking.field);
            div.fields { (row.render()) }
            button.button.main type="submit" { "Ask the centre" }
        }
    };
    Page { title: format!("Ask about {code}"), word: Some(Word::DataQueries), content }
}
