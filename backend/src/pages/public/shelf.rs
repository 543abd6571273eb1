//! Published pages and files in memory: nothing of them changes but by a withdrawal, which the
//! server that took it notices at once and every other within a minute.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG};
use actix_web::web::Bytes;
use actix_web::{HttpRequest, HttpResponse};
use quietbeam_schema::ids::SummaryNumber;

use crate::api::{Embeddable, is_known};
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
    /// Everything, byte by byte as it was published.
    Json,
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
            Self::Cite | Self::Json => "application/json",
            #[cfg(feature = "pdf")]
            Self::Paper => "application/pdf",
        }
    }

    /// What the file is called; a page is none.
    fn file(self, number: SummaryNumber) -> Option<String> {
        let ending = match self {
            Self::Page | Self::Embed | Self::Json => return None,
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

    /// The content itself, under the hash that the summary names.
    pub(super) fn content(content: String, hash: &str) -> Self {
        Self { form: Form::Json, file: None, etag: format!("\"{hash}\""), body: content.into() }
    }

    /// The answer; none of the body where it is known already.
    pub(super) fn answer(&self, request: &HttpRequest) -> HttpResponse {
        let is_known = is_known(request, &self.etag);
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
pub(crate) struct Shelf(Mutex<Things>);

#[derive(Default)]
struct Things {
    kept: HashMap<(SummaryNumber, Form), (Instant, Kept)>,
    /// How often everything was taken away.
    cleared: Cleared,
}

/// The shelf as it was when something was read that is to stand on it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Cleared(u64);

impl Shelf {
    /// Something that is fresh.
    pub(super) fn find(&self, number: SummaryNumber, form: Form) -> Option<Kept> {
        let things = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let (since, kept) = things.kept.get(&(number, form))?;
        (since.elapsed() < FRESH).then(|| kept.clone())
    }

    /// Takes everything away: something was withdrawn, here and now.
    pub(crate) fn clear(&self) {
        let mut things = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        things.kept.clear();
        things.cleared.0 += 1;
    }

    /// To be asked before a summary is read.
    pub(super) fn cleared(&self) -> Cleared {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).cleared
    }

    /// Puts something on the shelf, unless something was withdrawn since it was read. Only what was
    /// published comes here, so that nobody can fill it.
    pub(super) fn keep(&self, read: Cleared, (number, form): (SummaryNumber, Form), kept: Kept) -> Kept {
        let mut things = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if things.cleared == read {
            things.kept.insert((number, form), (Instant::now(), kept.clone()));
        }
        kept
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_read_before_a_withdrawal_stands_there_after_it() {
        let (shelf, place) = (Shelf::default(), (SummaryNumber(1), Form::Table));
        let kept = || Kept::new(Form::Table, SummaryNumber(1), "table");
        let read = shelf.cleared();
        shelf.keep(read, place, kept());
        assert!(shelf.find(SummaryNumber(1), Form::Table).is_some());
        shelf.clear();
        assert!(shelf.find(SummaryNumber(1), Form::Table).is_none());
        shelf.keep(read, place, kept());
        assert!(shelf.find(SummaryNumber(1), Form::Table).is_none(), "it was read before the withdrawal");
    }
}
