//! Centres and their X-ray rooms.

use quietbeam_schema::centre::{Centre, Room};
use quietbeam_schema::ids::CentreCode;

use super::{IfMatch, RegistryError, Version, words};
use crate::access::action::ManageCentres;
use crate::store::{Refused, Session, StoreError, Writing};

/// Creates a centre.
///
/// # Errors
/// When a field must be mended or the code is taken.
pub fn create(
    session: &mut Session<'_, ManageCentres, Writing>,
    centre: &Centre,
) -> Result<(), RegistryError> {
    checked(centre)?;
    Ok(session.create_centre(centre)?)
}

/// A random code that no centre has: the order of joining must not show in it.
///
/// # Errors
/// When every code is taken.
pub fn free_code(session: &mut Session<'_, ManageCentres, Writing>) -> Result<CentreCode, RegistryError> {
    let taken: Vec<CentreCode> = session.list_centres()?.into_iter().map(|centre| centre.code).collect();
    let drawn = session.random_byte()?;
    let mut codes = (0..=u8::MAX).map(|step| CentreCode::from_random(drawn.wrapping_add(step)));
    codes.find(|code| !taken.contains(code)).ok_or(StoreError::Refused(Refused::NoCodeLeft).into())
}

/// Changes a centre's name, region, kind or volume.
///
/// # Errors
/// When it was changed since it was read or a field must be mended.
pub fn change(
    session: &mut Session<'_, ManageCentres, Writing>,
    if_match: &IfMatch,
    centre: &Centre,
) -> Result<(), RegistryError> {
    session.alone_among_administrators()?;
    if_match.holds(&Version::of(&session.find_centre(centre.code)?))?;
    checked(centre)?;
    Ok(session.change_centre(centre)?)
}

/// Enters a room. What is there already is replaced only by whoever read it.
///
/// # Errors
/// When the room was changed since it was read or a field must be mended.
pub fn record_room(
    session: &mut Session<'_, ManageCentres, Writing>,
    centre: CentreCode,
    if_match: Option<&IfMatch>,
    room: &Room,
) -> Result<(), RegistryError> {
    session.alone_among_administrators()?;
    session.find_centre(centre)?;
    let present = session.list_rooms(centre)?.into_iter().find(|known| known.code == room.code);
    match (present, if_match) {
        (Some(present), Some(if_match)) => if_match.holds(&Version::of(&present))?,
        (Some(_), None) => return Err(RegistryError::VersionNotNamed),
        (None, Some(_)) => return Err(StoreError::Absent("room").into()),
        (None, None) => {}
    }
    room.check()?;
    Ok(session.record_room(centre, room)?)
}

fn checked(centre: &Centre) -> Result<(), RegistryError> {
    centre.check()?;
    words::screened(&centre.name).map_err(|error| RegistryError::field("/name", "free_text", error))?;
    let region = centre.region.as_deref().unwrap_or_default();
    words::screened(region).map_err(|error| RegistryError::field("/region", "free_text", error))?;
    Ok(())
}
