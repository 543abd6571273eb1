//! Bringing in files: chosen here, looked through, mended in place, and only then stored.

pub(super) mod job;
mod problems;
pub(super) mod receipt;
mod receive;
mod view;

use actix_multipart::Multipart;
use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;

use self::receive::receive;
use super::components::{Cell, Column, FieldId, Mark, StartHere, Table, Word, error_summary};
use super::frame::{Frame, Page, Visit, see_other};
use super::trouble::Troubles;
use super::words::{age, counted, moment};
use crate::access::Permit;
use crate::access::action::{ImportFiles, ReadCentres};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::api::dictionary::WORKBOOK;
use crate::api::import_jobs::take_up;
use crate::export::codebook_rows;
use crate::intake::{FileKind, header, workbook_template};
use crate::registry::RegistryError;
use crate::registry::imports::Kept;
use crate::registry::imports::jobs::{self, Job, Stage};
use crate::store::{Receipt, Store, StoreError};
use crate::worker::Worker;
use quietbeam_schema::instant::Instant;

/// Receipts that are listed.
const LISTED: usize = 10;

#[get("/imports")]
pub(super) async fn start(
    _permit: Permit<ImportFiles>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let content = beginning(&frame, &seen(&visit, &store).await?, None);
    Ok(frame.show(&page("Bring in a file", content)))
}

#[post("/imports")]
pub(super) async fn bring(
    permit: Permit<ImportFiles>,
    visit: Visit,
    form: Result<Multipart, actix_web::Error>,
    store: web::Data<Store>,
    worker: web::Data<Worker>,
) -> Result<HttpResponse, Problem> {
    let form = form.map_err(|_| super::form::unreadable())?;
    match receive(form, visit.signed()?).await? {
        Err(troubles) => {
            let frame = visit.frame(&store).await?;
            let content = beginning(&frame, &seen(&visit, &store).await?, Some(&troubles));
            Ok(frame.refuse(&page("Bring in a file", content)))
        }
        Ok(brought) => {
            let holder = worker.holder_of(visit.request_id());
            let begun =
                store.write(permit, move |session| jobs::begin(session, &brought, Some(&holder))).await?;
            let id = begun.id;
            take_up(&worker, begun).await?;
            Ok(see_other(&format!("/imports/{id}")))
        }
    }
}

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::Cases), content }
}

/// What the start page shows beside its form.
struct Seen {
    centres: Vec<(String, String)>,
    jobs: Vec<Job>,
    receipts: Vec<Receipt>,
    now: Instant,
}

async fn seen(visit: &Visit, store: &Store) -> Result<Seen, Problem> {
    let caller = visit.signed()?;
    let permit = caller.permit::<ReadCentres>()?;
    let centres = store.read(permit, |session| session.list_centres()).await?;
    let centres = centres.into_iter().map(|centre| (centre.code.to_string(), centre.name)).collect();
    let permit = caller.permit::<ImportFiles>()?;
    let (jobs, receipts, now) = store
        .read(permit, |session| {
            Ok::<_, RegistryError>((jobs::list(session)?, session.list_receipts()?, session.now()))
        })
        .await?;
    Ok(Seen { centres, jobs, receipts, now })
}

fn beginning(frame: &Frame, seen: &Seen, troubles: Option<&Troubles>) -> Markup {
    let open: Vec<&Job> = seen.jobs.iter().filter(|job| !matches!(job.stage, Stage::Stored(_))).collect();
    html! {
        @if let Some(troubles) = troubles { (error_summary(troubles, "the files can be looked through")) }
        div.title { div {
            h1 { "Bring in a file" }
            p.quiet { "It is looked through first. Nothing of it is stored before you say so." }
        } a href="/case-codes" { "Case codes for your list" } }
        @if let Some(job) = open.first() { (waiting(job, seen.now)) }
        div.sides {
            div { (upload(frame, seen, troubles)) (before(seen)) }
            aside.margin { (templates()) (rules()) }
        }
    }
}

fn waiting(job: &Job, now: Instant) -> Markup {
    let name = job.files.first().map_or("", |file| file.name.as_str());
    let (mark, why) = match &job.stage {
        Stage::Checking => (Mark::Draft, "It is being looked through."),
        Stage::Storing => (Mark::Draft, "It is being stored."),
        Stage::Checked(preview) if preview.refused > 0 => (Mark::MustBeMended, "Rows of it must be mended."),
        Stage::Checked(_) => (Mark::ToAnswer, "It waits for you to store it or throw it away."),
        Stage::Stored(_) => (Mark::Saved, "It is stored."),
        Stage::Failed(_) => (Mark::MustBeMended, "Nothing of it was stored."),
    };
    let box_ = StartHere::With {
        mark,
        sentence: html! { (name) " is not stored yet" },
        why: html! { (why) " Brought in " (age(job.row.begun_at, now)) "; kept for one day." },
        button: super::components::Link::new(format!("/imports/{}", job.row.id), "Go on"),
    };
    html! { (box_) }
}

