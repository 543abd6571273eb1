//! Files that are looked through first: what was found is read, answered or mended here, and
//! nothing is stored before that is asked for.

use actix_multipart::Multipart;
use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, delete, get, post, web};
use quietbeam_schema::finding::Weight;
use quietbeam_schema::ids::{CentreCode, ImportJobId};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::brought::{Body, IdempotencyKey, Part, Query};
use super::caller::{Signed, one_centre};
use super::imports::{ImportForm, receive, unreadable};
use super::once::{Creation, Made};
use super::problem::{Problem, ProblemError};
use crate::access::Permit;
use crate::access::action::ImportFiles;
use crate::intake::FileLayout;
use crate::registry::IfMatch;
use crate::registry::imports::Wanted;
use crate::registry::imports::brought::{Brought, Unfit};
use crate::registry::imports::jobs::{self, Answers, Failure, Job, Stage, ToDo};
use crate::registry::imports::preview::Preview;
use crate::store::Store;
use crate::worker::Worker;

/// Whose files they are.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct JobQuery {
    /// The centre; may be left out by members of one centre.
    #[param(value_type = Option<String>)]
    centre: Option<CentreCode>,
}

/// A file of a job.
#[derive(Serialize, ToSchema)]
struct JobFileView {
    /// `cases`, `complications` or `follow_ups`.
    kind: String,
    /// Its name, unless that could point to a person.
    name: String,
    /// Its rows.
    rows: u64,
    /// Headers of columns for which the record has no field, until they were left out.
    without_field: Vec<String>,
}

impl From<&FileLayout> for JobFileView {
    fn from(file: &FileLayout) -> Self {
        Self {
            kind: file.kind.to_string(),
            name: file.name.clone(),
            rows: file.rows,
            without_field: file.without_field.clone(),
        }
    }
}

/// An import under way. It is gone after one day.
#[derive(Serialize, ToSchema)]
pub(super) struct JobView {
    /// Its identifier.
    id: String,
    /// The centre.
    centre: String,
    /// `checking`, `checked`, `storing`, `stored` or `failed`. What is checked waits for an answer.
    stage: &'static str,
    /// Rows of all files.
    rows: u64,
    /// Rows that the present stage has done.
    rows_done: u64,
    /// The files.
    files: Vec<JobFileView>,
    /// Who brought them in, or asked that they be stored.
    by: String,
    /// When it was begun, UTC.
    begun_at: String,
    /// When it is gone, UTC.
    ends_at: String,
    /// Once it is checked, and not in a list: how the cases divide, the one `question` about a
    /// unit that comes first, and in `groups` what must be mended or answered.
    #[schema(value_type = Option<Object>)]
    found: Option<Preview>,
    /// Once it is stored: the receipt.
    receipt: Option<String>,
    /// Once it is stored: whether these very files had come before, so that nothing changed now.
    came_before: Option<bool>,
    /// Once it failed: `given_up` after three attempts, or `not_allowed` any more.
    #[schema(value_type = Option<String>)]
    failure: Option<Failure>,
}

impl From<Job> for JobView {
    fn from(job: Job) -> Self {
        let Job { row, files, stage } = job;
        let mut view = Self {
            id: row.id.to_string(),
            centre: row.centre.to_string(),
            stage: "checking",
            rows: row.rows_all.unsigned_abs(),
            rows_done: row.rows_done.unsigned_abs(),
            files: files.iter().map(JobFileView::from).collect(),
            by: row.actor.to_string(),
            begun_at: row.begun_at.to_string(),
            ends_at: row.ends_at.to_string(),
            found: None,
            receipt: None,
            came_before: None,
            failure: None,
        };
        match stage {
            Stage::Checking => {}
            Stage::Checked(preview) => (view.stage, view.found) = ("checked", Some(*preview)),
            Stage::Storing => view.stage = "storing",
            Stage::Stored(stored) => {
                view.stage = "stored";
                (view.receipt, view.came_before) = (Some(stored.receipt.to_string()), Some(stored.before));
            }
            Stage::Failed(why) => (view.stage, view.failure) = ("failed", Some(why)),
        }
        view
    }
}

