//! De-identified rows of a data cut. The study decides what goes out; here the cut is read
//! twice, once for the classes and once for the rows, and the file is noted in the trail.

use quietbeam_analysis::study::deidentify::{Account, Layout, Operators, Profile, generalise, traits_of};
use quietbeam_schema::codebook::FORM_VERSION;
use quietbeam_schema::ids::DataCutId;
use serde_json::json;
use std::collections::HashMap;

use super::RegistryError;
use super::cases::record_of;
use super::comparisons::SOFTWARE_VERSION;
use crate::access::Permit;
use crate::access::action::ExportDeidentified;
use crate::export::{About, CAUTIONS, Rows, Written};
use crate::store::{Session, Store};

/// Which rows are wanted.
pub struct WantedRows {
    /// Of which cut.
    pub cut: DataCutId,
    /// For whom.
    pub profile: Profile,
    /// With operators, or without.
    pub operators: Operators,
}

/// A file of rows, and what became of all of them.
pub struct RowsWritten {
    /// The file.
    pub written: Written,
    /// What became of the rows.
    pub account: Account,
}

/// Writes the rows of a cut into a file. `look` opens the store to read them, `note` to write
/// down that they were taken out; both belong to the same request.
///
/// # Errors
/// When there is no such cut, a record of it cannot be read, or the file not be written.
pub fn export_rows(
    store: &Store,
    look: Permit<ExportDeidentified>,
    note: Permit<ExportDeidentified>,
    wanted: WantedRows,
) -> Result<RowsWritten, RegistryError> {
    let (cut, profile) = (wanted.cut, wanted.profile);
    let mut what = json!({ "profile": profile.name(), "operators": wanted.operators == Operators::Recoded });
    let rows = store.read_blocking(look, move |session| write(session, &wanted))?;
    what["rows"] = rows.account.published().into();
    what["sha256"] = rows.written.sha256.clone().into();
    store.write_blocking(note, move |session| session.note_rows(cut, what))?;
    Ok(rows)
}

fn write<M>(
    session: &mut Session<'_, ExportDeidentified, M>,
    wanted: &WantedRows,
) -> Result<RowsWritten, RegistryError> {
    let profile = wanted.profile;
    let cut = session.find_cut(wanted.cut)?;
    let mut traits = Vec::new();
    session.each_case(&cut, |row| {
        traits.push(traits_of(row.centre, &record_of(&row, cut.at)?));
        Ok::<_, RegistryError>(())
    })?;
    let steps = generalise(&traits, profile);
    let account = Account::of(profile, &steps);
    let mut shown = traits.iter().zip(&steps);
    let mut mark = session.marks();
    let mut operators: HashMap<_, String> = HashMap::new();
    let mut rows = Rows::new(Layout::new(profile, wanted.operators))?;
    session.each_case(&cut, |row| {
        let Some((traits, Some(step))) = shown.next() else { return Ok(()) };
        let record = record_of(&row, cut.at)?;
        let (id, new_operator) = (mark()?, mark()?);
        let recode = |site, code: &str| {
            let known = operators.entry((site, code.to_owned()));
            known.or_insert_with(|| format!("{site}-{new_operator}")).clone()
        };
        let of_case = rows.layout().rows(&record, &traits.at(*step, profile), recode);
        rows.push(&id, of_case)?;
        Ok::<_, RegistryError>(())
    })?;
    let written = rows.finish(&About {
        account: &account,
        rows: account.published(),
        data_cut: cut.id.to_string(),
        data_cut_name: &cut.name,
        data_cut_hash: &cut.content_hash,
        form_version: FORM_VERSION,
        software: SOFTWARE_VERSION,
        cautions: CAUTIONS,
    })?;
    Ok(RowsWritten { written, account })
}
