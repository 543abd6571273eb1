//! Safety summaries on their way to the public. The core decides each step; the database
//! freezes the content from the approval on.

use diesel::dsl::max;
use diesel::prelude::*;
use quietbeam_schema::audit::{Deed, Event, Reason, Subject};
use quietbeam_schema::ids::{DataCutId, SummaryId, SummaryNumber};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::summary::{Step, SummaryStage};
use serde_json::json;

use super::connection::MultiBackend;
use super::error::{Conflict, StoreError};
use super::session::{Session, Writing, read, read_json, sha256_hex, to_json};
use super::tables::{data_cut, safety_summary};
use crate::access::Action;
use crate::access::action::{
    ApproveSummary, DraftSummary, PublishSummary, ReadPublished, ReadSummaryDrafts, WithdrawSummary,
};

/// The permits that read summaries in any stage.
pub trait ReadsSummaries: Action {}
impl ReadsSummaries for DraftSummary {}
impl ReadsSummaries for ApproveSummary {}
impl ReadsSummaries for PublishSummary {}
impl ReadsSummaries for WithdrawSummary {}
impl ReadsSummaries for ReadSummaryDrafts {}

/// A summary in any stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summary {
    /// Its identifier.
    pub id: SummaryId,
    /// The cut it was made from.
    pub cut: DataCutId,
    /// Where it stands.
    pub stage: SummaryStage,
    /// What it says, as canonical JSON.
    pub content: String,
    /// SHA-256 of what it says.
    pub content_hash: String,
    /// What every seat could learn from it and all before it, as JSON; never public.
    pub learnt: Option<String>,
}

impl Summary {
    /// SHA-256 of what it says and of what could be learnt from it: what an approver signs.
    pub fn approval_hash(&self) -> String {
        let learnt = sha256_hex(self.learnt.as_deref().unwrap_or_default().as_bytes());
        sha256_hex(format!("{}\n{learnt}", self.content_hash).as_bytes())
    }
}

/// A summary that is not kept yet.
#[derive(Debug, Clone)]
pub struct NewSummary {
    /// The cut it was made from.
    pub cut: DataCutId,
    /// What it says, as canonical JSON.
    pub content: String,
    /// What every seat could learn from it, as JSON.
    pub learnt: Option<String>,
}

/// What everyone may see of a summary that was published.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PublicSummary {
    /// Its number.
    pub number: SummaryNumber,
    /// The cut it was made from.
    pub cut: DataCutId,
    /// The hash of that cut.
    pub cut_hash: String,
    /// When it was published.
    pub published_at: Instant,
    /// SHA-256 of what it says.
    pub content_hash: String,
    /// What it says, or why it no longer says it.
    pub body: PublicBody,
}

/// What a published summary says, or why it no longer says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PublicBody {
    /// Canonical JSON.
    InForce(String),
    /// Not to be relied on.
    Withdrawn {
        /// When it was withdrawn.
        at: Instant,
        /// Why.
        reason: String,
        /// The summary that says it right.
        corrected_by: Option<SummaryNumber>,
    },
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = safety_summary, check_for_backend(MultiBackend))]
struct Row {
    id: String,
    cut: String,
    stage: String,
    content: String,
    content_hash: String,
    learnt: Option<String>,
}

impl<A: ReadsSummaries, M> Session<'_, A, M> {
    /// All summaries, newest first.
    pub fn list_summaries(&mut self) -> Result<Vec<Summary>, StoreError> {
        let rows: Vec<Row> = safety_summary::table
            .select(Row::as_select())
            .order((safety_summary::drafted_at.desc(), safety_summary::id.desc()))
            .load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }

    /// One summary.
    pub fn find_summary(&mut self, id: SummaryId) -> Result<Summary, StoreError> {
        let row: Option<Row> = safety_summary::table
            .select(Row::as_select())
            .filter(safety_summary::id.eq(id.to_string()))
            .first(self.connection)
            .optional()?;
        row.map_or(Err(StoreError::Absent("safety summary")), read_row)
    }

    /// How many were ever published, withdrawn ones with them.
    pub fn published_so_far(&mut self) -> Result<i64, StoreError> {
        let latest: Option<i64> =
            safety_summary::table.select(max(safety_summary::number)).first(self.connection)?;
        Ok(latest.unwrap_or(0))
    }
}

