//! What this network holds and takes in, and what it could show by when. Cases are counted by
//! intended strategy; outcomes are counted over both arms together and told only where neither arm
//! is nearly all of them.

use super::Assumed;
use crate::study::arm::ByArm;
use crate::study::cohort::CaseRow;
use crate::study::plan::worth;
use crate::study::population::{Population, is_ablation};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::ProcedureGroup;
use std::collections::BTreeMap;
use std::num::NonZeroU32;

/// Whole quarters from which the pace is taken.
const PACE_OF: u32 = 4;

/// Quarters ahead.
const AHEAD: u32 = 12;

/// The least share of either arm in outcomes that are told for both together: where one arm is
/// nearly all, both together tell of it alone (common practice, no source).
const LEAST_SHARE: f64 = 0.2;

/// The chance that is called enough (common practice, no source).
const ENOUGH: f64 = 0.8;

/// Cases in scope, by centre and quarter.
#[derive(Debug, Clone)]
pub struct Held {
    assumed: Assumed,
    groups: Vec<ProcedureGroup>,
    cases: BTreeMap<CentreCode, BTreeMap<Quarter, ByArm<u32>>>,
    known: ByArm<u32>,
    events: u32,
}

/// An outcome in both arms together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pooled {
    /// Cases whose outcome is known.
    pub known: u32,
    /// Those with the event.
    pub events: u32,
}

/// What could be shown by when.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Cases held now, by intended strategy.
    pub held: ByArm<u32>,
    /// Cases a quarter, by intended strategy, over the last whole quarters.
    pub pace: ByArm<f64>,
    /// Whole quarters from which the pace was taken.
    pub pace_of: u32,
    /// The endpoint in both arms together; absent where that would tell of one arm.
    pub pooled: Option<Pooled>,
    /// The ends of this quarter and those ahead.
    pub ahead: Vec<Ahead>,
    /// The first quarter at whose end the chance is enough, with all cases.
    pub enough: Option<Quarter>,
    /// The same with the cases of later quarters alone.
    pub enough_fresh: Option<Quarter>,
}

/// The end of one quarter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ahead {
    /// The quarter.
    pub quarter: Quarter,
    /// Cases by then, by intended strategy.
    pub cases: ByArm<f64>,
    /// Cases of each arm that would tell as much, if either strategy were as frequent in every
    /// centre.
    pub worth_each_arm: f64,
    /// Chance of showing non-inferiority with them if the arms are alike.
    pub chance: f64,
    /// The same with the cases of later quarters alone: those that a plan registered now can call
    /// its own.
    pub fresh_chance: f64,
}

impl Held {
    /// Nothing yet; the scope is some groups of procedures, or all where none is named.
    pub fn new(assumed: Assumed, groups: Vec<ProcedureGroup>) -> Self {
        Self { assumed, groups, cases: BTreeMap::new(), known: ByArm::default(), events: 0 }
    }

    /// Counts a case, if it is in scope.
    pub fn add(&mut self, case: &CaseRow) {
        let asked = self.groups.is_empty() || self.groups.contains(&case.procedure.group());
        if !asked || !is_ablation(case) {
            return;
        }
        let Some(arm) = Population::AsIntended.arm(case) else { return };
        *self.cases.entry(case.centre).or_default().entry(case.period).or_default().of_mut(arm) += 1;
        if let Some(had) = self.assumed.endpoint.event(case) {
            *self.known.of_mut(arm) += 1;
            self.events += u32::from(had);
        }
    }

    /// What could be shown by when, at the pace of the last whole quarters.
    pub fn outlook(&self, today: Quarter) -> Outlook {
        let pace_of = self.whole_quarters(today);
        let centres: Vec<Centre> =
            self.cases.values().map(|quarters| Centre::new(quarters, today, pace_of)).collect();
        let mut quarter = today;
        let mut ahead = Vec::new();
        for number in 0..=AHEAD {
            ahead.push(at_the_end_of(quarter, number, &centres, self.assumed));
            quarter = quarter.next();
        }
        let first = |of: fn(&Ahead) -> f64| ahead.iter().find(|end| of(end) >= ENOUGH).map(|end| end.quarter);
        Outlook {
            held: self.held(),
            pace: ByArm::from_fn(|arm| centres.iter().map(|centre| *centre.pace.of(arm)).sum()),
            pace_of,
            pooled: self.pooled(),
            enough: first(|end| end.chance),
            enough_fresh: first(|end| end.fresh_chance),
            ahead,
        }
    }

