//! A centre's own picture, drawn from its cases and its screening log in one pass, with a few
//! rounded numbers of the whole network beside it.

use std::thread;

use quietbeam_analysis::study::own_picture::{
    CentreDoses, Drawing, LogLine, NetworkValues, OwnCase, OwnPicture,
};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::instant::Instant;
use quietbeam_schema::vocabulary::{Coded, FluoroUsed};

use super::RegistryError;
use super::cases::form_of;
use crate::access::action::ReadOwnPicture;
use crate::store::{CentreColumns, OwnRow, Session, StoreError};

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
        for read in read_page(&page, now)? {
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

/// What was entered and the columns read from it; `None` for a record that the present rules
/// refuse.
type Read = Option<(CaseForm, OwnCase)>;

/// Reads a page on as many threads as there are: a record takes longer to check than to load.
fn read_page(page: &[OwnRow], now: Instant) -> Result<Vec<Read>, StoreError> {
    let threads = thread::available_parallelism().map_or(1, usize::from);
    let part = page.len().div_ceil(threads).max(1);
    let read = |rows: &[OwnRow]| rows.iter().map(|row| read_case(row, now)).collect::<Result<Vec<_>, _>>();
    thread::scope(|scope| {
        let parts: Vec<_> = page.chunks(part).map(|rows| scope.spawn(move || read(rows))).collect();
        let mut all = Vec::with_capacity(page.len());
        for part in parts {
            // A panic of a part is a panic of the whole.
            let rows = part.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))?;
            all.extend(rows);
        }
        Ok(all)
    })
}

fn read_case(row: &OwnRow, now: Instant) -> Result<Read, StoreError> {
    let form = form_of(&row.case)?;
    let checked = form.check(now.quarter());
    Ok(checked.ok().map(|checked| {
        let case = OwnCase::read(row.case.code, row.entered, row.case.centre, &checked.record);
        (form, case)
    }))
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
