//! Creation that can be repeated safely: the answer is kept with what was made,
//! in the same transaction, and a repetition gets it again.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{ETAG, LOCATION};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::brought::IdempotencyKey;
use super::problem::Problem;
use crate::access::{Action, Permit};
use crate::registry::{RegistryError, Version};
use crate::store::{RequestKey, Session, Store, StoredReply, Writing};

/// What was made.
pub(super) struct Made<V> {
    /// Where it can be read.
    pub(super) location: String,
    /// Its version, for what can be changed.
    pub(super) version: Option<Version>,
    /// What is shown of it.
    pub(super) view: V,
}

/// An answer as it is kept for a repetition.
#[derive(Serialize, Deserialize)]
struct Kept {
    location: String,
    etag: Option<String>,
    body: Value,
}

/// One creation: which route, under which key, with which body.
pub(super) struct Creation(RequestKey);

impl Creation {
    /// `of` is the path's own part and the query, which make it another request
    /// just as another body does.
    pub(super) fn new(route: &str, key: IdempotencyKey, of: &str, fingerprint: &str) -> Self {
        let fingerprint = crate::store::sha256_hex(format!("{of}\n{fingerprint}").as_bytes());
        Self(RequestKey { route: route.to_owned(), key: key.0, fingerprint })
    }

    /// Makes it, or answers as it was answered before.
    pub(super) async fn make<A, V, F>(
        self,
        store: &Store,
        permit: Permit<A>,
        work: F,
    ) -> Result<HttpResponse, Problem>
    where
        A: Action,
        V: Serialize,
        F: FnOnce(&mut Session<'_, A, Writing>) -> Result<Made<V>, RegistryError> + Send + 'static,
    {
        let kept = store.write(permit, move |session| self.within(session, work)).await?;
        let mut answer = HttpResponse::build(StatusCode::CREATED);
        answer.insert_header((LOCATION, kept.location));
        if let Some(etag) = kept.etag {
            answer.insert_header((ETAG, etag));
        }
        Ok(answer.json(kept.body))
    }

    fn within<A, V, F>(self, session: &mut Session<'_, A, Writing>, work: F) -> Result<Kept, RegistryError>
    where
        A: Action,
        V: Serialize,
        F: FnOnce(&mut Session<'_, A, Writing>) -> Result<Made<V>, RegistryError>,
    {
        if let Some(reply) = session.recall(&self.0)? {
            return serde_json::from_str(&reply.body).map_err(RegistryError::NotWritten);
        }
        let Made { location, version, view } = work(session)?;
        let body = serde_json::to_value(view).map_err(RegistryError::NotWritten)?;
        let kept = Kept { location, etag: version.map(|version| version.etag()), body };
        let body = serde_json::to_string(&kept).map_err(RegistryError::NotWritten)?;
        session.remember(&self.0, &StoredReply { status: StatusCode::CREATED.as_u16(), body })?;
        Ok(kept)
    }
}