    fn held(&self) -> ByArm<u32> {
        let all = self.cases.values().flat_map(BTreeMap::values);
        ByArm::from_fn(|arm| all.clone().map(|cases| *cases.of(arm)).sum())
    }

    fn pooled(&self) -> Option<Pooled> {
        let known = self.known.zero_fluoroscopy + self.known.conventional;
        let smaller = self.known.zero_fluoroscopy.min(self.known.conventional);
        let both = known > 0 && f64::from(smaller) >= LEAST_SHARE * f64::from(known);
        both.then_some(Pooled { known, events: self.events })
    }

    /// Whole quarters since the first case, as many as the pace is taken from at the most.
    fn whole_quarters(&self, today: Quarter) -> u32 {
        let first = self.cases.values().filter_map(|quarters| quarters.keys().next()).min();
        let Some(mut quarter) = first.copied() else { return 0 };
        let mut whole = 0;
        while quarter < today && whole < PACE_OF {
            (quarter, whole) = (quarter.next(), whole + 1);
        }
        whole
    }
}

/// One centre: what it holds of whole quarters and in all, and what it takes in.
struct Centre {
    whole: ByArm<f64>,
    held: ByArm<f64>,
    pace: ByArm<f64>,
}

impl Centre {
    fn new(quarters: &BTreeMap<Quarter, ByArm<u32>>, today: Quarter, pace_of: u32) -> Self {
        let sum = |of: &dyn Fn(Quarter) -> bool| {
            ByArm::from_fn(|arm| {
                let told = quarters.iter().filter(|(quarter, _)| of(**quarter));
                told.map(|(_, cases)| f64::from(*cases.of(arm))).sum::<f64>()
            })
        };
        let recent = |quarter: Quarter| {
            let after = (0..pace_of).fold(quarter, |at, _| at.next());
            quarter < today && after >= today
        };
        let recent: ByArm<f64> = sum(&recent);
        Self {
            whole: sum(&|quarter| quarter < today),
            held: sum(&|_| true),
            pace: ByArm::from_fn(|arm| if pace_of == 0 { 0.0 } else { recent.of(arm) / f64::from(pace_of) }),
        }
    }

    /// Cases at the end of the quarter so many after this one.
    fn by_then(&self, number: u32) -> ByArm<f64> {
        let quarters = f64::from(number + 1);
        ByArm::from_fn(|arm| (self.whole.of(arm) + quarters * self.pace.of(arm)).max(*self.held.of(arm)))
    }

    /// Those of later quarters alone.
    fn fresh(&self, number: u32) -> ByArm<f64> {
        ByArm::from_fn(|arm| f64::from(number) * self.pace.of(arm))
    }
}

fn at_the_end_of(quarter: Quarter, number: u32, centres: &[Centre], assumed: Assumed) -> Ahead {
    let within =
        |of: &dyn Fn(&Centre) -> ByArm<f64>| -> f64 { centres.iter().map(|one| worth(&of(one))).sum() };
    let shows =
        |worth: f64| NonZeroU32::new(worth.floor() as u32).map_or(0.0, |size| assumed.alike.power(size));
    let worth_each_arm = within(&|centre| centre.by_then(number));
    Ahead {
        quarter,
        cases: ByArm::from_fn(|arm| centres.iter().map(|centre| *centre.by_then(number).of(arm)).sum()),
        worth_each_arm,
        chance: shows(worth_each_arm),
        fresh_chance: shows(within(&|centre| centre.fresh(number))),
    }
}
