//! What a request brings: a body, parameters, and the headers that creation and
//! change need. Each is read strictly or answered with what to mend.

use actix_web::http::header::{CONTENT_ENCODING, CONTENT_TYPE, HeaderMap, IF_MATCH};
use actix_web::{FromRequest, HttpRequest, dev::Payload, web};
use quietbeam_schema::entries::StrictJson;
use serde::de::DeserializeOwned;
use std::future::{Future, Ready, ready};
use std::pin::Pin;

use super::problem::{BAD_HEADER, IF_MATCH_MISSING, KEY_MISSING, MEDIA_TYPE, Problem, TOO_LARGE};
use super::strict;
use crate::registry::IfMatch;
use crate::store::sha256_hex;

/// The largest JSON body. A case with twenty complications is about 20 KiB.
pub(super) const LARGEST_BODY: usize = 64 * 1024;

/// A JSON body, read into its type.
pub(super) struct Body<T> {
    pub(super) value: T,
    /// SHA-256 of the bytes, to tell a repetition from another request.
    pub(super) fingerprint: String,
}

impl<T: DeserializeOwned + 'static> FromRequest for Body<T> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        if let Err(problem) = check_type(request.headers()) {
            return Box::pin(ready(Err(problem)));
        }
        let bytes = web::Bytes::from_request(request, payload);
        Box::pin(async move {
            let bytes = bytes.await.map_err(|error| {
                let status = error.as_response_error().status_code();
                match status.as_u16() {
                    413 => Problem::new(
                        &TOO_LARGE,
                        format!("A body has at most {} KiB here.", LARGEST_BODY / 1024),
                    ),
                    _ => Problem::for_status(status),
                }
            })?;
            let json = strict::parse(&bytes)?;
            Ok(Self { value: strict::read(&json)?, fingerprint: sha256_hex(&bytes) })
        })
    }
}

fn check_type(headers: &HeaderMap) -> Result<(), Problem> {
    let refused =
        || Problem::new(&MEDIA_TYPE, "Send JSON with \"Content-Type: application/json\", not compressed.");
    let text = headers.get(CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let (essence, parameters) = text.split_once(';').unwrap_or((text, ""));
    let charset = parameters.trim().to_ascii_lowercase().replace('"', "");
    let plain = headers.get(CONTENT_ENCODING).is_none_or(|coding| coding == "identity");
    let json = essence.trim().eq_ignore_ascii_case("application/json");
    if json && plain && (charset.is_empty() || charset == "charset=utf-8") { Ok(()) } else { Err(refused()) }
}

/// JSON as it came, for what the record itself reads.
pub(super) type Json = StrictJson;

/// The parameters of the address.
pub(crate) struct Query<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest for Query<T> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(strict::read_query(request.query_string()).map(Self).map_err(Problem::query))
    }
}

/// A piece of the path. What is not even of the right form cannot be told from
/// what is not there.
pub(crate) struct Part<T>(pub(crate) T);

impl<T: DeserializeOwned + 'static> FromRequest for Part<T> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let read = web::Path::<T>::from_request(request, payload).into_inner();
        ready(read.map(|path| Self(path.into_inner())).map_err(|_| Problem::absent()))
    }
}

/// The name a program gives to one creation, so that it can be repeated safely.
pub(super) struct IdempotencyKey(pub(super) String);

impl FromRequest for IdempotencyKey {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(read_key(request.headers()))
    }
}

fn read_key(headers: &HeaderMap) -> Result<IdempotencyKey, Problem> {
    let mut sent = headers.get_all("idempotency-key");
    let key = match (sent.next(), sent.next()) {
        (None, _) => {
            return Err(Problem::new(
                &KEY_MISSING,
                "Send a new random \"Idempotency-Key\" with each creation, and the same one when you repeat it.",
            ));
        }
        (Some(key), None) => key.to_str().unwrap_or_default(),
        (Some(_), Some(_)) => "",
    };
    let fits = (8..=128).contains(&key.len()) && key.bytes().all(|byte| byte.is_ascii_graphic());
    if !fits {
        return Err(Problem::new(
            &BAD_HEADER,
            "Idempotency-Key: send one, of 8 to 128 printable characters without spaces.",
        ));
    }
    Ok(IdempotencyKey(key.to_owned()))
}

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(read_if_match(request.headers()).and_then(|sent| {
            sent.ok_or_else(|| {
                Problem::new(
                    &IF_MATCH_MISSING,
                    "Read it first, and send its ETag as \"If-Match\", so that nobody's change is lost.",
                )
            })
        }))
    }
}

/// `If-Match` where a thing may be new: without it, nothing may be there yet.
pub(super) struct MaybeIfMatch(pub(super) Option<IfMatch>);

impl FromRequest for MaybeIfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(read_if_match(request.headers()).map(Self))
    }
}

fn read_if_match(headers: &HeaderMap) -> Result<Option<IfMatch>, Problem> {
    let Some(value) = headers.get(IF_MATCH) else { return Ok(None) };
    match IfMatch::parse(value.to_str().unwrap_or_default()) {
        Some(sent) => Ok(Some(sent)),
        None => Err(Problem::new(
            &BAD_HEADER,
            "If-Match: send the ETag as it was given, with its quotation marks.",
        )),
    }
}
