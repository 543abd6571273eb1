//! Cases in which a brief use of X-ray was intended, in the arm in which a plan counts them.

use super::cohort::CaseRow;
use super::plan::AnalysisPlan;
use quietbeam_schema::vocabulary::Strategy;

/// The near-zero cases of a cohort as a plan counts them.
pub(super) struct NearZero(Vec<CaseRow>);

impl NearZero {
    /// Puts them where the plan wants them, whatever another plan did with them before.
    pub(super) fn of<'c>(all: impl IntoIterator<Item = &'c CaseRow>, plan: &AnalysisPlan) -> Self {
        let near_zero = all.into_iter().filter(|case| is_near_zero(case));
        Self(near_zero.map(|case| CaseRow { near_zero_in: plan.near_zero_arm(), ..case.clone() }).collect())
    }

    /// All cases, with these instead of those that were read.
    pub(super) fn among<'c>(&'c self, all: impl IntoIterator<Item = &'c CaseRow>) -> Vec<&'c CaseRow> {
        all.into_iter().filter(|case| !is_near_zero(case)).chain(&self.0).collect()
    }
}

fn is_near_zero(case: &CaseRow) -> bool {
    case.intended == Strategy::NearZero
}