/// Imports under way.
#[derive(Serialize, ToSchema)]
pub(super) struct JobsView {
    /// Those within reach, newest first, without what was found.
    items: Vec<JobView>,
}

/// What is answered or mended in the files.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct AnswersBody {
    /// The unit of the column that the question is about.
    unit: Option<String>,
    /// Whether columns without a field are left out.
    #[serde(default)]
    leave_out: bool,
    /// Texts for cells that must be mended or answered.
    #[serde(default)]
    mends: Vec<MendBody>,
}

/// A text for the cell of a group, in all its rows.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct MendBody {
    /// The place of the group in `found.groups`, counted from 0.
    group: usize,
    /// What is to stand there.
    text: String,
}

/// What is to be stored.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StoreBody {
    /// Store the rows that can be taken and leave the others; otherwise it is all or nothing.
    #[serde(default)]
    accept_good_rows: bool,
}

/// Has a job worked on: by its holder now, or by the worker of the server.
pub(crate) async fn take_up(worker: &web::Data<Worker>, to_do: ToDo) -> Result<(), Problem> {
    let ToDo { id, holder: Some(holder) } = to_do else {
        worker.call();
        return Ok(());
    };
    let worker = worker.clone();
    let worked = web::block(move || worker.work_on(id, &holder)).await.map_err(|_| Problem::busy())?;
    // The job stays as it is, and the worker tries again; reading it says how far it is.
    if let Err(error) = worked {
        tracing::warn!(%error, "an import could not be worked on at once");
    }
    Ok(())
}

/// Bring in files to be looked through; nothing of them is stored before that is asked for.
/// What could point to a person is not kept.
#[utoipa::path(tag = "Imports under way", params(JobQuery),
    request_body(content = ImportForm, content_type = "multipart/form-data"),
    responses((status = 201, body = JobView)))]
#[post("/import-jobs")]
pub(super) async fn begin(
    permit: Permit<ImportFiles>,
    signed: Signed,
    (key, query): (IdempotencyKey, Query<JobQuery>),
    form: Result<Multipart, actix_web::Error>,
    (store, worker): (web::Data<Store>, web::Data<Worker>),
) -> Result<HttpResponse, Problem> {
    let centre = one_centre(signed.caller()?, query.0.centre)?;
    let received = receive(form).await?;
    let brought = web::block(move || Brought::of(centre, &received.sent()));
    let brought = brought.await.map_err(|_| Problem::busy())?.map_err(unreadable)?.map_err(refused)?;
    let creation = Creation::new("POST /import-jobs", key, &centre.to_string(), &brought.files_hash);
    let holder = worker.holder_of(signed.request_id());
    let (told, to_do) = std::sync::mpsc::sync_channel(1);
    let made = creation.make(&store, permit, move |session| {
        let begun = jobs::begin(session, &brought, Some(&holder))?;
        let job = jobs::read(session, begun.id)?;
        let location = format!("/api/v1/import-jobs/{}", begun.id);
        // Only what was made now is to be done; a repetition is answered and no more.
        let _ = told.send(begun);
        Ok(Made { location, version: Some(job.version()), view: JobView::from(job) })
    });
    let made = made.await?;
    if let Ok(to_do) = to_do.try_recv() {
        take_up(&worker, to_do).await?;
    }
    Ok(made)
}

fn refused(unfit: Vec<Unfit>) -> Problem {
    let error = |Unfit { kind, sentence }: Unfit| ProblemError {
        pointer: format!("/{kind}"),
        rule: "file".to_owned(),
        weight: Weight::Hard,
        sentence,
    };
    Problem::mend(unfit.into_iter().map(error).collect())
}

/// The imports under way within reach.
#[utoipa::path(tag = "Imports under way", responses((status = 200, body = JobsView)))]
#[get("/import-jobs")]
pub(super) async fn list(
    permit: Permit<ImportFiles>,
    (store, worker): (web::Data<Store>, web::Data<Worker>),
) -> Result<HttpResponse, Problem> {
    let progress = worker.progress();
    let jobs = store.read(permit, jobs::list).await?;
    let view = |job| JobView { found: None, ..JobView::from(progress.of(job)) };
    let items = jobs.into_iter().map(view).collect();
    Ok(HttpResponse::Ok().json(JobsView { items }))
}

