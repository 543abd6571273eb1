//! A centre's own picture, drawn from its cases and its screening log in one pass, with a few
//! rounded numbers of the whole network beside it.

use quietbeam_analysis::study::own_picture::{
    CentreDoses, Drawing, LogLine, NetworkValues, OwnCase, OwnPicture,
};
use quietbeam_schema::case::{CaseForm, CaseRecord};
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{Coded, FluoroUsed};

use super::RegistryError;
use super::current_cases::read_page;
use crate::access::action::ReadOwnPicture;
use crate::store::{CentreColumns, EnteredCase, Session, StoreError};

/// A centre as it sees itself.
pub struct Drawn {
    /// The centre.
    pub centre: Centre,
    /// Its picture.
    pub picture: OwnPicture,
    /// The network beside it.
    pub network: NetworkValues,
    /// Cases that the present rules no longer accept, which are left out.
    pub left_out: usize,
}

/// Draws the picture of a centre within reach.
///
/// # Errors
/// When there is no such centre within reach, or the store does not answer.
pub fn draw(session: &mut Session<'_, ReadOwnPicture>, code: CentreCode) -> Result<Drawn, RegistryError> {
    let centre = session.find_centre(code)?;
    let now = session.now();
    let (mut drawing, mut left_out) = (Drawing::default(), 0);
    session.each_page_of(code, |page| {
        for read in read_page(&page, now, read_case)? {
            match read {
                Some((form, case)) => drawing.add(&form, case),
                None => left_out += 1,
            }
        }
        Ok::<_, RegistryError>(())
    })?;
    let log = session.list_screening()?;
    let own = log.iter().filter(|row| row.line.centre == code).map(|row| (row.line.period, &row.counts));
    let picture = drawing.finish(&LogLine::by_quarter(own));
    Ok(Drawn { centre, picture, network: network(session)?, left_out })
}

fn read_case(entered: &EnteredCase, form: CaseForm, record: &CaseRecord) -> (CaseForm, OwnCase) {
    let case = &entered.case;
    (form, OwnCase::read(case.code, entered.entered, case.centre, record))
}

/// The network, coarsened: nothing else of other centres leaves this file.
fn network(session: &mut Session<'_, ReadOwnPicture>) -> Result<NetworkValues, StoreError> {
    let exposed: Vec<&str> =
        FluoroUsed::all().iter().filter(|used| used.beam_on()).map(|used| used.code()).collect();
    let columns = session.network_columns(&exposed)?;
    Ok(NetworkValues::of(&columns.into_iter().map(doses_of).collect::<Vec<_>>()))
}

fn doses_of(columns: CentreColumns) -> CentreDoses {
    let mut doses = CentreDoses::default();
    for (code, cases) in columns.uses {
        doses.cases = doses.cases.saturating_add(cases);
        if FluoroUsed::from_code(&code).is_some_and(|used| !used.beam_on()) {
            doses.no_x_ray = doses.no_x_ray.saturating_add(cases);
        }
    }
    for (kerma, area) in columns.doses {
        doses.air_kerma_mgy.extend(kerma);
        doses.kap_gy_cm2.extend(area);
    }
    doses
}
