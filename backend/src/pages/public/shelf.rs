//! Published pages and files in memory: nothing of them changes but by a withdrawal, which the
//! server that took it notices at once and every other within a minute.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use actix_web::web::Bytes;
use actix_web::{HttpRequest, HttpResponse};
use quietbeam_schema::ids::SummaryNumber;

use crate::api::Embeddable;
use crate::store::sha256_hex;

/// How long something is given without looking whether it was withdrawn.
const FRESH: Duration = Duration::from_secs(60);

/// How long others may keep it before they ask again.
const CACHED: (actix_web::http::header::HeaderName, &str) = (CACHE_CONTROL, "public, max-age=300");

/// The forms in which a summary is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Form {
    /// The page.
    Page,
    /// Its tables in another page.
    Embed,
    /// Delimited text.
    Table,
    /// The data of its citation.
    Cite,
    /// Typeset.
    #[cfg(feature = "pdf")]
    Paper,
}

impl Form {
    /// The form that is called so in an address below that of the page.
    pub(super) fn named(file: &str) -> Option<Self> {
        match file {
            "embed" => Some(Self::Embed),
            "tables.csv" => Some(Self::Table),
            "citation.json" => Some(Self::Cite),
            #[cfg(feature = "pdf")]
            "summary.pdf" => Some(Self::Paper),
            _ => None,
        }
    }

    fn media_type(self) -> &'static str {
        match self {
            Self::Page | Self::Embed => "text/html; charset=utf-8",
            Self::Table => "text/csv; charset=utf-8",
            Self::Cite => "application/json",
            #[cfg(feature = "pdf")]
            Self::Paper => "application/pdf",
        }
    }

    /// What the file is called; a page is none.
    fn file(self, number: SummaryNumber) -> Option<String> {
        let ending = match self {
            Self::Page | Self::Embed => return None,
            Self::Table => "csv",
            Self::Cite => "json",
            #[cfg(feature = "pdf")]
            Self::Paper => "pdf",
        };
        Some(format!("attachment; filename=\"safety-summary-{}.{ending}\"", number.0))
    }
}

/// Something ready to be given.
#[derive(Debug, Clone)]
pub(super) struct Kept {
    form: Form,
    file: Option<String>,
    etag: String,
    body: Bytes,
}

impl Kept {
    pub(super) fn new(form: Form, number: SummaryNumber, body: impl Into<Bytes>) -> Self {
        let body = body.into();
        let etag = format!("\"{}\"", &sha256_hex(&body)[..32]);
        Self { form, file: form.file(number), etag, body }
    }

    /// The answer; none of the body where it is known already.
    pub(super) fn answer(&self, request: &HttpRequest) -> HttpResponse {
        let known = request.headers().get(IF_NONE_MATCH).and_then(|tags| tags.to_str().ok());
        let is_known = known.is_some_and(|tags| {
            tags.split(',').any(
                |tag| matches!(tag.trim().trim_start_matches("W/"), tag if tag == self.etag || tag == "*"),
            )
        });
        let mut answer = if is_known { HttpResponse::NotModified() } else { HttpResponse::Ok() };
        answer.insert_header((ETAG, self.etag.clone())).insert_header(CACHED);
        if self.form == Form::Embed {
            answer.extensions_mut().insert(Embeddable);
        }
        if is_known {
            return answer.finish();
        }
        if let Some(file) = &self.file {
            answer.insert_header((CONTENT_DISPOSITION, file.clone()));
        }
        answer.insert_header((CONTENT_TYPE, self.form.media_type())).body(self.body.clone())
    }
}

/// What was asked for lately.
#[derive(Default)]
pub(crate) struct Shelf(Mutex<HashMap<(SummaryNumber, Form), (Instant, Kept)>>);

impl Shelf {
    /// Something that is fresh.
    pub(super) fn find(&self, number: SummaryNumber, form: Form) -> Option<Kept> {
        let shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let (since, kept) = shelf.get(&(number, form))?;
        (since.elapsed() < FRESH).then(|| kept.clone())
    }

    /// Takes everything away: something was withdrawn, here and now.
    pub(crate) fn clear(&self) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }

    /// Puts something on the shelf. Only what was published comes here, so that nobody can fill it.
    pub(super) fn keep(&self, number: SummaryNumber, form: Form, kept: Kept) -> Kept {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.insert((number, form), (Instant::now(), kept.clone()));
        kept
    }
}
