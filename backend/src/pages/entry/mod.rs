//! Entering a case: the intended strategy first, then a draft that is saved on the server
//! until it is sent in.

mod by_script;
mod field;
mod later;
mod posted;
mod view;

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, Render, html};
use quietbeam_schema::case::{CaseForm, MAX_COMPLICATIONS, variables_of};
use quietbeam_schema::dictionary::{Variable, column};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::{DraftCheck, check_draft};
use quietbeam_schema::finding::{Finding, Part, Weight};
use quietbeam_schema::ids::{CentreCode, DraftId};
use quietbeam_schema::vocabulary::{Coded, Strategy};

use self::by_script::ByScript;
use self::posted::{filled_in, name_of};
use self::view::{EntryView, Opening};
use crate::access::Permit;
use crate::access::action::{ReadCentres, SubmitCase};
use crate::api::Problem;
use crate::api::brought::Part as PathPart;
use crate::pages::assets::script;
use crate::pages::components::{
    Choice, Control, FieldId, FieldRow, FormFoot, Pick, Picker, State, Word, error_summary,
};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Page, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::RegistryError;
use crate::registry::drafts::{self, Draft};
use crate::store::{Conflict, Store, StoreError};

#[get("/cases/new")]
pub(super) async fn new_case(
    _permit: Permit<SubmitCase>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let content = beginning(&frame, &centres(&visit, &store).await?, None);
    Ok(frame.show(&begin_page(content)))
}

