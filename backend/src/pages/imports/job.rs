//! One import under way: how far it is, what was found, and the answers to it.

use actix_web::http::StatusCode;
use actix_web::http::header::HeaderName;
use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_schema::ids::ImportJobId;
use serde::Deserialize;

use super::view::{Checked, heading};
use super::{download, page};
use crate::access::Permit;
use crate::access::action::ImportFiles;
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::api::dictionary::WORKBOOK;
use crate::api::import_jobs::take_up;
use crate::intake::{Encoding, FileKind, Marked, Staged, marked_workbook};
use crate::pages::components::Mark;
use crate::pages::form::Posted;
use crate::pages::frame::{Visit, answer as drawn, see_other};
use crate::registry::RegistryError;
use crate::registry::imports::jobs::{self, Answers, Failure, Job, NotYet, Stage};
use crate::registry::imports::preview::Preview;
use crate::registry::imports::{Wanted, work};
use crate::store::{Conflict, Store, StoreError};
use crate::worker::Worker;

#[get("/imports/{id}")]
pub(in crate::pages) async fn look(
    permit: Permit<ImportFiles>,
    visit: Visit,
    id: Part<ImportJobId>,
    (store, worker): (web::Data<Store>, web::Data<Worker>),
) -> Result<HttpResponse, Problem> {
    show(permit, &visit, (id.0, None), (&store, &worker)).await
}

/// The page of a job as it stands, with what was wrong with the answers to it.
async fn show(
    permit: Permit<ImportFiles>,
    visit: &Visit,
    (id, trouble): (ImportJobId, Option<&str>),
    (store, worker): (&Store, &Worker),
) -> Result<HttpResponse, Problem> {
    let progress = worker.progress();
    let job = progress.of(store.read(permit, move |session| jobs::read(session, id)).await?);
    let frame = visit.frame(store).await?;
    let name = job.files.first().map_or_else(|| "Files".to_owned(), |file| file.name.clone());
    let content = match &job.stage {
        Stage::Stored(stored) => {
            let before = if stored.before { "?before=true" } else { "?now=true" };
            return Ok(see_other(&format!("/imports/receipts/{}{before}", stored.receipt)));
        }
        Stage::Checking => under_way(&job, "It is being looked through", "Nothing is stored yet."),
        Stage::Storing => {
            under_way(&job, "It is being stored", "All of it becomes visible at once, at the end.")
        }
        Stage::Failed(why) => came_to_nothing(&job, *why),
        Stage::Checked(preview) => {
            let checked = Checked { frame: &frame, job: &job, preview, trouble };
            let page = page(&name, html! { (checked) });
            return Ok(match trouble {
                None => frame.show(&page),
                Some(_) => frame.refuse(&page),
            });
        }
    };
    let mut answer = drawn(StatusCode::OK, frame.draw(&page(&name, content)));
    if matches!(job.stage, Stage::Checking | Stage::Storing) {
        // Without script the page itself comes again.
        let seconds = actix_web::http::header::HeaderValue::from_static("3");
        answer.headers_mut().insert(HeaderName::from_static("refresh"), seconds);
    }
    Ok(answer)
}

fn under_way(job: &Job, what: &str, meaning: &str) -> Markup {
    let (done, all) = (job.row.rows_done.unsigned_abs(), job.row.rows_all.unsigned_abs());
    html! {
        (heading(job, meaning))
        section.sheet.under-way {
            h2 { (what) }
            progress max=(all.max(1)) value=(done.min(all)) aria-label="Rows done" {}
            p { (count(done)) " of " (count(all)) " rows" }
            p.quiet { "You can leave this page and come back; the work goes on, also when the server is started again." }
            p { a href={ "/imports/" (job.row.id) } { "Look again" } }
        }
    }
}

fn came_to_nothing(job: &Job, why: Failure) -> Markup {
    let sentence = match why {
        Failure::GivenUp => {
            "It was begun three times and never came to its end. The log of the server has the cause."
        }
        Failure::NotAllowed => "Whoever asked for it may no longer bring in files.",
    };
    html! {
        (heading(job, "Nothing is stored"))
        p.lead { (Mark::MustBeMended.shape()) " Nothing of it was stored." }
        p { (sentence) " Bring the file in again." }
        p { a.button href="/imports" { "Bring in a file" } }
    }
}

