//! The screening log as it stands: by quarter and group of procedures, what was performed,
//! eligible and sent in, who signed it, and which signature a correction made void.

pub(super) mod enter;
mod lines;
pub(super) mod sign;

use actix_web::{HttpResponse, get, web};
use maud::html;
use quietbeam_schema::audit::Actor;
use quietbeam_schema::ids::{CentreCode, MemberId};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

use self::lines::of_quarter;
use super::components::{Mark, Word};
use super::frame::{Page, Visit, may};
use super::words::{capital, counted};
use crate::access::Permit;
use crate::access::action::{ReadScreeningLog, SignScreeningLog, WriteScreeningLog};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::store::{ScreeningLine, ScreeningRow, Store, StoreError};

/// What was saved a moment ago.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Before {
    saved: u32,
}

#[get("/screening-log")]
pub(super) async fn screening_log(
    permit: Permit<ReadScreeningLog>,
    visit: Visit,
    before: Query<Before>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let log = Log::read(permit, visit.signed()?, &store).await?;
    let saved = before.0.saved as usize;
    let quarters = log.quarters();
    let content = html! {
        @if saved > 0 { p role="status" { (Mark::Saved.with(format!("{} saved", capital(&counted(saved, "line", "lines"))))) } }
        div.title {
            div {
                h1 { "Screening log" }
                p.quiet { "Every ablation counts here, sent in or not. Without it nobody can tell whether only the good cases were sent." }
            }
        }
        @if quarters.is_empty() { p { "Nothing is entered yet." } }
        @for (quarter, centre) in quarters.iter().rev() { (of_quarter(&log, *quarter, *centre)) }
    };
    Ok(frame.show(&Page { title: "Screening log".to_owned(), word: Some(Word::ScreeningLog), content }))
}

/// The log within reach, with what the registry holds beside it.
struct Log {
    rows: BTreeMap<ScreeningLine, ScreeningRow>,
    /// The cases that the registry holds of each line.
    cases: BTreeMap<ScreeningLine, u32>,
    /// The latest signature of each line.
    signatures: BTreeMap<ScreeningLine, ScreeningRow>,
    names: BTreeMap<MemberId, String>,
    /// The centres for which who looks enters lines.
    own: BTreeSet<CentreCode>,
    signs: bool,
    now: Instant,
}

impl Log {
    async fn read(permit: Permit<ReadScreeningLog>, caller: &Caller, store: &Store) -> Result<Self, Problem> {
        let writes = may::<WriteScreeningLog>(caller);
        let own = if writes { caller.member().membership.centres().clone() } else { BTreeSet::new() };
        let signs = may::<SignScreeningLog>(caller);
        let log = store
            .read(permit, move |session| {
                let signatures = session.latest_signatures()?;
                let signers = signatures.values().filter_map(|row| row.signed_by);
                Ok::<_, StoreError>(Self {
                    rows: session.list_screening()?.into_iter().map(|row| (row.line, row)).collect(),
                    cases: session.cases_by_line()?,
                    names: session.printed_names(signers)?,
                    now: session.now(),
                    signatures,
                    own,
                    signs,
                })
            })
            .await?;
        Ok(log)
    }

    /// The quarters that have a line or a case, and for who enters lines the last quarter and
    /// this one.
    fn quarters(&self) -> BTreeSet<(Quarter, CentreCode)> {
        let known = self.rows.keys().chain(self.cases.keys()).map(|line| (line.period, line.centre));
        let this = self.now.quarter();
        let last = Instant::begin_of(this).plus_seconds(-1).quarter();
        let expected = self.own.iter().flat_map(|centre| [(last, *centre), (this, *centre)]);
        known.chain(expected).collect()
    }

    fn name(&self, actor: Actor) -> &str {
        match actor {
            Actor::Member(id) => self.names.get(&id).map_or("a former member", String::as_str),
            Actor::Operator => "the operator of the server",
            Actor::Nobody => "nobody",
        }
    }

    /// Where a quarter of a centre is entered or signed.
    fn address(centre: CentreCode, quarter: Quarter, more: &str) -> String {
        format!("/screening-log/{centre}/{quarter}{more}")
    }
}

/// A place in the log that exists now: a quarter that has begun.
fn begun(period: &str, now: Instant) -> Result<Quarter, Problem> {
    let period = Quarter::parse(period).map_err(|_| Problem::absent())?;
    if period > now.quarter() { Err(Problem::absent()) } else { Ok(period) }
}
