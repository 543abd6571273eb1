//! The audit trail: who did what, when and why, without clinical values.

use actix_web::{HttpResponse, get, web};
use quietbeam_schema::audit::Subject;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};

use super::brought::Query;
use super::caller::Signed;
use super::cursor::{List, Rows};
use super::problem::{BAD_QUERY, Problem};
use crate::access::Permit;
use crate::access::action::ReadAudit;
use crate::store::{AuditFilter, AuditRow, Store};

/// One event.
#[derive(Serialize, ToSchema)]
pub(super) struct EventView {
    /// Its place in the trail; the order comes from here, never from the time.
    seq: i64,
    /// The server's time, UTC.
    at: String,
    /// Who.
    by: String,
    /// As what.
    role: String,
    /// What was done.
    deed: String,
    /// To what kind of thing.
    subject: String,
    /// To which.
    subject_id: String,
    /// The centre, where there is one.
    centre: Option<String>,
    /// The revision that came of it.
    revision: Option<i64>,
    /// What stood there before.
    #[schema(value_type = Option<Object>)]
    before: Option<Value>,
    /// What stands there since.
    #[schema(value_type = Option<Object>)]
    after: Option<Value>,
    /// Why.
    reason: Option<String>,
    /// In which request.
    request_id: String,
}

impl From<AuditRow> for EventView {
    fn from(row: AuditRow) -> Self {
        let AuditRow { seq, at, actor, role, event, request_id } = row;
        Self {
            seq,
            at: at.to_string(),
            by: actor.to_string(),
            role,
            deed: event.deed.name().to_owned(),
            subject: event.subject.name().to_owned(),
            subject_id: event.subject_id,
            centre: event.centre.map(|centre| centre.to_string()),
            revision: event.revision,
            before: event.before,
            after: event.after,
            reason: event.reason,
            request_id,
        }
    }
}

/// Which events are listed.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct AuditQuery {
    /// Only about this kind of thing, such as `case` or `member`.
    subject: Option<String>,
    /// Only about this one.
    subject_id: Option<String>,
    /// Rows wanted, 1 to 200.
    limit: Option<u32>,
    /// The `next` of the page before.
    cursor: Option<String>,
}

/// The audit trail, newest first.
#[utoipa::path(tag = "Audit", params(AuditQuery), responses((status = 200, body = Rows<EventView>)))]
#[get("/audit")]
pub(super) async fn list(
    permit: Permit<ReadAudit>,
    signed: Signed,
    query: Query<AuditQuery>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let query = query.0;
    let list = List::of("audit", signed.caller()?.actor(), &(&query.subject, &query.subject_id));
    let page = list.page(query.limit, query.cursor.as_deref())?;
    let subject = query.subject.as_deref().map(|name| {
        let names: Vec<&str> = Subject::ALL.iter().map(|subject| subject.name()).collect();
        Subject::from_name(name)
            .ok_or_else(|| Problem::new(&BAD_QUERY, format!("subject: use one of {}.", names.join(", "))))
    });
    let filter = AuditFilter { subject: subject.transpose()?, subject_id: query.subject_id, actor: None };
    let rows = store.read(permit, move |session| session.list_audit(&filter, page)).await?;
    Ok(HttpResponse::Ok().json(list.show(rows, EventView::from)))
}
