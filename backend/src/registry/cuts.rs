//! Data cuts: a name for people, a hash for ever.

use super::{RegistryError, words};
use crate::access::action::TakeDataCut;
use crate::store::{DataCut, Session, Writing};

/// The longest name of a cut.
const LONGEST_NAME: usize = 80;

/// Freezes what stands in the registry now.
///
/// # Errors
/// When the name must be mended or there is no case yet.
pub fn take(session: &mut Session<'_, TakeDataCut, Writing>, name: &str) -> Result<DataCut, RegistryError> {
    let name =
        words::line(name, LONGEST_NAME).map_err(|error| RegistryError::field("/name", "value", error))?;
    words::screened(&name).map_err(|error| RegistryError::field("/name", "free_text", error))?;
    Ok(session.take_cut(&name)?)
}
