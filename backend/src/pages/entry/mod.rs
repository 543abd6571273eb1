//! Entering a case: the intended strategy first, then a draft that is saved on the server
//! until it is sent in.

pub(super) mod beginning;
mod by_script;
pub(super) mod field;
mod later;
pub(super) mod posted;
pub(super) mod report;
pub(super) mod sections;
mod view;

use actix_web::{HttpResponse, get, post, web};
use maud::Render;
use quietbeam_schema::case::{CaseForm, MAX_COMPLICATIONS, variables_of};
use quietbeam_schema::centre::Room;
use quietbeam_schema::dictionary::column;
use quietbeam_schema::draft::{DraftCheck, check_draft, refuses_a_value};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::finding::{Finding, Part, Weight};
use quietbeam_schema::ids::{CentreCode, DraftId};

use self::by_script::ByScript;
use self::posted::{base, choices, entered, name_of};
use self::report::Report;
use self::sections::{Sections, UNSAID};
use self::view::{EntryView, Opening, Overtaken};
use crate::access::Permit;
use crate::access::action::{ReadCentres, SubmitCase};
use crate::api::Problem;
use crate::api::brought::Part as PathPart;
use crate::api::problem::APPROVAL_EXPIRED;
use crate::pages::components::Word;
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Page, Visit, see_other};
use crate::pages::upload::Brought;
use crate::pages::words::capital;
use crate::registry::RegistryError;
use crate::registry::drafts::{self, Draft, Entered};
use crate::store::{Conflict, Store, StoreError};

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
    let findings = check_draft(&draft.entered.form, now.quarter()).findings;
    let findings = said_while_entering(&draft.entered.form, findings);
    let frame = visit.frame(&store).await?;
    let said = Said { findings, opening: Opening::Quiet, report: None };
    Ok(frame.show(&page(&frame, &visit, draft, said, &store).await?))
}

/// What a page says beside what stands in the draft.
struct Said {
    findings: Vec<Finding>,
    opening: Opening,
    report: Option<Report>,
}

async fn page(
    frame: &Frame,
    visit: &Visit,
    draft: Draft,
    said: Said,
    store: &Store,
) -> Result<Page, Problem> {
    let content = view(frame, visit, draft, said, store).await?.render();
    Ok(Page { title: "Enter a case".to_owned(), word: Some(Word::Cases), content })
}

async fn view(
    frame: &Frame,
    visit: &Visit,
    draft: Draft,
    said: Said,
    store: &Store,
) -> Result<EntryView, Problem> {
    let Said { findings, opening, report } = said;
    let Draft { row, entered: Entered { form, because }, declared } = draft;
    let sections = Sections {
        form,
        findings,
        because: Some(because),
        declared,
        rooms: rooms(visit, row.centre, store).await?,
        report,
        report_to: frame.with_token(&format!("/drafts/{}", row.id)),
    };
    Ok(EntryView { token: frame.token(), draft: row, sections, opening })
}

/// The X-ray rooms of a centre.
pub(super) async fn rooms(visit: &Visit, centre: CentreCode, store: &Store) -> Result<Vec<Room>, Problem> {
    let permit = visit.signed()?.permit::<ReadCentres>()?;
    Ok(store.read(permit, move |session| session.list_rooms(centre)).await?)
}

#[post("/drafts/{id}")]
pub(super) async fn save(
    permit: Permit<SubmitCase>,
    visit: Visit,
    id: PathPart<DraftId>,
    (brought, by_script): (Brought, ByScript),
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (id, Brought { posted, file }) = (id.0, brought);
    let asked = posted.one("do").to_owned();
    if asked == "discard" {
        store.write(permit, move |session| drafts::discard(session, id)).await?;
        return Ok(see_other("/desk"));
    }
    let mut entered = entered(&posted);
    let anchor = rearranged(&mut entered.form, &asked);
    let (base, here) = (base(&posted), entered.clone());
    let saved = store
        .write(permit, move |session| {
            Ok::<_, RegistryError>((drafts::save(session, id, &base, &here)?, session.now()))
        })
        .await;
    let (draft, now) = match saved {
        Ok(saved) => saved,
        Err(RegistryError::Store(StoreError::Conflict(Conflict::StaleRevision { expected, .. })))
            if !by_script.0 =>
        {
            return overtaken(&visit, (id, expected, entered), &posted, &store).await;
        }
        Err(error) => return Err(error.into()),
    };
    // What was typed is shown again, also where it was not kept.
    let shown = shown_again(&draft, entered, &posted);
    let DraftCheck { findings, .. } = check_draft(&shown.form, now.quarter());
    let unsaid = not_kept(&shown, &findings);
    let draft = Draft { entered: shown, ..draft };
    if by_script.0 {
        return drawn_again(&visit, &store, draft, (findings, unsaid), &posted).await;
    }
    if asked == "submit" && unsaid.is_empty() {
        if !findings.iter().any(|finding| finding.weight == Weight::Hard) {
            return submit(&visit, &draft, &store).await;
        }
        let said = Said { findings: at_fields(findings), opening: Opening::NotSent, report: None };
        return refused(&visit, draft, said, &store).await;
    }
    let mut findings = said_while_entering(&draft.entered.form, findings);
    findings.splice(0..0, unsaid);
    let report = Report::of(file).await?;
    if findings.iter().any(|found| refuses_a_value(found) || found.rule == UNSAID) || report.is_some() {
        let opening = Opening::NotAllKept;
        return refused(&visit, draft, Said { findings, opening, report }, &store).await;
    }
    Ok(see_other(&format!("/drafts/{id}{anchor}")))
}

