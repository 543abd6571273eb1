//! What the page's own script asks for: a save that is answered with the page drawn again, so
//! that everything it says comes from the same place as without script.

use actix_web::http::header::ACCEPT;
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev::Payload};
use maud::Render;
use serde::Serialize;
use std::future::{Ready, ready};

use super::view::EntryView;
use crate::api::Problem;

/// Whether the script sent the form, and not the person.
pub(super) struct ByScript(pub(super) bool);

impl FromRequest for ByScript {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let accept = request.headers().get(ACCEPT).and_then(|accept| accept.to_str().ok());
        ready(Ok(Self(accept == Some("application/json"))))
    }
}

#[derive(Serialize)]
struct Saved {
    version: i64,
    page: String,
}

/// The draft as saved, and its page drawn again.
pub(super) fn drawn(view: &EntryView) -> HttpResponse {
    let saved = Saved { version: view.draft.version, page: view.render().into_string() };
    HttpResponse::Ok().json(saved)
}
