//! Whether the server lives, and whether it can do its work.

use actix_web::{HttpResponse, get, web};
use quietbeam_schema::instant::Instant;
use std::sync::Mutex;

use super::problem::Problem;
use crate::clock::Clock;
use crate::store::Store;

/// What the last look at the store found: everyone may ask, so not every
/// question reaches the store.
#[derive(Default)]
pub(crate) struct Readiness(Mutex<Option<(Instant, bool)>>);

impl Readiness {
    /// What was found less than a second ago.
    fn recent(&self, now: Instant) -> Option<bool> {
        let last = self.0.lock().ok().and_then(|last| *last);
        last.filter(|(at, _)| now < at.plus_seconds(1)).map(|(_, able)| able)
    }

    fn found(&self, now: Instant, able: bool) {
        if let Ok(mut last) = self.0.lock() {
            *last = Some((now, able));
        }
    }
}

/// The server answers.
#[get("/livez")]
pub(crate) async fn live() -> HttpResponse {
    HttpResponse::Ok().json(serde_json::json!({ "status": "alive" }))
}

/// The store can be read and written.
#[get("/readyz")]
pub(crate) async fn ready(
    store: web::Data<Store>,
    readiness: web::Data<Readiness>,
    clock: web::Data<Clock>,
) -> Result<HttpResponse, Problem> {
    let now = clock.now();
    let able = match readiness.recent(now) {
        Some(able) => able,
        None => {
            let able = store.is_ready().await;
            readiness.found(now, able);
            able
        }
    };
    if able {
        Ok(HttpResponse::Ok().json(serde_json::json!({ "status": "ready" })))
    } else {
        Err(Problem::busy())
    }
}