/// The answer to the script. A page whose case could not be sent in goes on saying why, until
/// it is mended.
async fn drawn_again(
    visit: &Visit,
    store: &Store,
    draft: Draft,
    (findings, unsaid): (Vec<Finding>, Vec<Finding>),
    posted: &Posted,
) -> Result<HttpResponse, Problem> {
    let (mut findings, opening) = match posted.one(view::OPENING) {
        view::NOT_SENT => (at_fields(findings), Opening::NotSent),
        _ => (said_while_entering(&draft.entered.form, findings), Opening::Quiet),
    };
    findings.splice(0..0, unsaid);
    let frame = visit.frame(store).await?;
    let said = Said { findings, opening, report: None };
    Ok(by_script::drawn(&view(&frame, visit, draft, said, store).await?))
}

/// What the page shows after a save: after a merge what stands now, otherwise what was typed.
fn shown_again(draft: &Draft, typed: Entered, posted: &Posted) -> Entered {
    if base(posted).over.is_some() { draft.entered.clone() } else { typed }
}

/// Reasons that the registry does not keep, said at their fields.
fn not_kept(entered: &Entered, findings: &[Finding]) -> Vec<Finding> {
    let refused = |finding: &Finding| {
        let because = entered.because.iter().find(|because| because.is_about(finding))?;
        let sentence = format!("Why it is right: {}", drafts::refusal_of(because)?);
        Some(Finding { rule: UNSAID, weight: Weight::Hard, places: finding.places.clone(), sentence })
    };
    at_fields(findings.iter().filter_map(refused).collect())
}

async fn submit(visit: &Visit, draft: &Draft, store: &Store) -> Result<HttpResponse, Problem> {
    let (id, version) = (draft.row.id, draft.row.version);
    let permit = visit.signed()?.permit::<SubmitCase>()?;
    let sent = store.write(permit, move |session| drafts::submit(session, id, version)).await;
    let submitted = match sent {
        Err(RegistryError::Approval(refusal)) => {
            let sentence = capital(&format!("{refusal}. The draft is kept."));
            return Err(Problem::new(&APPROVAL_EXPIRED, sentence));
        }
        sent => sent?,
    };
    Ok(see_other(&format!("/cases/{}", submitted.saved.code)))
}

/// What is to be done with the complications, and where the page opens again.
pub(super) fn rearranged(form: &mut CaseForm, asked: &str) -> String {
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
    if asked == "take_all" { "#x_ray".to_owned() } else { String::new() }
}

async fn refused(visit: &Visit, draft: Draft, said: Said, store: &Store) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(store).await?;
    let hard = said.findings.iter().any(|finding| finding.weight == Weight::Hard);
    let refused = hard
        || matches!(said.opening, Opening::Overtaken(_))
        || matches!(said.report, Some(Report::Refused(_)));
    let page = page(&frame, visit, draft, said, store).await?;
    Ok(if refused { frame.refuse(&page) } else { frame.show(&page) })
}

/// Both versions side by side; the form still holds what was typed here.
async fn overtaken(
    visit: &Visit,
    (id, version, entered): (DraftId, i64, Entered),
    posted: &Posted,
    store: &Store,
) -> Result<HttpResponse, Problem> {
    let permit = visit.signed()?.permit::<SubmitCase>()?;
    let draft = store.read(permit, move |session| drafts::read(session, id)).await?;
    let overtaken = Overtaken { version, theirs: draft.entered.form.clone(), choices: choices(posted) };
    let said = Said { findings: Vec::new(), opening: Opening::Overtaken(Box::new(overtaken)), report: None };
    refused(visit, Draft { entered, ..draft }, said, store).await
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
pub(super) fn at_fields(mut findings: Vec<Finding>) -> Vec<Finding> {
    for place in findings.iter_mut().flat_map(|finding| &mut finding.places) {
        if let Some((variable, true)) = column(&variables_of(place.part), &place.key) {
            place.key = variable.key.to_owned();
        }
    }
    findings
}
