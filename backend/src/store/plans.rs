//! Analysis plans: a plan never changes; an amendment is a further version under its number.

use diesel::dsl::{count_star, max};
use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Reason, Subject};
use quietbeam_schema::ids::PlanId;
use quietbeam_schema::instant::Instant;
use serde_json::json;

use super::connection::MultiBackend;
use super::error::StoreError;
use super::session::{Session, Writing, read, sha256_hex};
use super::tables::{analysis_plan, audit_event, comparison};
use crate::access::Action;
use crate::access::action::{DraftSummary, ReadComparisons, ReadPlans, RegisterPlan, RunComparison};

/// The permits that read plans.
pub trait ReadsPlans: Action {}
impl ReadsPlans for ReadPlans {}
impl ReadsPlans for RegisterPlan {}
impl ReadsPlans for RunComparison {}
impl ReadsPlans for ReadComparisons {}
impl ReadsPlans for DraftSummary {}

/// A plan to be kept; its content is canonical JSON.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPlan {
    /// A few words.
    pub title: String,
    /// The plan.
    pub content: String,
    /// Cases in its scope that had been entered before.
    pub cases_before: i64,
}

/// A version of a plan as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// The version's identifier.
    pub id: PlanId,
    /// The plan's number; all its versions have it.
    pub number: i64,
    /// 1 for the plan as it was registered, 2 for its first amendment.
    pub version: i64,
    /// What it says.
    pub new: NewPlan,
    /// SHA-256 of the content.
    pub content_hash: String,
    /// Why it was amended.
    pub reason: Option<String>,
    /// Comparisons that had been computed on any cut before.
    pub comparisons_before: i64,
    /// How often anyone had opened one of them before: each person once with each of them.
    pub opened_before: i64,
    /// Who registered it.
    pub actor: Actor,
    /// When.
    pub at: Instant,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = analysis_plan, check_for_backend(MultiBackend))]
struct Row {
    id: String,
    number: i64,
    version: i64,
    title: String,
    content: String,
    content_hash: String,
    reason: Option<String>,
    cases_before: i64,
    comparisons_before: i64,
    opened_before: i64,
    actor: String,
    at: String,
}

impl<A: ReadsPlans, M> Session<'_, A, M> {
    /// Every version of every plan, the newest plan first and its newest version first.
    pub fn list_plans(&mut self) -> Result<Vec<Plan>, StoreError> {
        let order = (analysis_plan::number.desc(), analysis_plan::version.desc());
        let rows: Vec<Row> =
            analysis_plan::table.select(Row::as_select()).order(order).load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }

    /// One version.
    pub fn find_plan(&mut self, id: PlanId) -> Result<Plan, StoreError> {
        let row: Option<Row> = analysis_plan::table
            .select(Row::as_select())
            .filter(analysis_plan::id.eq(id.to_string()))
            .first(self.connection)
            .optional()?;
        row.map_or(Err(StoreError::Absent("analysis plan")), read_row)
    }

    /// The version before one, if it is an amendment.
    pub fn plan_before(&mut self, plan: &Plan) -> Result<Option<Plan>, StoreError> {
        let row: Option<Row> = analysis_plan::table
            .select(Row::as_select())
            .filter(analysis_plan::number.eq(plan.number))
            .filter(analysis_plan::version.eq(plan.version - 1))
            .first(self.connection)
            .optional()?;
        row.map(read_row).transpose()
    }
}

impl Session<'_, RegisterPlan, Writing> {
    /// Registers a plan under the next number.
    pub fn register_plan(&mut self, new: NewPlan) -> Result<Plan, StoreError> {
        let latest: Option<i64> =
            analysis_plan::table.select(max(analysis_plan::number)).first(self.connection)?;
        self.keep_plan(new, (latest.unwrap_or(0) + 1, 1), None)
    }

    /// Registers a further version of a plan.
    pub fn amend_plan(&mut self, old: &Plan, new: NewPlan, reason: &Reason) -> Result<Plan, StoreError> {
        let latest: Option<i64> = analysis_plan::table
            .select(max(analysis_plan::version))
            .filter(analysis_plan::number.eq(old.number))
            .first(self.connection)?;
        self.keep_plan(new, (old.number, latest.unwrap_or(0) + 1), Some(reason))
    }

    fn keep_plan(
        &mut self,
        new: NewPlan,
        (number, version): (i64, i64),
        reason: Option<&Reason>,
    ) -> Result<Plan, StoreError> {
        let comparisons_before: i64 = comparison::table.select(count_star()).first(self.connection)?;
        // The same person with the same comparison again, or its file, shows nothing new.
        let readers: Vec<(String, String)> = audit_event::table
            .select((audit_event::actor, audit_event::subject_id))
            .filter(audit_event::deed.eq(Deed::ComparisonOpened.name()))
            .distinct()
            .load(self.connection)?;
        let plan = Plan {
            id: self.new_id(PlanId::from_random)?,
            number,
            version,
            content_hash: sha256_hex(new.content.as_bytes()),
            reason: reason.map(|reason| reason.as_str().to_owned()),
            comparisons_before,
            opened_before: readers.len() as i64,
            actor: self.actor(),
            at: self.now(),
            new,
        };
        diesel::insert_into(analysis_plan::table)
            .values((
                analysis_plan::id.eq(plan.id.to_string()),
                analysis_plan::number.eq(plan.number),
                analysis_plan::version.eq(plan.version),
                analysis_plan::title.eq(plan.new.title.clone()),
                analysis_plan::content.eq(plan.new.content.clone()),
                analysis_plan::content_hash.eq(plan.content_hash.clone()),
                analysis_plan::reason.eq(plan.reason.clone()),
                analysis_plan::cases_before.eq(plan.new.cases_before),
                analysis_plan::comparisons_before.eq(plan.comparisons_before),
                analysis_plan::opened_before.eq(plan.opened_before),
                analysis_plan::actor.eq(plan.actor.to_string()),
                analysis_plan::at.eq(plan.at.to_string()),
            ))
            .execute(self.connection)?;
        let deed = if version == 1 { Deed::PlanRegistered } else { Deed::PlanAmended };
        let after = json!({ "number": number, "version": version, "content_hash": plan.content_hash });
        let event = Event::new(deed, Subject::AnalysisPlan, plan.id).values(None, Some(after));
        self.record(event.because(plan.reason.clone()))?;
        Ok(plan)
    }
}

fn read_row(row: Row) -> Result<Plan, StoreError> {
    const TABLE: &str = "analysis_plan";
    Ok(Plan {
        id: read(&row.id, TABLE, "id")?,
        number: row.number,
        version: row.version,
        new: NewPlan { title: row.title, content: row.content, cases_before: row.cases_before },
        content_hash: row.content_hash,
        reason: row.reason,
        comparisons_before: row.comparisons_before,
        opened_before: row.opened_before,
        actor: read(&row.actor, TABLE, "actor")?,
        at: read(&row.at, TABLE, "at")?,
    })
}
