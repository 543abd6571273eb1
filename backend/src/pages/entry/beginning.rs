//! Beginning a case: the strategy is asked before anything else, so that it can be declared
//! before the procedure.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{Coded, Strategy};

use crate::access::Permit;
use crate::access::action::{ReadCentres, SubmitCase};
use crate::api::Problem;
use crate::pages::assets::script;
use crate::pages::components::{
    Choice, Control, FieldId, FieldRow, FormFoot, Pick, Picker, State, Word, error_summary,
};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Page, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::RegistryError;
use crate::registry::drafts;
use crate::store::{Store, StoreError};

#[get("/cases/new")]
pub(in crate::pages) async fn new_case(
    _permit: Permit<SubmitCase>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let content = beginning(&frame, &centres(&visit, &store).await?, None);
    Ok(frame.show(&begin_page(content)))
}

#[post("/cases/new")]
pub(in crate::pages) async fn begin(
    permit: Permit<SubmitCase>,
    visit: Visit,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let troubles = match Strategy::from_code(posted.one("strategy_intended")) {
        Some(strategy) => {
            let centre: Option<CentreCode> = posted.one("centre").parse().ok();
            let mut case = Entries::default();
            case.put("strategy_intended", strategy.code());
            let form = CaseForm::new(case, Vec::new(), None);
            match store.write(permit, move |session| drafts::begin(session, centre, &form)).await {
                Ok(id) => return Ok(see_other(&format!("/drafts/{id}#before"))),
                Err(RegistryError::Store(StoreError::Refused(refused))) => {
                    Troubles::with("centre", format!("Centre: {refused}."))
                }
                Err(error) => return Err(error.into()),
            }
        }
        None => Troubles::with(
            "strategy_intended",
            "Say first which strategy is intended; it is never changed to fit what happened.",
        ),
    };
    let frame = visit.frame(&store).await?;
    let content = beginning(&frame, &centres(&visit, &store).await?, Some(&troubles));
    Ok(frame.refuse(&begin_page(content)))
}

fn begin_page(content: Markup) -> Page {
    Page { title: "Enter a case".to_owned(), word: Some(Word::Cases), content }
}

async fn centres(visit: &Visit, store: &Store) -> Result<Vec<(String, String)>, Problem> {
    let permit = visit.signed()?.permit::<ReadCentres>()?;
    let centres = store.read(permit, |session| session.list_centres()).await?;
    Ok(centres.into_iter().map(|centre| (centre.code.to_string(), centre.name)).collect())
}

fn beginning(frame: &Frame, centres: &[(String, String)], troubles: Option<&Troubles>) -> Markup {
    let state = |id: &FieldId| troubles.map_or(State::Quiet, |troubles| troubles.state(id));
    let (strategy, centre) = (FieldId::of("strategy_intended"), FieldId::of("centre"));
    let picks = Strategy::LIST.codes.iter().map(Pick::of).collect();
    let strategy = FieldRow {
        state: state(&strategy),
        id: strategy,
        label: "Intended strategy",
        second: Some("decided before the case"),
        control: Control::Choice(Choice { name: "strategy_intended", picks, chosen: None }),
        note: Some(
            html! { "It defines the arm, whatever happens in the room. Fluoroscopy stays available." },
        ),
        help: None,
    };
    let several = (centres.len() > 1).then(|| FieldRow {
        state: state(&centre),
        id: centre,
        label: "Centre",
        second: None,
        control: Control::Picker(Picker {
            name: "centre",
            picks: centres.iter().map(|(code, name)| Pick::plain(code, name)).collect(),
            chosen: None,
        }),
        note: None,
        help: None,
    });
    html! {
        div.title { h1 { "Enter a case" } }
        @if let Some(troubles) = troubles { (error_summary(troubles, "the case can begin")) }
        (script("entry.js"))
        form.entry method="post" action="/cases/new" {
            (frame.token())
            div.fields { @if let Some(several) = &several { (several) } (strategy) }
            (FormFoot {
                next: None,
                send: "Begin",
                does: None,
                further: Markup::default(),
                aside: html! { "It can be begun before the procedure and finished after it." },
            })
        }
    }
}
