//! Every centre's harm among its limits and case by case, in the cases that the plan compares.

use super::{ReportCase, Seen};
use crate::study::watching::{Charted, Charts};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::ProcedureGroup;

impl Charted for &ReportCase {
    fn centre(&self) -> CentreCode {
        self.row.centre
    }

    fn order(&self) -> (Quarter, i64) {
        (self.row.period, self.entered)
    }

    fn group(&self) -> ProcedureGroup {
        self.row.procedure.group()
    }

    fn major(&self) -> Option<bool> {
        self.row.major_within_30_days
    }
}

/// The charts, whatever the strategy: they tell centres apart, not arms.
pub(super) fn centre_charts(seen: &Seen<'_>) -> Charts {
    Charts::of(seen.kept().collect::<Vec<&ReportCase>>())
}
