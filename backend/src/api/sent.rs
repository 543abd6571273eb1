//! A file as an answer, read from disk piece by piece.

use actix_web::HttpResponse;
use actix_web::body::SizedStream;
use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::web::{Bytes, block};
use futures_util::stream::unfold;
use std::fs::File;
use std::io::{self, Read};

use crate::export::Written;

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