/// How far an import is, and what was found.
#[utoipa::path(tag = "Imports under way", params(("id" = String, Path)),
    responses((status = 200, body = JobView)))]
#[get("/import-jobs/{id}")]
pub(super) async fn read(
    permit: Permit<ImportFiles>,
    id: Part<ImportJobId>,
    (store, worker): (web::Data<Store>, web::Data<Worker>),
) -> Result<HttpResponse, Problem> {
    shown(permit, id.0, (&store, &worker)).await
}

async fn shown(
    permit: Permit<ImportFiles>,
    id: ImportJobId,
    (store, worker): (&Store, &Worker),
) -> Result<HttpResponse, Problem> {
    let progress = worker.progress();
    let job = store.read(permit, move |session| jobs::read(session, id)).await?;
    let job = progress.of(job);
    Ok(HttpResponse::Ok().insert_header((ETAG, job.version().etag())).json(JobView::from(job)))
}

/// Answer what is asked about the files and mend cells in them; they are looked through anew.
#[utoipa::path(tag = "Imports under way", request_body = AnswersBody,
    params(("id" = String, Path), ("If-Match" = String, Header, description = "The ETag of what was read.")),
    responses((status = 200, body = JobView)))]
#[post("/import-jobs/{id}/answers")]
pub(super) async fn answer(
    permit: Permit<ImportFiles>,
    signed: Signed,
    (id, if_match): (Part<ImportJobId>, IfMatch),
    body: Body<AnswersBody>,
    (store, worker): (web::Data<Store>, web::Data<Worker>),
) -> Result<HttpResponse, Problem> {
    let (id, holder) = (id.0, worker.holder_of(signed.request_id()));
    let AnswersBody { unit, leave_out, mends } = body.value;
    let mends = mends.into_iter().map(|mend| (mend.group, mend.text)).collect();
    let answers = Answers { unit, mends, leave_out };
    let changed = store.write(permit, move |session| {
        let version = jobs::version_read(session, id, &if_match)?;
        jobs::answer(session, id, version, &answers, Some(&holder))
    });
    if let Some(to_do) = changed.await? {
        take_up(&worker, to_do).await?;
    }
    shown(signed.caller()?.permit()?, id, (&store, &worker)).await
}

/// Store what was looked through: all of it, or the rows that can be taken.
#[utoipa::path(tag = "Imports under way", request_body = StoreBody,
    params(("id" = String, Path), ("If-Match" = String, Header, description = "The ETag of what was read.")),
    responses((status = 200, body = JobView)))]
#[post("/import-jobs/{id}/store")]
pub(super) async fn keep(
    permit: Permit<ImportFiles>,
    signed: Signed,
    (id, if_match): (Part<ImportJobId>, IfMatch),
    body: Body<StoreBody>,
    (store, worker): (web::Data<Store>, web::Data<Worker>),
) -> Result<HttpResponse, Problem> {
    let (id, holder) = (id.0, worker.holder_of(signed.request_id()));
    let wanted = if body.value.accept_good_rows { Wanted::GoodRows } else { Wanted::AllOrNothing };
    let asked = store.write(permit, move |session| {
        let version = jobs::version_read(session, id, &if_match)?;
        jobs::store(session, id, version, wanted, Some(&holder))
    });
    take_up(&worker, asked.await?).await?;
    shown(signed.caller()?.permit()?, id, (&store, &worker)).await
}

/// Throw an import away that waits or failed; nothing of it was stored.
#[utoipa::path(tag = "Imports under way", params(("id" = String, Path)), responses((status = 204)))]
#[delete("/import-jobs/{id}")]
pub(super) async fn drop_job(
    permit: Permit<ImportFiles>,
    id: Part<ImportJobId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let dropped = store.write(permit, move |session| jobs::drop_job(session, id.0));
    dropped.await?;
    Ok(HttpResponse::NoContent().finish())
}
