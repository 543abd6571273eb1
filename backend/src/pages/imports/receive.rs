//! The files of the form, as they arrive: on disk for as long as they are read, and kept only
//! without what could point to a person.

use actix_multipart::{Field, Multipart};
use actix_web::web;
use futures_util::StreamExt;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::screen::screen;
use std::fs::File;
use std::io::Read;
use tempfile::NamedTempFile;

use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::caller::one_centre;
use crate::api::imports::to_disk;
use crate::intake::{FileKind, Files, IntakeError, Limits, Source, Staged, is_workbook};
use crate::pages::components::FieldId;
use crate::pages::form::unreadable;
use crate::pages::trouble::{Trouble, Troubles};
use crate::registry::imports::hash_of;

/// Files that can be looked through.
pub(super) struct Brought {
    /// Whose they are.
    pub(super) centre: CentreCode,
    /// SHA-256 over them as they came.
    pub(super) files_hash: String,
    /// As they are kept.
    pub(super) files: Vec<Staged>,
}

/// A file of the form.
struct Sent {
    kind: FileKind,
    name: String,
    file: NamedTempFile,
}

/// Reads the form; inside, what must be mended in it.
pub(super) async fn receive(
    mut form: Multipart,
    caller: &Caller,
) -> Result<Result<Brought, Troubles>, Problem> {
    let mut centre = None;
    let mut sent: Vec<Sent> = Vec::new();
    while let Some(field) = form.next().await {
        let mut field = field.map_err(|_| unreadable())?;
        let name = field.name().unwrap_or_default().to_owned();
        if name == "centre" {
            centre = Some(small_text(&mut field).await?);
            continue;
        }
        let kind = FileKind::named(&name).ok_or_else(unreadable)?;
        let given = field.content_disposition().and_then(|form| form.get_filename());
        let name = plain_name(kind, given.unwrap_or_default());
        let file = to_disk(&mut field).await?;
        let is_empty = file.as_file().metadata().is_ok_and(|file| file.len() == 0);
        // A browser sends an empty part where no file was chosen.
        if is_empty && given_nothing(&field) {
            continue;
        }
        sent.push(Sent { kind, name, file });
    }
    let named = match centre.as_deref().map(str::parse::<CentreCode>) {
        None => None,
        Some(Ok(centre)) => Some(centre),
        Some(Err(_)) => return Err(Problem::absent()),
    };
    let centre = one_centre(caller, named)?;
    web::block(move || taken_in(centre, &sent)).await.map_err(|_| Problem::busy())?
}

fn given_nothing(field: &Field) -> bool {
    field.content_disposition().and_then(|form| form.get_filename()).is_none_or(str::is_empty)
}

async fn small_text(field: &mut Field) -> Result<String, Problem> {
    let mut text = Vec::new();
    while let Some(chunk) = field.next().await {
        text.extend_from_slice(&chunk.map_err(|_| unreadable())?);
        if text.len() > 64 {
            return Err(unreadable());
        }
    }
    String::from_utf8(text).map_err(|_| unreadable())
}

/// The name of a file, unless it could point to a person.
fn plain_name(kind: FileKind, given: &str) -> String {
    let name: String = given.chars().filter(|c| !c.is_control()).take(80).collect();
    let words = name.replace(['_', '-', '.'], " ");
    if name.is_empty() || screen(&words).is_err() || screen(&name).is_err() { kind.to_string() } else { name }
}

fn taken_in(centre: CentreCode, sent: &[Sent]) -> Result<Result<Brought, Troubles>, Problem> {
    let opened = match opened(sent)? {
        Ok(opened) => opened,
        Err(troubles) => return Ok(Err(troubles)),
    };
    let Opened { files, workbook } = opened;
    let mut troubles = Vec::new();
    let mut staged = Vec::new();
    for kind in FileKind::ALL {
        let Some(source) = files.of(kind) else { continue };
        let name = sent.iter().find(|one| workbook || one.kind == kind).map_or("", |one| one.name.as_str());
        match Staged::of(kind, name, source, Limits::default()) {
            Ok(mut file) => {
                file.layout.workbook = workbook;
                staged.push(file);
            }
            Err(IntakeError::Refused(refused)) => {
                let field = FieldId::of(&if workbook { FileKind::Cases } else { kind }.to_string());
                troubles.extend(refused.problems.into_iter().map(|problem| Trouble {
                    field: field.clone(),
                    sentence: match problem.at.row {
                        0 => problem.sentence,
                        row => format!("Row {row}: {}", problem.sentence),
                    },
                }));
            }
            Err(IntakeError::Unreadable(_, error)) => return Err(broken(&error)),
        }
    }
    if let Some(troubles) = Troubles::of_rows(troubles) {
        return Ok(Err(troubles));
    }
    let files_hash = hash_of(centre, &files).map_err(|(_, error)| broken(&error))?;
    Ok(Ok(Brought { centre, files_hash, files: staged }))
}

/// The tables of what was sent.
struct Opened {
    files: Files,
    workbook: bool,
}

fn opened(sent: &[Sent]) -> Result<Result<Opened, Troubles>, Problem> {
    let mut files = Files::default();
    for one in sent {
        let mut start = Vec::with_capacity(4);
        let file = File::open(one.file.path()).map_err(|error| broken(&error))?;
        file.take(4).read_to_end(&mut start).map_err(|error| broken(&error))?;
        let field = one.kind.to_string();
        if is_workbook(&start) {
            if sent.len() > 1 {
                let sentence = "A workbook comes alone, with a sheet for each table.";
                return Ok(Err(Troubles::with(&field, sentence)));
            }
            let read = Files::of_workbook_at(one.file.path()).map_err(|error| broken(&error))?;
            return Ok(match read {
                Ok(files) => Ok(Opened { files, workbook: true }),
                Err(trouble) => Err(Troubles::with(&field, trouble.to_string())),
            });
        }
        files.put(one.kind, Source::Path(one.file.path().to_owned()));
    }
    match sent.is_empty() {
        true => Ok(Err(Troubles::with("cases", "No file was chosen; choose at least one."))),
        false => Ok(Ok(Opened { files, workbook: false })),
    }
}

fn broken(error: &std::io::Error) -> Problem {
    tracing::error!(%error, "a file that was brought in cannot be kept or read");
    Problem::broken()
}
