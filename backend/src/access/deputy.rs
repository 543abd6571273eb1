//! The right to finish what somebody asked for, after the request is over: with the authority
//! that the database gives the member at that moment, or not at all.

use quietbeam_schema::ids::MemberId;

use super::Policed;
use super::permit::{Authority, Permit};
use crate::store::{Store, StoreError};

/// The permit of a member who asked; `None` when the member may no longer do it.
///
/// # Errors
/// When the store fails.
pub fn permit_of<A: Policed>(
    store: &Store,
    member: MemberId,
    request_id: &str,
) -> Result<Option<Permit<A>>, StoreError> {
    let permit = Permit::to_sign_in(request_id);
    let Some(member) = store.read_blocking(permit, move |session| session.able_member(member))? else {
        return Ok(None);
    };
    let authority = Authority {
        member: member.id,
        role: member.membership.role(),
        centres: member.membership.centres().clone(),
    };
    Ok(Permit::for_member(&authority, request_id).ok())
}
