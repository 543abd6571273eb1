//! Does one thing drive it: the planned estimate again where one suspicion does not apply, by
//! kind of patient, with the missing outcomes turned, and against a cause nobody recorded.

mod missing;
mod operators;
mod subgroups;
mod unrecorded;

pub(super) use operators::Operators;

pub use missing::{Reaching, Tipping, Turned};
pub use operators::ByOperator;
pub use subgroups::{Subgroup, SubgroupLine};
pub use unrecorded::Unrecorded;

use super::flow::Quarters;
use super::prose::{cases, told};
use super::{ReportCase, Seen};
use crate::study::arm::Arm;
use crate::study::compared::Compared;
use crate::study::effect::Effect;
use crate::study::endpoint::Endpoint;
use crate::study::own_picture::FIRST_CASES;
use crate::study::plan::PlannedEndpoint;
use crate::study::planned::{PlannedComparison, PlannedResult};
use crate::study::population::Population;
use crate::study::recovery::{Finding, finding};
use crate::study::sensitivity::primary;
use rayon::prelude::*;
use serde::Serialize;

/// One planned endpoint and what might drive its result. No verdict hangs on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Driving {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// The planned estimate where a suspicion does not apply.
    pub without: Vec<WithoutSuspicion>,
    /// The planned estimate clustered by operator; absent where no case names one or the plan's
    /// method knows no clusters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_operator: Option<ByOperator>,
    /// The crude difference by kind of patient.
    pub subgroups: Vec<Subgroup>,
    /// With the missing outcomes turned one way and the other.
    pub tipping: Tipping,
    /// How strong a cause that nobody recorded would have to be.
    pub unrecorded: Unrecorded,
    /// What adjustment recovered where the truth was known, and what it could not.
    pub recovered: Option<Finding>,
}

/// What might have made the result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Suspicion {
    /// Operators were still learning: without the first 25 zero-fluoroscopy cases of each, and
    /// without those that name no operator.
    Learning,
    /// Only the good cases were sent in: only quarters of centres whose log is signed and whose
    /// eligible cases are in the cut, nine in ten or more.
    Selection,
    /// One arm was looked at more: only cases with routine echo within a day in both arms.
    Looking,
}

impl Suspicion {
    const ALL: [Self; 3] = [Self::Learning, Self::Selection, Self::Looking];

    /// Which cases are kept, in a few words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Learning => "Without each operator's first 25 zero-fluoroscopy cases",
            Self::Selection => "Only quarters with complete and signed denominators",
            Self::Looking => "Only cases with routine echo within a day",
        }
    }
}

/// The planned estimate on the cases to which a suspicion does not apply, as intended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WithoutSuspicion {
    /// The suspicion.
    pub suspicion: Suspicion,
    /// Cases in the estimate, both arms.
    pub cases: u32,
    /// The effect by the plan's method, on the scale of the margin.
    #[serde(flatten)]
    pub effect: Effect,
    /// The same in words.
    pub in_words: String,
}

/// Each suspicion, and the cases of the cut to which it does not apply.
pub(super) type FreeOf = [(Suspicion, Vec<bool>); 3];

/// Asks every case about every suspicion.
pub(super) fn free_of_each(seen: &Seen<'_>, quarters: &Quarters) -> FreeOf {
    Suspicion::ALL.map(|suspicion| (suspicion, free_of(seen, suspicion, quarters)))
}

/// What might drive each planned endpoint.
pub(super) fn driving(
    compared: &Compared<'_>,
    planned: &PlannedComparison,
    parts: &FreeOf,
    operators: Option<&Operators>,
) -> Vec<Driving> {
    let at_look = planned.plan_at_look();
    let results = planned.plan.endpoints().par_iter().zip(&planned.endpoints);
    let parted = |endpoint: &PlannedEndpoint, result: &PlannedResult| {
        let near = result.as_intended.adjusted.near.as_ref();
        let line = |(suspicion, free): &(Suspicion, Vec<bool>)| {
            let found = primary(compared, |place, _| free[place], (endpoint, &at_look), near);
            WithoutSuspicion::new(*suspicion, found, endpoint.endpoint)
        };
        parts.par_iter().map(line).collect::<Vec<_>>()
    };
    let driven = |(endpoint, result): (&PlannedEndpoint, &PlannedResult)| {
        let lines = || (parted(endpoint, result), subgroups::subgroups(&compared.rows, endpoint, &at_look));
        // The border is one long walk, so that it starts first.
        let (tipping, (without, subgroups)) =
            rayon::join(|| Tipping::new(result, endpoint, planned.level()), lines);
        Driving {
            endpoint: endpoint.endpoint,
            without,
            by_operator: operators.and_then(|operators| ByOperator::new(operators, result)),
            subgroups,
            tipping,
            unrecorded: Unrecorded::new(result, planned.plan.method()),
            recovered: finding(endpoint.endpoint),
        }
    };
    results.map(driven).collect()
}

/// Whether a suspicion does not apply to a case, for every case of the cut.
fn free_of(seen: &Seen<'_>, suspicion: Suspicion, quarters: &Quarters) -> Vec<bool> {
    let free = |(case, ordinal): (&ReportCase, &Option<u32>)| match suspicion {
        Suspicion::Learning => {
            Population::AsIntended.arm(&case.row) != Some(Arm::ZeroFluoroscopy)
                || ordinal.is_some_and(|place| place > FIRST_CASES as u32)
        }
        Suspicion::Selection => {
            quarters.get(&(case.row.centre, case.row.period)).is_some_and(|counts| counts.is_complete())
        }
        Suspicion::Looking => case.course.looks[2] == Some(true),
    };
    seen.all.iter().zip(&seen.ordinals).map(free).collect()
}

impl WithoutSuspicion {
    fn new(suspicion: Suspicion, (number, effect): (u32, Effect), endpoint: Endpoint) -> Self {
        let in_words = format!("{} ({}): {}.", suspicion.label(), cases(number), told(&effect, endpoint));
        Self { suspicion, cases: number, effect, in_words }
    }
}