#[post("/cases/new")]
pub(super) async fn begin(
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

/// The strategy is asked before anything else, so that it can be declared before the case.
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
        @if let Some(troubles) = troubles { (error_summary(troubles, "the case can begin")) }
        div.title { h1 { "Enter a case" } }
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

#[get("/drafts/{id}")]
pub(super) async fn open(
    permit: Permit<SubmitCase>,
    visit: Visit,
    id: PathPart<DraftId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (draft, now) = store
        .read(permit, move |session| Ok::<_, RegistryError>((drafts::read(session, id.0)?, session.now())))
        .await?;
    let findings = check_draft(&draft.form, now.quarter()).findings;
    let frame = visit.frame(&store).await?;
    let findings = said_while_entering(&draft.form, findings);
    let view = EntryView {
        token: frame.token(),
        draft: draft.row,
        form: draft.form,
        findings,
        opening: Opening::Quiet,
    };
    Ok(frame.show(&entry_page(&view)))
}

fn entry_page(view: &EntryView) -> Page {
    Page { title: "Enter a case".to_owned(), word: Some(Word::Cases), content: view.render() }
}

#[post("/drafts/{id}")]
pub(super) async fn save(
    permit: Permit<SubmitCase>,
    visit: Visit,
    id: PathPart<DraftId>,
    (posted, by_script): (Posted, ByScript),
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let id = id.0;
    let asked = posted.one("do").to_owned();
    if asked == "discard" {
        store.write(permit, move |session| drafts::discard(session, id)).await?;
        return Ok(see_other("/desk"));
    }
    let version = posted.one("version").parse().unwrap_or(0);
    let mut form = filled_in(&posted);
    let anchor = rearranged(&mut form, &asked);
    let permit_again = visit.signed()?.permit::<SubmitCase>()?;
    let (entered, theirs) = (form.clone(), taken_from_elsewhere(&posted));
    let saved = store
        .write(permit, move |session| {
            let form = match theirs.is_empty() {
                true => entered,
                false => with_theirs(entered, &drafts::read(session, id)?.form, &theirs),
            };
            Ok::<_, RegistryError>((drafts::save(session, id, version, &form)?, form, session.now()))
        })
        .await;
    let (draft, form, now) = match saved {
        Ok(saved) => saved,
        Err(RegistryError::Store(StoreError::Conflict(Conflict::StaleRevision { .. }))) if !by_script.0 => {
            return overtaken(permit_again, &visit, (id, form), &store).await;
        }
        Err(error) => return Err(error.into()),
    };
    let DraftCheck { findings, .. } = check_draft(&form, now.quarter());
    if by_script.0 {
        return drawn_again(&visit, &store, (draft, form), (findings, &posted)).await;
    }
    if asked == "submit" {
        let hard = findings.iter().any(|finding| finding.weight == Weight::Hard);
        if !hard {
            let version = draft.row.version;
            let submitted =
                store.write(permit_again, move |session| drafts::submit(session, id, version)).await?;
            return Ok(see_other(&format!("/cases/{}", submitted.saved.code)));
        }
        return refused(&visit, &store, (draft, form), (at_fields(findings), Opening::NotSent)).await;
    }
    let said = said_while_entering(&form, findings);
    if said.iter().any(|finding| finding.weight == Weight::Hard) {
        return refused(&visit, &store, (draft, form), (said, Opening::NotAllKept)).await;
    }
    Ok(see_other(&format!("/drafts/{id}{anchor}")))
}

/// The answer to the script. A page whose case could not be sent in goes on saying why, until
/// it is mended.
async fn drawn_again(
    visit: &Visit,
    store: &Store,
    (draft, form): (Draft, CaseForm),
    (findings, posted): (Vec<Finding>, &Posted),
) -> Result<HttpResponse, Problem> {
    let (findings, opening) = match posted.one(view::OPENING) {
        view::NOT_SENT => (at_fields(findings), Opening::NotSent),
        _ => (said_while_entering(&form, findings), Opening::Quiet),
    };
    let token = visit.frame(store).await?.token();
    Ok(by_script::drawn(&EntryView { token, draft: draft.row, form, findings, opening }))
}

/// The fields for which the value was chosen that somebody else saved.
fn taken_from_elsewhere(posted: &Posted) -> Vec<String> {
    let chosen = posted.fields().iter().filter(|(_, side)| side == "there");
    chosen.filter_map(|(name, _)| name.strip_prefix("merge-").map(str::to_owned)).collect()
}

fn with_theirs(mut form: CaseForm, theirs: &CaseForm, names: &[String]) -> CaseForm {
    let parts = form.parts_beside(theirs);
    form.complications.resize(form.complications.len().max(theirs.complications.len()), Entries::default());
    form.follow_up.get_or_insert_default();
    for part in parts {
        let (Some(here), Some(there)) = (form.part_mut(part), theirs.part(part)) else { continue };
        let chosen =
            |variable: &&Variable| names.iter().any(|name| name == name_of(part, variable.key).as_str());
        for key in variables_of(part).into_iter().filter(chosen).flat_map(Variable::columns) {
            here.put(&key, there.given(&key).unwrap_or_default());
        }
    }
    form.complications.retain(|entries| !entries.is_blank());
    form.follow_up = form.follow_up.filter(|entries| !entries.is_blank());
    form
}

/// What is to be done with the complications, and where the page opens again.
fn rearranged(form: &mut CaseForm, asked: &str) -> String {
    if asked == "add" && form.complications.len() < MAX_COMPLICATIONS {
        form.complications.push(Entries::default());
        let at = Part::Complication(form.complications.len() - 1);
        return format!("#{}", name_of(at, "ae_code").as_str());
    }
    if let Some(at) = asked.strip_prefix("remove-").and_then(|at| at.parse::<usize>().ok())
        && at < form.complications.len()
    {
        form.complications.remove(at);
        return "#complications".to_owned();
    }
    String::new()
}

async fn refused(
    visit: &Visit,
    store: &Store,
    (draft, form): (Draft, CaseForm),
    (findings, opening): (Vec<Finding>, Opening),
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(store).await?;
    let view = EntryView { token: frame.token(), draft: draft.row, form, findings, opening };
    Ok(frame.refuse(&entry_page(&view)))
}

/// Both versions side by side; the form still holds what was typed here.
async fn overtaken(
    permit: Permit<SubmitCase>,
    visit: &Visit,
    (id, form): (DraftId, CaseForm),
    store: &Store,
) -> Result<HttpResponse, Problem> {
    let theirs = store.read(permit, move |session| drafts::read(session, id)).await?;
    let opening = Opening::Overtaken(Box::new(theirs.form.clone()));
    refused(visit, store, (theirs, form), (Vec::new(), opening)).await
}

/// While a case is entered nobody is told that the rest is still empty.
fn said_while_entering(form: &CaseForm, findings: Vec<Finding>) -> Vec<Finding> {
    let given = |finding: &Finding| {
        finding.rule != "required"
            || finding
                .places
                .iter()
                .any(|place| form.part(place.part).and_then(|entries| entries.given(&place.key)).is_some())
    };
    at_fields(findings.into_iter().filter(given).collect())
}

/// A unit has no row of its own: what is said about it is said at its quantity.
fn at_fields(mut findings: Vec<Finding>) -> Vec<Finding> {
    for place in findings.iter_mut().flat_map(|finding| &mut finding.places) {
        if let Some((variable, true)) = column(&variables_of(place.part), &place.key) {
            place.key = variable.key.to_owned();
        }
    }
    findings
}
