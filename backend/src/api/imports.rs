//! Files of a centre, sent as multipart/form-data.

use actix_multipart::{Field, Multipart};
use actix_web::{HttpResponse, get, post, web};
use futures_util::StreamExt;
use quietbeam_schema::ids::CentreCode;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::io::Write;
use std::sync::Arc;
use tempfile::NamedTempFile;
use utoipa::{IntoParams, ToSchema};

use super::brought::Query;
use super::caller::{Signed, one_centre};
use super::problem::{BAD_QUERY, BROKEN_BODY, MUST_BE_MENDED, Problem, TOO_LARGE};
use crate::access::Permit;
use crate::access::action::ImportFiles;
use crate::intake::{FileKind, Files, Limits, Source};
use crate::registry::imports::brought::Sent;
use crate::registry::imports::{Outcome, Request, Wanted, import};
use crate::store::Store;

/// How an import is to go.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct ImportQuery {
    /// The centre; may be left out by members of one centre.
    #[param(value_type = Option<String>)]
    centre: Option<CentreCode>,
    /// Only say what would be done.
    #[serde(default)]
    dry_run: bool,
    /// Store the rows that can be taken and leave the others.
    #[serde(default)]
    accept_good_rows: bool,
}

/// The three files, each a part of the form under its own name.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct ImportForm {
    /// One row a case.
    #[schema(value_type = Option<String>, format = Binary)]
    cases: Option<Vec<u8>>,
    /// One row a complication.
    #[schema(value_type = Option<String>, format = Binary)]
    complications: Option<Vec<u8>>,
    /// One row a follow-up.
    #[schema(value_type = Option<String>, format = Binary)]
    follow_ups: Option<Vec<u8>>,
    /// Instead of the three: a workbook (.xlsx or .ods) with a sheet for each.
    #[schema(value_type = Option<String>, format = Binary)]
    workbook: Option<Vec<u8>>,
}

/// The receipt of an import.
#[derive(Serialize, ToSchema)]
pub(super) struct ReceiptView {
    /// Its identifier.
    id: String,
    /// The centre.
    centre: String,
    /// SHA-256 over the files.
    files_hash: String,
    /// Who imported.
    by: String,
    /// When, UTC.
    at: String,
    /// Counts, and the codes issued for rows without one.
    #[schema(value_type = Object)]
    content: Value,
}

/// Receipts.
#[derive(Serialize, ToSchema)]
pub(super) struct ReceiptsView {
    /// The newest 200 within reach.
    items: Vec<ReceiptView>,
}

/// Import files of cases, complications and follow-ups. The same files again
/// change nothing, so this needs no Idempotency-Key.
#[utoipa::path(tag = "Imports", params(ImportQuery),
    request_body(content = ImportForm, content_type = "multipart/form-data"),
    responses((status = 200, body = Object)))]
#[post("/imports")]
pub(super) async fn create(
    permit: Permit<ImportFiles>,
    signed: Signed,
    query: Query<ImportQuery>,
    form: Result<Multipart, actix_web::Error>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let wanted = match (query.0.dry_run, query.0.accept_good_rows) {
        (true, true) => {
            return Err(Problem::new(&BAD_QUERY, "Ask for dry_run or accept_good_rows, not for both."));
        }
        (true, false) => Wanted::DryRun,
        (false, true) => Wanted::GoodRows,
        (false, false) => Wanted::AllOrNothing,
    };
    let centre = one_centre(signed.caller()?, query.0.centre)?;
    let received = receive(form).await?;
    let keep = signed.caller()?.permit::<ImportFiles>()?;
    let store = store.get_ref().clone();
    let imported = web::block(move || {
        let request = Request { centre, files: received.files()?, wanted, progress: Arc::new(|_| {}) };
        import(&store, permit, keep, request).map_err(Problem::from)
    });
    let outcome: Outcome = imported.await.map_err(|_| Problem::busy())??;
    Ok(HttpResponse::Ok().json(outcome))
}

