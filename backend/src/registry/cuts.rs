//! Data cuts: a name for people, a hash for ever. What a cut holds, and how two differ.

use std::collections::BTreeMap;

use quietbeam_schema::ids::CentreCode;

use super::at_cut::Around;
use super::{RegistryError, words};
use crate::access::action::TakeDataCut;
use crate::store::{DataCut, ReadsCuts, Session, StoreError, Writing};

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

/// What a centre has in a cut.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Held {
    /// Its cases.
    pub cases: u32,
    /// Procedures that its screening log says were performed.
    pub performed: u32,
    /// Those eligible.
    pub eligible: u32,
    /// Lines of the log, a line a quarter and group.
    pub lines: u32,
    /// Lines that are signed.
    pub signed: u32,
}

/// What a cut holds, centre by centre.
///
/// # Errors
/// When the store cannot be read.
pub fn holds<A: ReadsCuts, M>(
    session: &mut Session<'_, A, M>,
    cut: &DataCut,
) -> Result<BTreeMap<CentreCode, Held>, StoreError> {
    let mut held = BTreeMap::<CentreCode, Held>::new();
    for standing in session.revisions_of(cut)?.into_values() {
        held.entry(standing.centre).or_default().cases += 1;
    }
    for row in session.screening_of(cut)? {
        let of_centre = held.entry(row.line.centre).or_default();
        of_centre.performed += row.counts.performed();
        of_centre.eligible += row.counts.eligible();
        of_centre.lines += 1;
        of_centre.signed += u32::from(row.signed_by.is_some());
    }
    Ok(held)
}

/// Cases of a cut against which something stood when it was taken; a plan may leave them out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Against {
    /// An approval of the centre did not cover their quarter.
    pub approval_missing: u32,
    /// The screening log of their quarter was not entered or not wholly signed.
    pub denominator_unsigned: u32,
    /// A question about their strategy or an outcome was open.
    pub question_open: u32,
}

/// What stood against the cases of a cut.
///
/// # Errors
/// When the store cannot be read.
pub fn against<A: ReadsCuts, M>(
    session: &mut Session<'_, A, M>,
    cut: &DataCut,
) -> Result<Against, StoreError> {
    let around = Around::read(session, cut)?;
    let mut found = Against::default();
    for (code, standing) in session.revisions_of(cut)? {
        let case = around.against(&code, standing.centre, standing.period);
        found.approval_missing += u32::from(case.approval_missing);
        found.denominator_unsigned += u32::from(case.denominator_unsigned);
        found.question_open += u32::from(case.question_open);
    }
    Ok(found)
}

/// How a centre's cases differ between an earlier and a later cut.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Difference {
    /// Only in the later one.
    pub added: u32,
    /// In both, changed in between.
    pub changed: u32,
    /// In both, the same.
    pub same: u32,
    /// Only in the earlier one.
    pub gone: u32,
}

/// How two cuts differ, centre by centre; the order in which they are named does not matter.
///
/// # Errors
/// When the store cannot be read.
pub fn differences<A: ReadsCuts, M>(
    session: &mut Session<'_, A, M>,
    (one, other): (&DataCut, &DataCut),
) -> Result<BTreeMap<CentreCode, Difference>, StoreError> {
    let (earlier, later) = if one.boundary_seq <= other.boundary_seq { (one, other) } else { (other, one) };
    let mut before = session.revisions_of(earlier)?;
    let mut found = BTreeMap::<CentreCode, Difference>::new();
    for (code, standing) in session.revisions_of(later)? {
        let of_centre = found.entry(standing.centre).or_default();
        match before.remove(&code) {
            None => of_centre.added += 1,
            Some(then) if then.revision == standing.revision => of_centre.same += 1,
            Some(_) => of_centre.changed += 1,
        }
    }
    for standing in before.into_values() {
        found.entry(standing.centre).or_default().gone += 1;
    }
    Ok(found)
}