impl<M> Session<'_, ReadPublished, M> {
    /// What was published, newest first. Drafts do not exist here.
    pub fn list_published(&mut self) -> Result<Vec<PublicSummary>, StoreError> {
        let rows: Vec<(Row, String)> = safety_summary::table
            .inner_join(data_cut::table)
            .select((Row::as_select(), data_cut::content_hash))
            .filter(safety_summary::number.is_not_null())
            .order(safety_summary::number.desc())
            .load(self.connection)?;
        rows.into_iter().filter_map(|(row, cut_hash)| to_public(row, cut_hash).transpose()).collect()
    }

    /// One published summary.
    pub fn find_published(&mut self, number: SummaryNumber) -> Result<PublicSummary, StoreError> {
        let row: Option<(Row, String)> = safety_summary::table
            .inner_join(data_cut::table)
            .select((Row::as_select(), data_cut::content_hash))
            .filter(safety_summary::number.eq(number.0))
            .first(self.connection)
            .optional()?;
        let found = row.map(|(row, cut_hash)| to_public(row, cut_hash)).transpose()?.flatten();
        found.ok_or(StoreError::Absent("safety summary"))
    }
}

impl Session<'_, DraftSummary, Writing> {
    /// Keeps a draft.
    pub fn draft_summary(&mut self, new: &NewSummary) -> Result<SummaryId, StoreError> {
        let NewSummary { cut, content, learnt } = new;
        self.find_cut(*cut)?;
        let id = self.new_id(SummaryId::from_random)?;
        let stage = SummaryStage::Draft { drafted: self.this_step() };
        let content_hash = sha256_hex(content.as_bytes());
        diesel::insert_into(safety_summary::table)
            .values((
                safety_summary::id.eq(id.to_string()),
                safety_summary::number.eq(None::<i64>),
                safety_summary::cut.eq(cut.to_string()),
                safety_summary::state.eq(stage.name()),
                safety_summary::stage.eq(to_json(&stage)?),
                safety_summary::content.eq(content),
                safety_summary::content_hash.eq(content_hash.clone()),
                safety_summary::drafted_at.eq(self.now().to_string()),
                safety_summary::learnt.eq(learnt),
            ))
            .execute(self.connection)?;
        let after = json!({ "cut": cut, "content_hash": content_hash });
        self.record(Event::new(Deed::SummaryDrafted, Subject::SafetySummary, id).values(None, Some(after)))?;
        Ok(id)
    }
}

impl Session<'_, ApproveSummary, Writing> {
    /// Approves the disclosure of exactly what was looked at.
    pub fn approve_summary(&mut self, id: SummaryId, approval_hash: &str) -> Result<Summary, StoreError> {
        let old = self.find_summary(id)?;
        if old.approval_hash() != approval_hash {
            return Err(Conflict::Race.into());
        }
        let stage = old.stage.clone().approve(self.this_step())?;
        self.keep_stage(old, stage, Deed::SummaryApproved, None)
    }

    /// Keeps what could be learnt from a draft now that more was published. What an approver signs
    /// is another then.
    pub fn renew_learnt(&mut self, id: SummaryId, learnt: &str) -> Result<(), StoreError> {
        diesel::update(safety_summary::table)
            .filter(safety_summary::id.eq(id.to_string()))
            .filter(safety_summary::state.eq("draft"))
            .set(safety_summary::learnt.eq(learnt))
            .execute(self.connection)?;
        let after = json!({ "learnt_hash": sha256_hex(learnt.as_bytes()) });
        self.record(Event::new(Deed::SummaryAttacked, Subject::SafetySummary, id).values(None, Some(after)))
    }
}

/// The permits of the steps to the public, before each of which a summary is attacked.
pub trait LeadsToPublic: ReadsSummaries {}
impl LeadsToPublic for ApproveSummary {}
impl LeadsToPublic for PublishSummary {}

impl<A: LeadsToPublic> Session<'_, A, Writing> {
    /// Ends the way of a summary that would give a count away, with what could be learnt from it.
    pub fn refuse_summary(
        &mut self,
        id: SummaryId,
        learnt: String,
        reason: String,
    ) -> Result<Summary, StoreError> {
        let old = self.find_summary(id)?;
        let stage = old.stage.clone().refuse(self.this_step(), reason.clone())?;
        let old = Summary { learnt: Some(learnt), ..old };
        self.keep_stage(old, stage, Deed::SummaryRefused, Some(reason))
    }
}

