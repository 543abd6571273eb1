//! The approvals of centres. Nothing is changed in place: a renewal is another approval, and a
//! withdrawal stands beside the one it takes back.

use diesel::prelude::*;
use quietbeam_schema::audit::{Deed, Event, Reason, Subject};
use quietbeam_schema::centre_approval::{Approval, Terms, Withdrawal};
use quietbeam_schema::ids::{ApprovalId, CentreCode};
use quietbeam_schema::vocabulary::{ApprovalKind, Coded};
use serde_json::json;

use super::cuts::{DataCut, ReadsCuts};
use super::error::{Broken, Conflict, StoreError};
use super::session::{Session, Writing, read};
use super::tables::{approval_withdrawal, audit_event, centre_approval};
use crate::access::Action;
use crate::access::action::{ImportFiles, ManageCentres, ReadCentres, SubmitCase};

/// The permits that see approvals.
pub trait ReadsApprovals: Action {}
impl ReadsApprovals for ReadCentres {}
impl ReadsApprovals for ManageCentres {}
impl ReadsApprovals for SubmitCase {}
impl ReadsApprovals for ImportFiles {}

type Columns = (String, String, String, String, String, String, Option<String>, String, String);
type Withdrawn = Option<(String, String, String)>;

impl<A: ReadsApprovals, M> Session<'_, A, M> {
    /// The approvals of a centre, the one that holds longest first.
    pub fn list_approvals(&mut self, centre: CentreCode) -> Result<Vec<Approval>, StoreError> {
        self.within(centre)?;
        self.approvals(Some(vec![centre.to_string()]))
    }
}

impl<A: ReadsCuts, M> Session<'_, A, M> {
    /// The approvals of every centre as they stood when a cut was taken; what was recorded or
    /// taken back later is not among them.
    pub fn approvals_at(&mut self, cut: &DataCut) -> Result<Vec<Approval>, StoreError> {
        let taken = self.trail_until(cut)?;
        let steps: Vec<(String, String)> = audit_event::table
            .select((audit_event::subject_id, audit_event::deed))
            .filter(audit_event::subject.eq(Subject::Approval.name()))
            .filter(audit_event::seq.lt(taken))
            .load(self.connection)?;
        let (withdrawn, recorded): (Vec<_>, Vec<_>) =
            steps.into_iter().partition(|(_, deed)| deed == Deed::ApprovalWithdrawn.name());
        let among =
            |steps: &[(String, String)], id: ApprovalId| steps.iter().any(|(one, _)| *one == id.to_string());
        let centres = self.centres();
        let stood = |mut approval: Approval| {
            approval.withdrawn = approval.withdrawn.filter(|_| among(&withdrawn, approval.id));
            among(&recorded, approval.id).then_some(approval)
        };
        Ok(self.approvals(centres)?.into_iter().filter_map(stood).collect())
    }
}

impl<A: Action, M> Session<'_, A, M> {
    /// The approvals of some centres, or of all, the one that holds longest first.
    fn approvals(&mut self, centres: Option<Vec<String>>) -> Result<Vec<Approval>, StoreError> {
        let withdrawal =
            (approval_withdrawal::reason, approval_withdrawal::actor, approval_withdrawal::at).nullable();
        let mut query = centre_approval::table
            .left_join(approval_withdrawal::table)
            .select((centre_approval::all_columns, withdrawal))
            .order((centre_approval::valid_until.desc(), centre_approval::id.desc()))
            .into_boxed();
        if let Some(centres) = centres {
            query = query.filter(centre_approval::centre.eq_any(centres));
        }
        let rows: Vec<(Columns, Withdrawn)> = query.load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }
}

impl Session<'_, ManageCentres, Writing> {
    /// Records an approval, or the renewal of one. The caller has checked it with
    /// [`Terms::check`].
    pub fn record_approval(
        &mut self,
        centre: CentreCode,
        terms: Terms,
        renews: Option<ApprovalId>,
    ) -> Result<Approval, StoreError> {
        let (id, by, at) = (self.new_id(ApprovalId::from_random)?, self.actor(), self.now());
        diesel::insert_into(centre_approval::table)
            .values((
                centre_approval::id.eq(id.to_string()),
                centre_approval::centre.eq(centre.to_string()),
                centre_approval::kind.eq(terms.kind.code()),
                centre_approval::reference.eq(terms.reference.clone()),
                centre_approval::valid_from.eq(terms.valid_from.to_string()),
                centre_approval::valid_until.eq(terms.valid_until.to_string()),
                centre_approval::renews.eq(renews.map(|id| id.to_string())),
                centre_approval::actor.eq(by.to_string()),
                centre_approval::at.eq(at.to_string()),
            ))
            .execute(self.connection)?;
        let deed = if renews.is_some() { Deed::ApprovalRenewed } else { Deed::ApprovalRecorded };
        let after = json!({ "terms": terms, "renews": renews });
        self.record(Event::new(deed, Subject::Approval, id).at_centre(centre).values(None, Some(after)))?;
        Ok(Approval { id, centre, terms, renews, by, at, withdrawn: None })
    }

    /// Takes an approval back.
    pub fn withdraw_approval(&mut self, old: Approval, reason: &Reason) -> Result<Approval, StoreError> {
        if old.withdrawn.is_some() {
            return Err(Conflict::Race.into());
        }
        let withdrawal = Withdrawal { reason: reason.as_str().to_owned(), by: self.actor(), at: self.now() };
        diesel::insert_into(approval_withdrawal::table)
            .values((
                approval_withdrawal::approval.eq(old.id.to_string()),
                approval_withdrawal::reason.eq(withdrawal.reason.clone()),
                approval_withdrawal::actor.eq(withdrawal.by.to_string()),
                approval_withdrawal::at.eq(withdrawal.at.to_string()),
            ))
            .execute(self.connection)?;
        let event = Event::new(Deed::ApprovalWithdrawn, Subject::Approval, old.id).at_centre(old.centre);
        self.record(event.values(Some(json!(old.terms)), None).because(Some(withdrawal.reason.clone())))?;
        Ok(Approval { withdrawn: Some(withdrawal), ..old })
    }
}

fn read_row((columns, withdrawn): (Columns, Withdrawn)) -> Result<Approval, StoreError> {
    const TABLE: &str = "centre_approval";
    let (id, centre, kind, reference, valid_from, valid_until, renews, by, at) = columns;
    let withdrawal = |(reason, by, at): (String, String, String)| {
        const TABLE: &str = "approval_withdrawal";
        Ok::<_, StoreError>(Withdrawal {
            reason,
            by: read(&by, TABLE, "actor")?,
            at: read(&at, TABLE, "at")?,
        })
    };
    Ok(Approval {
        id: read(&id, TABLE, "id")?,
        centre: read(&centre, TABLE, "centre")?,
        terms: Terms {
            kind: ApprovalKind::from_code(&kind)
                .ok_or(Broken::Unreadable { table: TABLE, column: "kind" })?,
            reference,
            valid_from: read(&valid_from, TABLE, "valid_from")?,
            valid_until: read(&valid_until, TABLE, "valid_until")?,
        },
        renews: renews.map(|id| read(&id, TABLE, "renews")).transpose()?,
        by: read(&by, TABLE, "actor")?,
        at: read(&at, TABLE, "at")?,
        withdrawn: withdrawn.map(withdrawal).transpose()?,
    })
}
