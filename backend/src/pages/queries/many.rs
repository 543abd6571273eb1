//! One answer to many questions, or one judgement of many answers. What is in order is kept,
//! what is refused is told by row.

use actix_web::{HttpResponse, post, web};
use maud::{Markup, html};
use quietbeam_schema::ids::DataQueryId;
use std::collections::{BTreeMap, BTreeSet};

use super::deed::{Deed, Refusal};
use super::{Asked, page};
use crate::access::Permit;
use crate::access::action::ListQueries;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::pages::components::{FieldId, Mark, error_summary};
use crate::pages::form::{Posted, unreadable};
use crate::pages::frame::{Visit, see_other};
use crate::pages::trouble::{Trouble, Troubles};
use crate::pages::words::{capital, code_groups, counted};
use crate::registry::IfMatch;
use crate::registry::queries::Mend;
use crate::store::{QueryRow, Store};

/// The anchor of a row's box.
pub(super) fn tick_id(id: DataQueryId) -> FieldId {
    FieldId::of(&format!("pick-{id}"))
}

#[post("/queries")]
pub(in crate::pages) async fn send(
    permit: Permit<ListQueries>,
    visit: Visit,
    asked: Query<Asked>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let asked = asked.0;
    let picked = picked(&posted)?;
    let mut sitting = Sitting::of(&posted, &picked);
    // Another centre's question is absent, before anything of the sitting is kept.
    let rows = store
        .read(permit, move |session| {
            picked.into_iter().map(|id| session.find_query(id)).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    if rows.is_empty() {
        sitting.refuse_all("Tick the rows that it is for.");
    }
    for row in rows {
        let id = row.query.id;
        match deed(&posted, id)?.perform(visit.signed()?, &store, id).await? {
            Ok(_) => sitting.saved += 1,
            Err(Refusal::Row(sentence)) => sitting.refuse(row, sentence),
            Err(Refusal::Sentence(sentence)) => {
                sitting.refuse_all(sentence);
                break;
            }
        }
    }
    if sitting.is_whole() {
        return Ok(see_other(&asked.address(&format!("saved={}", sitting.saved))));
    }
    let frame = visit.frame(&store).await?;
    Ok(frame.refuse(&page(&frame, &visit, (&asked, &sitting), &store).await?))
}

fn picked(posted: &Posted) -> Result<BTreeSet<DataQueryId>, Problem> {
    posted.all("pick").map(|id| id.parse().map_err(|_| unreadable())).collect()
}

/// What the form wants done with a row.
fn deed(posted: &Posted, id: DataQueryId) -> Result<Deed, Problem> {
    let sentence = posted.one("sentence").to_owned();
    match posted.one("do") {
        "answer" => Ok(Deed::Answer(sentence)),
        "accept" => Ok(Deed::Accept(sentence)),
        "reopen" => Ok(Deed::Reopen(sentence)),
        "unit" => {
            let read = IfMatch::parse(posted.one(&format!("read-{id}"))).ok_or_else(unreadable)?;
            let mend = Mend::Unit(posted.one("unit").to_owned());
            Ok(Deed::Change { read, mend, because: sentence })
        }
        _ => Err(unreadable()),
    }
}

/// What became of what was sent.
#[derive(Default)]
pub(super) struct Sitting {
    saved: usize,
    sentence: String,
    unit: String,
    picked: BTreeSet<DataQueryId>,
    refused: BTreeMap<DataQueryId, (QueryRow, String)>,
    sentence_refused: Option<String>,
}

impl Sitting {
    /// Nothing is sent; so many questions were done a moment ago.
    pub(super) fn after(saved: u32) -> Self {
        Self { saved: saved as usize, ..Self::default() }
    }

    fn of(posted: &Posted, picked: &BTreeSet<DataQueryId>) -> Self {
        Self {
            sentence: posted.one("sentence").to_owned(),
            unit: posted.one("unit").to_owned(),
            picked: picked.clone(),
            ..Self::default()
        }
    }

    fn refuse(&mut self, row: QueryRow, sentence: String) {
        self.refused.insert(row.query.id, (row, sentence));
    }

    fn refuse_all(&mut self, sentence: impl Into<String>) {
        self.sentence_refused = Some(sentence.into());
    }

    fn is_whole(&self) -> bool {
        self.refused.is_empty() && self.sentence_refused.is_none()
    }

    /// The sentence as it was typed.
    pub(super) fn sentence(&self) -> &str {
        &self.sentence
    }

    /// The unit as it was chosen.
    pub(super) fn unit(&self) -> &str {
        &self.unit
    }

    /// Whether a row was ticked and is still to be done.
    pub(super) fn is_picked(&self, id: DataQueryId) -> bool {
        self.picked.contains(&id)
    }

    /// Why a row was refused.
    pub(super) fn said(&self, id: DataQueryId) -> Option<&str> {
        self.refused.get(&id).map(|(_, sentence)| sentence.as_str())
    }

    /// Why the sentence was refused.
    pub(super) fn sentence_refused(&self) -> Option<&str> {
        self.sentence_refused.as_deref()
    }

    /// What must be mended, and what was kept.
    pub(super) fn summary(&self) -> Markup {
        let row = |(id, (row, sentence)): (&DataQueryId, &(QueryRow, String))| Trouble {
            field: tick_id(*id),
            sentence: format!("{}: {sentence}", code_groups(&row.query.code).join("\u{a0}")),
        };
        let all = self
            .sentence_refused
            .iter()
            .map(|sentence| Trouble { field: FieldId::of("sentence"), sentence: sentence.clone() });
        let troubles = Troubles::of_rows(all.chain(self.refused.iter().map(row)).collect());
        html! {
            @if let Some(troubles) = troubles { (error_summary(&troubles, "the rest is kept")) }
            @if self.saved > 0 {
                p role="status" {
                    (Mark::Saved.with(format!("{} done", capital(&counted(self.saved, "question", "questions")))))
                }
            }
        }
    }
}