#[post("/imports/{id}")]
pub(in crate::pages) async fn take_answers(
    permit: Permit<ImportFiles>,
    visit: Visit,
    path: Part<ImportJobId>,
    posted: Posted,
    (store, worker): (web::Data<Store>, web::Data<Worker>),
) -> Result<HttpResponse, Problem> {
    let id = path.0;
    let asked = posted.one("do").to_owned();
    if asked == "drop" {
        store.write(permit, move |session| jobs::drop_job(session, id)).await?;
        return Ok(see_other("/imports"));
    }
    let version: i64 = posted.one("version").parse().unwrap_or(0);
    let answers = answers(&posted);
    let name = worker.holder_of(visit.request_id());
    let done = store
        .write(permit, move |session| {
            if let Some(changed) = jobs::answer(session, id, version, &answers, Some(&name))? {
                return Ok::<_, RegistryError>(Some(changed));
            }
            let wanted = match asked.as_str() {
                "store" => Wanted::AllOrNothing,
                "store_good" => Wanted::GoodRows,
                _ => return Ok(None),
            };
            jobs::store(session, id, version, wanted, Some(&name)).map(Some)
        })
        .await;
    let again = visit.signed()?.permit::<ImportFiles>()?;
    match done {
        Ok(to_do) => {
            if let Some(to_do) = to_do {
                take_up(&worker, to_do).await?;
            }
            Ok(see_other(&format!("/imports/{id}")))
        }
        Err(
            RegistryError::NotYet(NotYet::NotAsked)
            | RegistryError::Store(StoreError::Conflict(Conflict::StaleRevision { .. })),
        ) => {
            let sentence = "Somebody else answered meanwhile. This is how it stands now.";
            show(again, &visit, (id, Some(sentence)), (&store, &worker)).await
        }
        Err(RegistryError::NotYet(why)) => {
            show(again, &visit, (id, Some(&why.to_string())), (&store, &worker)).await
        }
        Err(error) => Err(error.into()),
    }
}

fn answers(posted: &Posted) -> Answers {
    let mends = posted.fields().iter().filter_map(|(name, text)| {
        let place = name.strip_prefix("mend-")?.parse().ok()?;
        Some((place, text.clone()))
    });
    let unit = posted.one("unit");
    Answers {
        unit: (!unit.is_empty()).then(|| unit.to_owned()),
        mends: mends.collect(),
        leave_out: posted.one("leave_out") == "yes",
    }
}

/// Which rows are wanted back.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(in crate::pages) struct Which {
    only_to_mend: bool,
}

/// A file with its problems marked.
#[get("/imports/{id}/marked/{kind}")]
pub(in crate::pages) async fn marked(
    permit: Permit<ImportFiles>,
    path: Part<(ImportJobId, FileKind)>,
    which: Query<Which>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (id, kind) = path.0;
    let job = store.read(permit, move |session| jobs::read(session, id)).await?;
    if !matches!(job.stage, Stage::Checked(_)) {
        return Err(Problem::absent());
    }
    let (store, row) = (store.get_ref().clone(), job.row.clone());
    let looked = web::block(move || work::marked(&store, &row)).await.map_err(|_| Problem::busy())?;
    let mut files = looked?;
    if which.0.only_to_mend {
        for (file, marks) in &mut files {
            file.keep_rows(marks).map_err(|_| Problem::broken())?;
        }
    }
    let found = files.iter().find(|(file, _)| file.layout.kind == kind).ok_or_else(Problem::absent)?;
    given_back(found, &files)
}

fn given_back((file, marks): &(Staged, Marked), all: &[(Staged, Marked)]) -> Result<HttpResponse, Problem> {
    let broken = |error: &dyn std::fmt::Display| {
        tracing::error!(%error, "a marked file cannot be written");
        Problem::broken()
    };
    let stem = file.layout.name.rsplit_once('.').map_or(file.layout.name.as_str(), |(stem, _)| stem);
    if file.layout.workbook {
        let sheets: Vec<(&Staged, Marked)> = all.iter().map(|(file, marks)| (file, marks.clone())).collect();
        let bytes = marked_workbook(&sheets).map_err(|error| broken(&error))?;
        return Ok(download(WORKBOOK, &format!("{stem}-marked.xlsx"), bytes));
    }
    let bytes = file.marked(marks).map_err(|error| broken(&error))?;
    let (media_type, ending) = match (file.layout.delimiter, file.layout.encoding) {
        ('\t', _) => ("text/tab-separated-values", "tsv"),
        (_, Encoding::Utf8) => ("text/csv; charset=utf-8", "csv"),
        (_, Encoding::Windows1252) => ("text/csv; charset=windows-1252", "csv"),
    };
    Ok(download(media_type, &format!("{stem}-marked.{ending}"), bytes))
}

/// Cases that wait for an answer before they can be stored.
pub(super) fn wait_for_unit(preview: &Preview) -> u64 {
    preview.question.as_ref().map_or(0, |question| question.rows)
}
