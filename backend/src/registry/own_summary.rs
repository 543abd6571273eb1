//! A centre's own figures beside those that were published of the network: its own cases of the
//! very cut that the summary was made from, and of other centres what everyone reads.

use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::summary::{SafetySummary, TableBeside, beside};
use quietbeam_schema::ids::CentreCode;

use super::RegistryError;
use super::at_cut::{Around, surroundings_of};
use super::cases::record_of;
use crate::access::action::ReadOwnPicture;
use crate::store::{PublicSummary, Session};

/// Every table of a published summary with the figures of a centre within reach.
///
/// # Errors
/// When there is no such centre within reach, or a record of the cut cannot be read.
pub fn own_beside(
    session: &mut Session<'_, ReadOwnPicture>,
    centre: CentreCode,
    (record, said): (&PublicSummary, &SafetySummary),
) -> Result<Vec<TableBeside>, RegistryError> {
    session.find_centre(centre)?;
    let cut = session.find_cut(record.cut)?;
    let mut own = Cohort::default();
    let stood = match said.plan() {
        Some(plan) => Around::asked(session, &cut, plan)?,
        None => None,
    };
    session.each_case(&cut, |row| {
        if row.centre == centre {
            let mut case = CaseRow::read(row.centre, &record_of(&row, cut.at)?);
            if let Some(stood) = &stood {
                case.at_cut = stood.against(&row.code.to_string(), case.centre, case.period);
            }
            own.push(case);
        }
        Ok::<_, RegistryError>(())
    })?;
    let mut around = surroundings_of(session, &cut)?;
    around.log.retain(|line| line.centre == centre);
    around.regions.retain(|of, _| *of == centre);
    Ok(beside(&own.amid(around), said)?)
}
