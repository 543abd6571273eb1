//! How often a major complication is expected: by kind of procedure, from the whole network, and
//! coarse enough that nobody learns another centre's counts from it.

use super::Charted;
use crate::methods::cusum::ExpectedProbability;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};
use serde::Serialize;
use std::collections::BTreeSet;

/// A kind of procedure has a rate of its own from so many cases of so many centres on; below, that
/// of all procedures stands for it. Our own choice: with fewer cases a single event would move the rate.
const LEAST_CASES: u32 = 200;
const LEAST_CENTRES: usize = 3;

/// Rates are rounded to half a per cent, and none is below it. Our own choice.
const STEP: f64 = 0.005;

/// Until cases say more: 2 in 100. Major complications of ablation of atrial fibrillation lie near
/// 2 to 3 in 100 in published series; common practice, no source.
const BEFORE_ANY: f64 = 0.02;

/// The rate of one kind of procedure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GroupRate {
    /// The kind.
    pub group: ProcedureGroup,
    /// The rate; `None` where that of all procedures stands for it.
    pub own: Option<f64>,
}

/// How often a major complication or death within 30 days is expected.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Expectation {
    /// Of all procedures.
    pub overall: f64,
    /// By kind of procedure, in the order of the dictionary.
    pub groups: Vec<GroupRate>,
}

/// Cases whose outcome is known.
#[derive(Default)]
struct Known {
    cases: u32,
    events: u32,
    centres: BTreeSet<CentreCode>,
}

impl Known {
    fn of<'c, C: Charted + 'c>(cases: impl Iterator<Item = &'c C>) -> Self {
        let mut known = Self::default();
        for (case, major) in cases.filter_map(|case| Some((case, case.major()?))) {
            known.cases += 1;
            known.events += u32::from(major);
            known.centres.insert(case.centre());
        }
        known
    }

    fn rate(&self) -> Option<f64> {
        let enough = self.cases >= LEAST_CASES && self.centres.len() >= LEAST_CENTRES;
        let share = f64::from(self.events) / f64::from(self.cases);
        // Never nothing and never everything: a chart takes no certainty.
        enough.then(|| ((share / STEP).round() * STEP).clamp(STEP, 1.0 - STEP))
    }
}

impl Expectation {
    pub(super) fn of<C: Charted>(cases: &[C]) -> Self {
        let of_group = |group: ProcedureGroup| GroupRate {
            group,
            own: Known::of(cases.iter().filter(|case| case.group() == group)).rate(),
        };
        Self {
            overall: Known::of(cases.iter()).rate().unwrap_or(BEFORE_ANY),
            groups: ProcedureGroup::all().iter().copied().map(of_group).collect(),
        }
    }

    /// The rate for a kind of procedure.
    pub fn rate(&self, group: ProcedureGroup) -> f64 {
        let own = self.groups.iter().find(|line| line.group == group).and_then(|line| line.own);
        own.unwrap_or(self.overall)
    }

    pub(super) fn probability<C: Charted>(&self, case: &C) -> Option<ExpectedProbability> {
        ExpectedProbability::new(self.rate(case.group())).ok()
    }
}
