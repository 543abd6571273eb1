//! The questions about cases: what waits, for how long, and where. A list that holds one
//! question asked of many cases can be answered at once, and answers can be accepted at once.

mod deed;
mod list;
pub(super) mod many;
pub(super) mod one;

use actix_web::{HttpResponse, get, web};
use quietbeam_schema::data_query::{Origin, Stage};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::instant::Instant;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use self::list::ListView;
use self::many::Sitting;
use crate::access::Permit;
use crate::access::action::{CloseQuery, ListQueries, ReadCase};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::api::cursor::List;
use crate::pages::components::Word;
use crate::pages::frame::{Frame, Page, Visit, may};
use crate::registry::queries::{self, Ageing};
use crate::store::{CaseRow, QueryFilter, QueryGroup, QueryRow, Store, StoreError};

/// The questions of monitors, among the names of rules.
const BY_MONITOR: &str = "monitor";
const DAY: i64 = 86_400;

/// Which questions; a blank asks for what waits for whoever looks.
#[derive(Deserialize, Serialize, Default, Clone)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Asked {
    state: String,
    centre: String,
    field: String,
    rule: String,
    age: String,
    /// With every row ticked.
    #[serde(skip_serializing)]
    all: String,
    #[serde(skip_serializing)]
    saved: u32,
    #[serde(skip_serializing)]
    after: Option<String>,
}

#[get("/queries")]
pub(super) async fn questions(
    _permit: Permit<ListQueries>,
    visit: Visit,
    asked: Query<Asked>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let sitting = Sitting::after(asked.0.saved);
    Ok(frame.show(&page(&frame, &visit, (&asked.0, &sitting), &store).await?))
}

/// The page with what became of what was sent, if anything was.
async fn page(
    frame: &Frame,
    visit: &Visit,
    (asked, sitting): (&Asked, &Sitting),
    store: &Store,
) -> Result<Page, Problem> {
    let found = Found::read(visit.signed()?, asked, store).await?;
    let content = ListView { frame, asked, sitting, found: &found }.draw()?;
    Ok(Page { title: "Data queries".to_owned(), word: Some(Word::DataQueries), content })
}

impl Asked {
    /// The state that is meant.
    fn state(&self, monitors: bool) -> &str {
        match (self.state.as_str(), monitors) {
            ("", true) => "answered",
            ("", false) => "open",
            (state, _) => state,
        }
    }

    /// Whether all rows ask the same about the same field.
    fn is_one_question(&self) -> bool {
        !self.field.is_empty() && !self.rule.is_empty()
    }

    /// `None` when nothing can fit.
    fn filter(&self, monitors: bool, now: Instant) -> Option<QueryFilter> {
        let state = match self.state(monitors) {
            "all" => None,
            state @ ("open" | "answered" | "closed") => Some(state.to_owned()),
            _ => return None,
        };
        let centre = match self.centre.trim() {
            "" => None,
            code => Some(code.parse().ok()?),
        };
        let raised_until = match self.age.trim() {
            "" => None,
            days => Some(now.plus_seconds(-DAY * i64::from(days.parse::<u16>().ok()?))),
        };
        let origin = match self.rule.trim() {
            "" => None,
            BY_MONITOR => Some(Origin::Manual),
            rule => Some(Origin::Rule(rule.to_owned())),
        };
        let field = Some(self.field.trim().to_owned()).filter(|field| !field.is_empty());
        Some(QueryFilter { state, code: None, centre, origin, field, raised_until })
    }

    /// This list with something more to say about it.
    fn address(&self, more: &str) -> String {
        let blank = |(_, value): &(&str, &String)| !value.is_empty();
        let pairs = [
            ("state", &self.state),
            ("centre", &self.centre),
            ("field", &self.field),
            ("rule", &self.rule),
            ("age", &self.age),
        ];
        let pairs: Vec<_> = pairs.into_iter().filter(blank).collect();
        let query = serde_urlencoded::to_string(pairs).unwrap_or_default();
        let parts: Vec<&str> = [query.as_str(), more].into_iter().filter(|part| !part.is_empty()).collect();
        if parts.is_empty() { "/queries".to_owned() } else { format!("/queries?{}", parts.join("&")) }
    }
}

/// What the page shows.
struct Found {
    rows: Vec<QueryRow>,
    number: usize,
    next: Option<String>,
    /// The cases that are asked about, as they stand.
    cases: BTreeMap<CaseCode, CaseRow>,
    /// What asks about what, in this state, whatever else is filtered.
    groups: Vec<QueryGroup>,
    centres: Vec<String>,
    ageing: Vec<Ageing>,
    /// Whether who looks closes questions; others answer them.
    monitors: bool,
    now: Instant,
}

impl Found {
    async fn read(caller: &Caller, asked: &Asked, store: &Store) -> Result<Self, Problem> {
        let monitors = may::<CloseQuery>(caller);
        let list = List::of("pages of queries", caller.actor(), asked);
        let request = list.page(None, asked.after.as_deref())?;
        let asked = asked.clone();
        let mut found = store
            .read(caller.permit::<ListQueries>()?, move |session| {
                let now = session.now();
                let filter = asked.filter(monitors, now);
                let in_state = Asked { state: asked.state.clone(), ..Asked::default() }.filter(monitors, now);
                let mut found = Self {
                    rows: Vec::new(),
                    number: 0,
                    next: None,
                    cases: BTreeMap::new(),
                    groups: in_state.map_or(Ok(Vec::new()), |filter| session.query_groups(&filter))?,
                    centres: Vec::new(),
                    ageing: if monitors { queries::ageing(session)? } else { Vec::new() },
                    monitors,
                    now,
                };
                if let Some(filter) = filter {
                    found.number = session.count_queries(&filter)?;
                    // What waits longest comes first; what is settled, last settled first.
                    let page = match filter.state.as_deref() {
                        Some("open" | "answered") => session.oldest_queries(&filter, request)?,
                        _ => session.list_queries(&filter, request)?,
                    };
                    let shown = list.show(page, |row| row);
                    let codes: Vec<CaseCode> = shown.items.iter().map(|row| row.query.code).collect();
                    found.cases = session.existing_cases(&codes)?;
                    (found.rows, found.next) = (shown.items, shown.next);
                }
                Ok::<_, StoreError>(found)
            })
            .await?;
        let centres = store.read(caller.permit::<ReadCase>()?, |session| session.list_centres()).await?;
        found.centres = centres.iter().map(|centre| centre.code.to_string()).collect();
        Ok(found)
    }

    /// Whether a row can be ticked: who answers ticks what is open, who closes what is answered.
    fn can_be_ticked(&self, row: &QueryRow, asked: &Asked) -> bool {
        match row.query.stage {
            Stage::Open { .. } => !self.monitors && asked.is_one_question(),
            Stage::Answered { .. } => self.monitors,
            Stage::Closed { .. } => false,
        }
    }
}
