//! Members: created, given a role and centres, disabled and enabled.

use quietbeam_schema::access::Membership;
use quietbeam_schema::ids::MemberId;
use serde::Serialize;

use super::{IfMatch, RegistryError, Version};
use crate::access::action::ManageMembers;
use crate::access::member::{Member, NewMember};
use crate::store::{Session, Writing};

/// What of a member is shown to administrators and to the member.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Shown {
    /// The identifier.
    pub id: MemberId,
    /// The name to sign in with.
    pub sign_in_name: String,
    /// The name as printed.
    pub printed_name: String,
    /// The role.
    pub role: quietbeam_schema::access::Role,
    /// The centres.
    pub centres: Vec<quietbeam_schema::ids::CentreCode>,
    /// Whether the member may sign in.
    pub enabled: bool,
}

impl From<Member> for Shown {
    fn from(member: Member) -> Self {
        Self {
            id: member.id,
            sign_in_name: member.sign_in_name.as_str().to_owned(),
            printed_name: member.printed_name,
            role: member.membership.role(),
            centres: member.membership.centres().iter().copied().collect(),
            enabled: member.disabled_at.is_none(),
        }
    }
}

/// Creates a member.
///
/// # Errors
/// When the sign-in name is taken or a centre does not exist.
pub fn create(
    session: &mut Session<'_, ManageMembers, Writing>,
    new: NewMember,
) -> Result<Shown, RegistryError> {
    let id = session.create_member(new)?;
    Ok(session.find_member(id)?.into())
}

/// Gives a member another role or other centres.
///
/// # Errors
/// When the member was changed since it was read, is the caller, or is the last administrator.
pub fn change_membership(
    session: &mut Session<'_, ManageMembers, Writing>,
    id: MemberId,
    if_match: &IfMatch,
    membership: &Membership,
) -> Result<Shown, RegistryError> {
    unchanged(session, id, if_match)?;
    session.change_membership(id, membership)?;
    Ok(session.find_member(id)?.into())
}

/// Disables a member, or enables it again.
///
/// # Errors
/// As for [`change_membership`].
pub fn set_enabled(
    session: &mut Session<'_, ManageMembers, Writing>,
    id: MemberId,
    if_match: &IfMatch,
    enabled: bool,
) -> Result<Shown, RegistryError> {
    unchanged(session, id, if_match)?;
    if enabled {
        session.enable_member(id)?;
    } else {
        session.disable_member(id)?;
    }
    Ok(session.find_member(id)?.into())
}

fn unchanged(
    session: &mut Session<'_, ManageMembers, Writing>,
    id: MemberId,
    if_match: &IfMatch,
) -> Result<(), RegistryError> {
    session.alone_among_administrators()?;
    let shown = Shown::from(session.find_member(id)?);
    Ok(if_match.holds(&Version::of(&shown))?)
}
