//! What a centre's own picture is drawn from: its current cases, in one pass, and the few
//! columns of the whole network from which its rounded numbers are made.

use std::collections::BTreeMap;

use diesel::prelude::*;
use quietbeam_schema::ids::CentreCode;

use super::current_cases::EnteredCase;
use super::error::StoreError;
use super::session::Session;
use super::tables::case_revision;
use crate::access::action::ReadOwnPicture;

/// The columns of one centre, without its code: how often each use of the beam was stated,
/// and air kerma and kerma-area product of the cases asked for.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CentreColumns {
    /// Cases by the code of the use of the beam.
    pub uses: Vec<(String, u32)>,
    /// Air kerma in mGy and kerma-area product in Gy·cm².
    pub doses: Vec<(Option<f64>, Option<f64>)>,
}

impl<M> Session<'_, ReadOwnPicture, M> {
    /// Hands the current cases of a centre to `see`, page by page.
    pub fn each_page_of<E: From<StoreError>>(
        &mut self,
        centre: CentreCode,
        mut see: impl FnMut(Vec<EnteredCase>) -> Result<(), E>,
    ) -> Result<(), E> {
        self.within(centre)?;
        let mut after = 0;
        loop {
            let page = self.current_after(Some(centre), after)?;
            let Some(last) = page.last() else { return Ok(()) };
            after = last.case.seq;
            see(page)?;
        }
    }

    /// The columns of every centre of the network, in no order that tells which is which. The
    /// only reading that goes beyond the centres of the permit: what it gives may leave the
    /// registry only as rounded numbers of all centres together. The doses are those of the
    /// cases with one of these uses of the beam.
    pub fn network_columns(&mut self, exposed: &[&str]) -> Result<Vec<CentreColumns>, StoreError> {
        let current = || case_revision::table.filter(case_revision::superseded_by_seq.is_null());
        let by = (case_revision::centre, case_revision::fluoro_used);
        let uses: Vec<(String, String, i64)> =
            current().group_by(by).select((by.0, by.1, diesel::dsl::count_star())).load(self.connection)?;
        let doses: Vec<(String, Option<f64>, Option<f64>)> = current()
            .filter(case_revision::fluoro_used.eq_any(exposed.iter().map(|code| (*code).to_owned())))
            .select((case_revision::centre, case_revision::air_kerma_mgy, case_revision::kap_gycm2))
            .load(self.connection)?;
        let mut centres = BTreeMap::<String, CentreColumns>::new();
        for (centre, used, cases) in uses {
            let cases = u32::try_from(cases).unwrap_or(u32::MAX);
            centres.entry(centre).or_default().uses.push((used, cases));
        }
        for (centre, kerma, area) in doses {
            centres.entry(centre).or_default().doses.push((kerma, area));
        }
        Ok(centres.into_values().collect())
    }
}
