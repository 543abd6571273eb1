//! Cases taken out again. Every file is noted in the trail before it is handed over: one
//! whose note fails is never sent.

use quietbeam_schema::ids::CentreCode;
use serde_json::json;

use super::RegistryError;
use super::case_list::{self, CaseSearch};
use crate::access::Permit;
use crate::access::action::ExportCases;
use crate::export::{Export, Format, Written};
use crate::store::{CaseFilter, PageRequest, Session, Store};

/// Which cases are taken out, and how.
pub struct Wanted {
    /// Whose they are.
    pub centre: CentreCode,
    /// Which of them; its centre plays no role.
    pub search: CaseSearch,
    /// How they are written.
    pub format: Format,
}

/// Writes a centre's own cases into a file. `look` opens the store to read them, `note` to
/// write down that they were taken out; both belong to the same request.
///
/// # Errors
/// When there is no such centre within reach, or the file cannot be written.
pub fn export_cases(
    store: &Store,
    look: Permit<ExportCases>,
    note: Permit<ExportCases>,
    wanted: Wanted,
) -> Result<Written, RegistryError> {
    let Wanted { centre, search, format } = wanted;
    let search = CaseSearch { filter: CaseFilter { centre: Some(centre), ..search.filter }, ..search };
    let mut what = json!(search);
    what["format"] = format.word().into();
    let written = store.read_blocking(look, move |session| {
        session.find_centre(centre)?;
        write(session, &search, format)
    })?;
    what["cases"] = written.cases.into();
    what["sha256"] = written.sha256.clone().into();
    store.write_blocking(note, move |session| session.note_export(centre, what))?;
    Ok(written)
}

fn write<M>(
    session: &mut Session<'_, ExportCases, M>,
    search: &CaseSearch,
    format: Format,
) -> Result<Written, RegistryError> {
    let mut export = Export::new(format)?;
    let mut request = PageRequest { after: None, limit: 200 };
    loop {
        let page = case_list::list(session, search, request)?;
        page.rows.iter().try_for_each(|row| export.push(row))?;
        match page.next {
            Some(next) => request.after = Some(next),
            None => return Ok(export.finish()?),
        }
    }
}