fn upload(frame: &Frame, seen: &Seen, troubles: Option<&Troubles>) -> Markup {
    let field = |kind: FileKind, label: &str, second: &str| {
        let id = FieldId::of(&kind.to_string());
        let sentences: Vec<&str> = troubles
            .into_iter()
            .flat_map(Troubles::iter)
            .filter(|trouble| trouble.field == id)
            .map(|trouble| trouble.sentence.as_str())
            .collect();
        let refused = !sentences.is_empty();
        html! {
            div.field.must-be-mended[refused] {
                span.mark { @if refused { (Mark::MustBeMended.shape()) } }
                label.label for=(id) { (label) span.second { (second) } }
                div.control {
                    input.file type="file" id=(id) name=(kind) accept=".csv,.txt,.tsv,.xlsx,.ods"
                        aria-invalid=[refused.then_some("true")];
                    @for sentence in &sentences { p.message { b { "Must be mended." } " " (sentence) } }
                }
            }
        }
    };
    html! {
        form method="post" action={ "/imports?form_token=" (frame.form_token()) } enctype="multipart/form-data" {
            div.fields {
                @if seen.centres.len() > 1 {
                    div.field {
                        span.mark {}
                        label.label for="centre" { "Centre" }
                        div.control { select.select id="centre" name="centre" {
                            @for (code, name) in &seen.centres { option value=(code) { (name) } }
                        } }
                    }
                }
                (field(FileKind::Cases, "Cases", "a table, or a workbook (.xlsx, .ods) with all three sheets"))
                (field(FileKind::Complications, "Complications", "if there are any"))
                (field(FileKind::FollowUps, "Follow-up", "if there is any"))
            }
            div.form-foot {
                button.button.main[!seen.jobs.iter().any(|job| !matches!(job.stage, Stage::Stored(_)))] type="submit" {
                    "Look through"
                }
                span.aside { "Commas, semicolons or tabs; points or decimal commas: as your program writes it." }
            }
        }
    }
}

fn before(seen: &Seen) -> Markup {
    if seen.receipts.is_empty() {
        return html! {};
    }
    let row = |receipt: &Receipt| -> Result<[Cell; 4], StoreError> {
        let Kept { changes, .. } = Kept::of(receipt)?;
        Ok([
            Cell::shown(html! { a href={ "/imports/receipts/" (receipt.id) } { (moment(receipt.at)) } }),
            Cell::text(count(changes.new)),
            Cell::text(count(changes.changed)),
            Cell::text(count(changes.unchanged)),
        ])
    };
    let rows: Vec<[Cell; 4]> =
        seen.receipts.iter().take(LISTED).filter_map(|receipt| row(receipt).ok()).collect();
    let table = Table {
        caption: "Brought in before".to_owned(),
        columns: [
            Column::words("When"),
            Column::numbers("New cases"),
            Column::numbers("Changed"),
            Column::numbers("Unchanged"),
        ],
        rows,
    };
    html! { section.brought-before { (table) } }
}

fn templates() -> Markup {
    html! {
        section {
            h2 { "To fill in" }
            ul.plain.downloads {
                li { a href="/templates/cases.xlsx" { "Workbook" } span.small { "three sheets, with lists to choose from" } }
                @for kind in FileKind::ALL {
                    li { a href={ "/templates/" (kind) ".csv" } { (kind_words(kind)) } span.small { "delimited text, the header" } }
                }
                li { a href="/templates/codebook.csv" { "Codebook" } span.small { "every column, code and limit" } }
                li { a href="/help" { "What is recorded" } span.small { "the same, to read" } }
            }
        }
    }
}

fn rules() -> Markup {
    html! {
        section {
            h2 { "Before you choose" }
            p { "Take out names, hospital numbers and dates. What looks like one is not kept, not even to be mended." }
            p { "What you bring in is kept for one day at most; what you store then is kept." }
        }
    }
}

/// What the rows of a file are, in words.
fn kind_words(kind: FileKind) -> &'static str {
    match kind {
        FileKind::Cases => "Cases",
        FileKind::Complications => "Complications",
        FileKind::FollowUps => "Follow-up",
    }
}

/// The place of rows in a file: "row 9", "rows 3, 5 and 9", "116 rows, from 3".
fn rows_words(kind: FileKind, rows: &[u64]) -> String {
    let said = match rows {
        [] => String::new(),
        [0] => "header".to_owned(),
        [only] => format!("row {only}"),
        [some @ .., last] if rows.len() <= 3 => {
            let some: Vec<String> = some.iter().map(ToString::to_string).collect();
            format!("rows {} and {last}", some.join(", "))
        }
        [first, ..] => format!("{}, from row {first}", counted(rows.len(), "row", "rows")),
    };
    match kind {
        FileKind::Cases => said,
        other => format!("{}, {said}", kind_words(other)),
    }
}

/// What is filled in: templates and the codebook, for everyone.
#[get("/templates/{name}")]
pub(super) async fn template(name: Part<String>) -> Result<HttpResponse, Problem> {
    let broken = |error: &dyn std::fmt::Display| {
        tracing::error!(%error, "a template cannot be written");
        Problem::broken()
    };
    let name = name.0;
    let kind = name.strip_suffix(".csv").and_then(FileKind::named);
    let (media_type, bytes) = match (name.as_str(), kind) {
        (_, Some(kind)) => {
            ("text/csv; charset=utf-8", format!("{}\r\n", header(kind).join(",")).into_bytes())
        }
        ("cases.xlsx", _) => (WORKBOOK, workbook_template().map_err(|error| broken(&error))?),
        ("codebook.csv", _) => {
            let mut rows = csv::Writer::from_writer(Vec::new());
            codebook_rows(&mut rows).map_err(|error| broken(&error))?;
            ("text/csv; charset=utf-8", rows.into_inner().map_err(|error| broken(&error))?)
        }
        _ => return Err(Problem::absent()),
    };
    Ok(download(media_type, &format!("quietbeam-{name}"), bytes))
}

/// A file to be kept; its name holds nothing but letters, digits, points and hyphens.
fn download(media_type: &str, name: &str, bytes: Vec<u8>) -> HttpResponse {
    let plain = |c: char| if c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_') { c } else { '_' };
    let name: String = name.chars().map(plain).collect();
    HttpResponse::Ok()
        .content_type(media_type)
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .body(bytes)
}
