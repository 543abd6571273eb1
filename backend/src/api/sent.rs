//! A file as an answer, read from disk piece by piece, and whether whoever asks has it already.

use actix_web::body::SizedStream;
use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, IF_NONE_MATCH};
use actix_web::web::{Bytes, block};
use actix_web::{HttpRequest, HttpResponse};
use futures_util::stream::unfold;
use std::fs::File;
use std::io::{self, Read};

use crate::export::Written;

/// Whether whoever asks already has what bears this entity tag (RFC 9110, section 13.1.2).
pub(crate) fn is_known(request: &HttpRequest, etag: &str) -> bool {
    let tags = request.headers().get(IF_NONE_MATCH).and_then(|tags| tags.to_str().ok());
    let is_it = |tag: &str| tag == "*" || tag.trim_start_matches("W/") == etag;
    tags.is_some_and(|tags| tags.split(',').any(|tag| is_it(tag.trim())))
}

/// How much is in memory at once.
const PIECE: u64 = 64 * 1024;

/// Hands a file over under a name, to be kept and not shown.
pub(super) fn sent(written: Written, name: &str, media_type: &'static str) -> HttpResponse {
    let pieces = unfold(Some(written.file), |file| async move {
        match block(move || piece(file?)).await {
            Ok(read) => read,
            Err(_) => Some((Err(io::Error::other("nobody is left to read the file")), None)),
        }
    });
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, media_type))
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .body(SizedStream::new(written.length, Box::pin(pieces)))
}

/// The next piece and the file to read on; `None` at its end.
fn piece(mut file: File) -> Option<(io::Result<Bytes>, Option<File>)> {
    let mut bytes = Vec::new();
    match file.by_ref().take(PIECE).read_to_end(&mut bytes) {
        Ok(0) => None,
        Ok(_) => Some((Ok(bytes.into()), Some(file))),
        Err(error) => Some((Err(error), None)),
    }
}