impl Session<'_, PublishSummary, Writing> {
    /// Publishes an approved summary under the next number.
    pub fn publish_summary(&mut self, id: SummaryId) -> Result<(SummaryNumber, Summary), StoreError> {
        let old = self.find_summary(id)?;
        let number = SummaryNumber(self.published_so_far()? + 1);
        let stage = old.stage.clone().publish(self.this_step(), number)?;
        let new = self.keep_stage(old, stage, Deed::SummaryPublished, None)?;
        Ok((number, new))
    }
}

impl Session<'_, WithdrawSummary, Writing> {
    /// Withdraws a published summary. Its number and the reason stay public.
    pub fn withdraw_summary(
        &mut self,
        id: SummaryId,
        reason: &Reason,
        corrected_by: Option<SummaryNumber>,
    ) -> Result<Summary, StoreError> {
        let old = self.find_summary(id)?;
        let stage = old.stage.clone().withdraw(self.this_step(), reason, corrected_by)?;
        self.keep_stage(old, stage, Deed::SummaryWithdrawn, Some(reason.as_str().to_owned()))
    }
}

impl<A: Action> Session<'_, A, Writing> {
    fn this_step(&self) -> Step {
        Step { by: self.actor(), at: self.now() }
    }

    fn keep_stage(
        &mut self,
        old: Summary,
        stage: SummaryStage,
        deed: Deed,
        reason: Option<String>,
    ) -> Result<Summary, StoreError> {
        let number = match &stage {
            SummaryStage::Published { number, .. } | SummaryStage::Withdrawn { number, .. } => Some(number.0),
            SummaryStage::Draft { .. } | SummaryStage::Approved { .. } | SummaryStage::Refused { .. } => None,
        };
        let kept = diesel::update(safety_summary::table)
            .filter(safety_summary::id.eq(old.id.to_string()))
            .filter(safety_summary::stage.eq(to_json(&old.stage)?))
            .set((
                safety_summary::number.eq(number),
                safety_summary::state.eq(stage.name()),
                safety_summary::stage.eq(to_json(&stage)?),
                safety_summary::learnt.eq(&old.learnt),
            ))
            .execute(self.connection)?;
        if kept != 1 {
            return Err(Conflict::Race.into());
        }
        let mut after = json!({
            "state": stage.name(),
            "number": number,
            "content_hash": old.content_hash,
            "approval_hash": old.approval_hash(),
        });
        if let SummaryStage::Withdrawn { corrected_by: Some(by), .. } = &stage {
            after["corrected_by"] = json!(by.0);
        }
        let event = Event::new(deed, Subject::SafetySummary, old.id)
            .values(Some(json!({ "state": old.stage.name() })), Some(after))
            .because(reason);
        self.record(event)?;
        Ok(Summary { stage, ..old })
    }
}

fn read_row(row: Row) -> Result<Summary, StoreError> {
    const TABLE: &str = "safety_summary";
    Ok(Summary {
        id: read(&row.id, TABLE, "id")?,
        cut: read(&row.cut, TABLE, "cut")?,
        stage: read_json(&row.stage, TABLE, "stage")?,
        content: row.content,
        content_hash: row.content_hash,
        learnt: row.learnt,
    })
}

/// Nothing of a summary that was never published, and no content of a withdrawn one.
fn to_public(row: Row, cut_hash: String) -> Result<Option<PublicSummary>, StoreError> {
    let Summary { cut, stage, content, content_hash, .. } = read_row(row)?;
    let (number, published, body) = match stage {
        SummaryStage::Draft { .. } | SummaryStage::Approved { .. } | SummaryStage::Refused { .. } => {
            return Ok(None);
        }
        SummaryStage::Published { published, number, .. } => {
            (number, published, PublicBody::InForce(content))
        }
        SummaryStage::Withdrawn { published, number, withdrawn, reason, corrected_by, .. } => {
            (number, published, PublicBody::Withdrawn { at: withdrawn.at, reason, corrected_by })
        }
    };
    Ok(Some(PublicSummary { number, cut, cut_hash, published_at: published.at, content_hash, body }))
}
