//! Every centre's harm among its limits and case by case, in the cases that the plan compares.

use super::{ReportCase, Seen};
use crate::study::watching::{Charted, Charts};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::ProcedureGroup;

/// What a chart needs of a case: charts go through the cases many times in the order of entry, and
/// rows are wide.
struct InChart {
    centre: CentreCode,
    order: (Quarter, i64),
    group: ProcedureGroup,
    major: Option<bool>,
}

impl InChart {
    fn of(case: &ReportCase) -> Self {
        let row = &case.row;
        Self {
            centre: row.centre,
            order: (row.period, case.entered),
            group: row.procedure.group(),
            major: row.major_within_30_days,
        }
    }
}

impl Charted for InChart {
    fn centre(&self) -> CentreCode {
        self.centre
    }

    fn order(&self) -> (Quarter, i64) {
        self.order
    }

    fn group(&self) -> ProcedureGroup {
        self.group
    }

    fn major(&self) -> Option<bool> {
        self.major
    }
}

/// The charts, whatever the strategy: they tell centres apart, not arms.
pub(super) fn centre_charts(seen: &Seen<'_>) -> Charts {
    Charts::of(seen.kept().map(InChart::of).collect())
}
