//! A form that may bring a file. Its fields are read as those of any form; the file is held
//! until the answer is written, and its name is never looked at.

use actix_multipart::{Field, Multipart};
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use futures_util::StreamExt;
use futures_util::future::LocalBoxFuture;

use super::form::{Posted, unreadable};
use crate::api::Problem;
use crate::api::problem::TOO_LARGE;

/// The largest file that is held; a longer one is passed over to its end.
pub(super) const LARGEST: usize = crate::intake::dose_report::LARGEST;
/// The most that is passed over before the request is broken off.
const PASSED_OVER: usize = 16 * LARGEST;
/// The most that all other fields hold together.
const FIELDS: usize = 256 << 10;

/// What the form sent.
pub(crate) struct Brought {
    /// Its fields.
    pub(crate) posted: Posted,
    /// Its file, where the form was sent with one.
    pub(crate) file: Option<File>,
}

/// The file of a form.
pub(crate) enum File {
    /// Its bytes.
    Held(Vec<u8>),
    /// More than is held.
    TooLarge,
}

impl FromRequest for Brought {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let posted = request.extensions().get::<Posted>().cloned();
        let parts = Multipart::from_request(request, payload);
        Box::pin(async move {
            match posted {
                Some(posted) => Ok(Self { posted, file: None }),
                None => received(parts.await.map_err(|_| unreadable())?).await,
            }
        })
    }
}

async fn received(mut parts: Multipart) -> Result<Brought, Problem> {
    let (mut fields, mut held, mut file) = (Vec::new(), 0, File::Held(Vec::new()));
    while let Some(part) = parts.next().await {
        let mut part = part.map_err(|_| unreadable())?;
        let head = part.content_disposition();
        let name = head.and_then(|head| head.get_name()).unwrap_or_default().to_owned();
        if head.is_some_and(|head| head.get_filename().is_some()) {
            file = file_of(&mut part).await?;
            continue;
        }
        let bytes = bytes_of(&mut part, FIELDS - held).await?.ok_or_else(too_large)?;
        held += bytes.len();
        fields.push((name, String::from_utf8(bytes).map_err(|_| unreadable())?));
    }
    Ok(Brought { posted: Posted::of(fields), file: Some(file) })
}

async fn file_of(part: &mut Field) -> Result<File, Problem> {
    if let Some(bytes) = bytes_of(part, LARGEST).await? {
        return Ok(File::Held(bytes));
    }
    // A browser that is cut off in the middle shows no sentence at all.
    let mut passed = LARGEST;
    while let Some(chunk) = part.next().await {
        passed += chunk.map_err(|_| unreadable())?.len();
        if passed > PASSED_OVER {
            return Err(too_large());
        }
    }
    Ok(File::TooLarge)
}

/// The bytes of a part; `None` as soon as there are more than `most`.
async fn bytes_of(part: &mut Field, most: usize) -> Result<Option<Vec<u8>>, Problem> {
    let mut bytes = Vec::new();
    while let Some(chunk) = part.next().await {
        let chunk = chunk.map_err(|_| unreadable())?;
        if bytes.len() + chunk.len() > most {
            return Ok(None);
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(Some(bytes))
}

fn too_large() -> Problem {
    Problem::new(&TOO_LARGE, "The form holds more than is taken here.")
}
