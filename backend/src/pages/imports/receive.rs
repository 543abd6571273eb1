//! The files of the form, as they arrive: on disk for as long as they are read.

use actix_multipart::{Field, Multipart};
use actix_web::web;
use futures_util::StreamExt;
use quietbeam_schema::ids::CentreCode;

use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::caller::one_centre;
use crate::api::imports::{to_disk, unreadable as broken};
use crate::intake::FileKind;
use crate::pages::components::FieldId;
use crate::pages::form::unreadable;
use crate::pages::trouble::{Trouble, Troubles};
use crate::registry::imports::brought::{Brought, Sent, Unfit};

/// Reads the form; inside, what must be mended in it.
pub(super) async fn receive(
    mut form: Multipart,
    caller: &Caller,
) -> Result<Result<Brought, Troubles>, Problem> {
    let mut centre = None;
    let (mut sent, mut on_disk) = (Vec::new(), Vec::new());
    while let Some(field) = form.next().await {
        let mut field = field.map_err(|_| unreadable())?;
        let name = field.name().unwrap_or_default().to_owned();
        if name == "centre" {
            centre = Some(small_text(&mut field).await?);
            continue;
        }
        let kind = FileKind::named(&name).ok_or_else(unreadable)?;
        let given = field.content_disposition().and_then(|form| form.get_filename()).unwrap_or_default();
        let given = given.to_owned();
        let file = to_disk(&mut field).await?;
        let is_empty = file.as_file().metadata().is_ok_and(|file| file.len() == 0);
        // A browser sends an empty part where no file was chosen.
        if is_empty && given.is_empty() {
            continue;
        }
        sent.push(Sent::new(kind, &given, file.path().to_owned()));
        on_disk.push(file);
    }
    let named = match centre.as_deref().map(str::parse::<CentreCode>) {
        None => None,
        Some(Ok(centre)) => Some(centre),
        Some(Err(_)) => return Err(Problem::absent()),
    };
    let centre = one_centre(caller, named)?;
    let brought = web::block(move || {
        let brought = Brought::of(centre, &sent);
        // Not before they were read.
        drop(on_disk);
        brought
    });
    let brought = brought.await.map_err(|_| Problem::busy())?.map_err(broken)?;
    Ok(brought.map_err(|unfit| {
        let trouble =
            |unfit: Unfit| Trouble { field: FieldId::of(&unfit.kind.to_string()), sentence: unfit.sentence };
        Troubles::of_rows(unfit.into_iter().map(trouble).collect())
            .unwrap_or_else(|| Troubles::with("cases", "The file cannot be taken."))
    }))
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
