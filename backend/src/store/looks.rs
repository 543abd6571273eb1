//! The looks at data under a plan: the data cuts on which it was carried out, in the order in which
//! that was first done. All versions of a plan share them.

use diesel::prelude::*;
use quietbeam_analysis::study::look::Taken;
use quietbeam_schema::ids::DataCutId;

use super::comparisons::ReadsComparisons;
use super::error::{Conflict, StoreError};
use super::session::{Session, Writing, read};
use super::tables::plan_look;
use crate::access::action::RunComparison;

/// A look as it is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeptLook {
    /// The data cut.
    pub cut: DataCutId,
    /// What it used up.
    pub taken: Taken,
}

impl<A: ReadsComparisons, M> Session<'_, A, M> {
    /// The looks under a plan's number, the first one first.
    pub fn looks_of(&mut self, plan_number: i64) -> Result<Vec<KeptLook>, StoreError> {
        let rows: Vec<(String, f64, f64)> = plan_look::table
            .select((plan_look::cut, plan_look::information, plan_look::spent))
            .filter(plan_look::plan_number.eq(plan_number))
            .order(plan_look::look.asc())
            .load(self.connection)?;
        let look = |(cut, information, spent): (String, f64, f64)| {
            Ok(KeptLook { cut: read(&cut, "plan_look", "cut")?, taken: Taken { information, spent } })
        };
        rows.into_iter().map(look).collect()
    }
}

impl Session<'_, RunComparison, Writing> {
    /// Keeps a look that follows on `earlier` ones. Where another was taken meanwhile this one was
    /// computed with a level that is no longer there.
    pub fn take_look(&mut self, plan_number: i64, earlier: usize, look: KeptLook) -> Result<(), StoreError> {
        if self.looks_of(plan_number)?.len() != earlier {
            return Err(Conflict::Race.into());
        }
        diesel::insert_into(plan_look::table)
            .values((
                plan_look::plan_number.eq(plan_number),
                plan_look::look.eq(earlier as i64 + 1),
                plan_look::cut.eq(look.cut.to_string()),
                plan_look::information.eq(look.taken.information),
                plan_look::spent.eq(look.taken.spent),
            ))
            .execute(self.connection)?;
        Ok(())
    }
}