/// The receipts of earlier imports, newest first.
#[utoipa::path(tag = "Imports", responses((status = 200, body = ReceiptsView)))]
#[get("/imports")]
pub(super) async fn list(
    permit: Permit<ImportFiles>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let receipts = store.read(permit, |session| session.list_receipts()).await?;
    let view = |receipt: crate::store::Receipt| ReceiptView {
        id: receipt.id.to_string(),
        centre: receipt.centre.to_string(),
        files_hash: receipt.files_hash,
        by: receipt.actor.to_string(),
        at: receipt.at.to_string(),
        content: receipt.content,
    };
    Ok(HttpResponse::Ok().json(ReceiptsView { items: receipts.into_iter().map(view).collect() }))
}

/// The files as they arrived, on disk so that memory does not grow with them.
#[derive(Default)]
pub(super) struct Received {
    tables: Vec<Arrived>,
    /// Whether the only one is a workbook.
    workbook: bool,
}

struct Arrived {
    kind: FileKind,
    /// What it is called where it comes from.
    given: String,
    file: NamedTempFile,
}

impl Received {
    fn files(&self) -> Result<Files, Problem> {
        if let ([workbook], true) = (self.tables.as_slice(), self.workbook) {
            let read = Files::of_workbook_at(workbook.file.path()).map_err(unreadable)?;
            return read.map_err(|trouble| Problem::new(&MUST_BE_MENDED, trouble.to_string()));
        }
        let mut files = Files::default();
        for Arrived { kind, file, .. } in &self.tables {
            files.put(*kind, Source::Path(file.path().to_owned()));
        }
        Ok(files)
    }

    /// The same, to be looked through before anything is stored.
    pub(super) fn sent(&self) -> Vec<Sent> {
        let sent = |one: &Arrived| Sent::new(one.kind, &one.given, one.file.path().to_owned());
        self.tables.iter().map(sent).collect()
    }
}

pub(crate) fn unreadable(error: std::io::Error) -> Problem {
    tracing::error!(%error, "a file that was sent cannot be kept or read");
    Problem::broken()
}

/// Receives the parts of [`ImportForm`].
pub(super) async fn receive(form: Result<Multipart, actix_web::Error>) -> Result<Received, Problem> {
    let mut form = form.map_err(|_| broken())?;
    let mut received = Received::default();
    while let Some(field) = form.next().await {
        let mut field = field.map_err(|_| broken())?;
        let name = field.name().unwrap_or_default().to_owned();
        let given = field.content_disposition().and_then(|form| form.get_filename());
        let given = given.unwrap_or_default().to_owned();
        let twice = received.tables.iter().any(|one| one.kind.to_string() == name);
        if twice || received.workbook || (name == "workbook" && !received.tables.is_empty()) {
            return Err(Problem::new(&BROKEN_BODY, "Send each part once, and a workbook alone."));
        }
        received.workbook = name == "workbook";
        let kind = if received.workbook { Some(FileKind::Cases) } else { FileKind::named(&name) };
        let kind = kind.ok_or_else(|| {
            let mend =
                "Name each part of the form cases, complications or follow_ups, or the only one workbook.";
            Problem::new(&BROKEN_BODY, mend)
        })?;
        received.tables.push(Arrived { kind, given, file: to_disk(&mut field).await? });
    }
    if received.tables.is_empty() {
        let mend = "Send at least one of cases, complications and follow_ups, or a workbook.";
        return Err(Problem::new(&BROKEN_BODY, mend));
    }
    Ok(received)
}

/// Keeps what is sent on disk, up to the most that a file may hold.
pub(crate) async fn to_disk(field: &mut Field) -> Result<NamedTempFile, Problem> {
    let mut file = NamedTempFile::new().map_err(unreadable)?;
    let (mut length, longest) = (0_u64, Limits::default().file);
    while let Some(chunk) = field.next().await {
        let chunk = chunk.map_err(|_| broken())?;
        length += chunk.len() as u64;
        if length > longest {
            let mebibytes = longest / 1024 / 1024;
            return Err(Problem::new(
                &TOO_LARGE,
                format!("A file has at most {mebibytes} MiB here; send it in parts."),
            ));
        }
        file.write_all(&chunk).map_err(unreadable)?;
    }
    file.flush().map_err(unreadable)?;
    Ok(file)
}

fn broken() -> Problem {
    Problem::new(
        &BROKEN_BODY,
        "Send the files as multipart/form-data with the parts cases, complications and follow_ups.",
    )
}
