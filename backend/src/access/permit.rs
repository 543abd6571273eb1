//! The right to do one thing, for one actor, in some centres.

use std::collections::BTreeSet;
use std::marker::PhantomData;

use quietbeam_schema::access::{Role, Scope};
use quietbeam_schema::audit::Actor;
use quietbeam_schema::ids::{CentreCode, MemberId};

use super::action::{Action, Policed, ReadPublished, SignIn};

/// The centres an actor reaches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CentreScope {
    /// Every centre.
    All,
    /// These and no other.
    These(BTreeSet<CentreCode>),
}

impl CentreScope {
    /// Whether the centre is among them.
    pub fn covers(&self, centre: CentreCode) -> bool {
        match self {
            CentreScope::All => true,
            CentreScope::These(centres) => centres.contains(&centre),
        }
    }
}

/// The right to do `A`. Its fields are private and it is made in few places only: from a
/// member whose authority was just read from the database, and for the operator at the
/// command line; only what was published is open to everyone.
pub struct Permit<A: Action> {
    actor: Actor,
    role: Option<Role>,
    centres: CentreScope,
    request_id: String,
    action: PhantomData<fn() -> A>,
}

/// The role does not reach the action.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a {role} may not do this ({action})")]
pub struct NotAllowed {
    /// The role of the member.
    pub role: Role,
    /// The action refused.
    pub action: quietbeam_schema::access::Action,
}

impl<A: Policed> Permit<A> {
    /// For the command line and for jobs: whoever reaches these already holds the database.
    /// The reason stands in the audit trail in place of a request.
    pub fn for_operator(reason: &str) -> Self {
        Self::new(Actor::Operator, None, CentreScope::All, reason.to_owned())
    }

    /// For a member; `authority` comes from the database at this very request.
    pub(super) fn for_member(authority: &Authority, request_id: &str) -> Result<Self, NotAllowed> {
        let centres = match authority.role.scope(A::POLICY) {
            Scope::No => return Err(NotAllowed { role: authority.role, action: A::POLICY }),
            Scope::OwnCentres => CentreScope::These(authority.centres.clone()),
            Scope::AllCentres => CentreScope::All,
        };
        let actor = Actor::Member(authority.member);
        Ok(Self::new(actor, Some(authority.role), centres, request_id.to_owned()))
    }
}

impl Permit<SignIn> {
    /// For finding out who asks.
    pub(super) fn to_sign_in(request_id: &str) -> Self {
        let nowhere = CentreScope::These(BTreeSet::new());
        Self::new(Actor::Nobody, None, nowhere, request_id.to_owned())
    }
}

impl Permit<ReadPublished> {
    /// For everyone.
    pub fn public() -> Self {
        Self::new(Actor::Nobody, None, CentreScope::These(BTreeSet::new()), "public".to_owned())
    }
}

impl<A: Action> Permit<A> {
    fn new(actor: Actor, role: Option<Role>, centres: CentreScope, request_id: String) -> Self {
        Self { actor, role, centres, request_id, action: PhantomData }
    }

    /// Who acts.
    pub fn actor(&self) -> Actor {
        self.actor
    }

    /// As what the actor acts, for the audit trail.
    pub fn role_name(&self) -> &'static str {
        match (self.role, self.actor) {
            (Some(role), _) => role.name(),
            (None, Actor::Operator) => "operator",
            (None, _) => "none",
        }
    }

    /// The centres the actor reaches.
    pub fn centres(&self) -> &CentreScope {
        &self.centres
    }

    /// The request the act belongs to.
    pub fn request_id(&self) -> &str {
        &self.request_id
    }
}

/// What a member may do, as the database says it now.
pub(super) struct Authority {
    pub(super) member: MemberId,
    pub(super) role: Role,
    pub(super) centres: BTreeSet<CentreCode>,
}
