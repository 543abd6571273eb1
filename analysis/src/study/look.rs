//! Which look at the data a comparison is, and what it may spend of the plan's level.
//!
//! A look is a data cut on which a plan was carried out. What it holds and what was spent by then is
//! fixed when the cut is first compared: the same cut is the same look for ever, and no later version
//! of the plan gives back what was spent.

use super::arm::ByArm;
use super::cohort::{CaseRow, Cohort};
use super::numerals::{count, level as in_per_cent, percent};
use super::plan::{AnalysisPlan, LEAST_NOMINAL, PlannedLooks, Reach};
use crate::methods::group_sequential::one_sided_boundaries;
use crate::methods::interval::Confidence;
use crate::methods::spending::{Looks, Spending};
use quietbeam_schema::ids::CentreCode;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt;

/// What a look used up.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Taken {
    /// Cases of each arm that tell as much as those of its cut, compared within centres.
    pub information: f64,
    /// Error rate on one side, spent by it and those before.
    pub spent: f64,
}

/// The looks at data under one plan up to the one at hand, in the order in which they were taken.
#[derive(Debug, Clone, PartialEq)]
pub struct LooksTaken {
    earlier: Vec<Taken>,
    own: Taken,
}

impl LooksTaken {
    /// A cut that was compared before: its look again.
    pub fn again(earlier: Vec<Taken>, own: Taken) -> Self {
        Self { earlier, own }
    }

    /// A cut that was never compared under this plan.
    pub fn next(plan: &AnalysisPlan, earlier: Vec<Taken>, information: f64) -> Self {
        let before = spent(&earlier);
        let rate = match plan.looks() {
            _ if earlier.len() as u32 >= plan.looks().number() => before,
            PlannedLooks::One => plan.level().tail(),
            PlannedLooks::Several(several) => {
                let fraction = information / f64::from(several.each_arm());
                let rises = several.rises(seen(&earlier), information);
                if rises { several.spent(plan.level(), fraction) } else { before }
            }
        };
        // What was spent cannot be taken back.
        Self { own: Taken { information, spent: rate.max(before) }, earlier }
    }

    /// The first look at a cohort.
    pub fn first(cohort: &Cohort, plan: &AnalysisPlan) -> Self {
        Self::next(plan, Vec::new(), information(cohort, plan))
    }

    /// What the look at hand used up.
    pub fn own(&self) -> Taken {
        self.own
    }

    /// Every look, the one at hand last.
    pub fn all(&self) -> impl Iterator<Item = Taken> {
        self.earlier.iter().copied().chain([self.own])
    }
}

/// What the cases that a plan compares are worth: see [`Reach`].
pub fn information(cohort: &Cohort, plan: &AnalysisPlan) -> f64 {
    information_of(cohort.rows(), plan)
}

pub(super) fn information_of<'c>(cases: impl IntoIterator<Item = &'c CaseRow>, plan: &AnalysisPlan) -> f64 {
    let mut by_centre = BTreeMap::<CentreCode, ByArm<u32>>::new();
    for case in cases {
        if plan.eligibility().left_out(case).is_some() {
            continue;
        }
        if let Some(arm) = plan.arm(case) {
            *by_centre.entry(case.centre).or_default().of_mut(arm) += 1;
        }
    }
    Reach::new(by_centre.into_values()).worth_each_arm
}

fn spent(looks: &[Taken]) -> f64 {
    looks.last().map_or(0.0, |look| look.spent)
}

/// The looks that spent something: only these could decide.
fn deciding(looks: &[Taken]) -> Vec<Taken> {
    let mut before = 0.0;
    looks.iter().copied().filter(|look| std::mem::replace(&mut before, look.spent) < look.spent).collect()
}

/// The information of the last look that could decide.
fn seen(looks: &[Taken]) -> f64 {
    deciding(looks).last().map_or(0.0, |look| look.information)
}

/// Why a look has no verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoVerdict {
    /// The plan orders fewer looks.
    BeyondThePlan,
    /// Its cut tells no more than one that was looked at before.
    NothingNew,
    /// So little is set aside for it that nothing could be decided.
    NothingToSpend,
}

/// Which look it is and what it may spend. Error rates are of one side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Look {
    /// 1 for the first data cut on which the plan was carried out, in any version.
    pub number: u32,
    /// Looks that the plan orders.
    pub planned: u32,
    /// Cases of each arm that tell as much as those of the cut, compared within centres.
    pub information: f64,
    /// The same as a share of the planned ones; absent for a plan with one look.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fraction: Option<f64>,
    /// Spent before.
    pub spent_before: f64,
    /// Spent at this look.
    pub spent_here: f64,
    /// Left for later looks.
    pub left: f64,
    /// The two-sided level of the intervals that decide; absent without a verdict.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level: Option<Confidence>,
    /// Why there is no verdict.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_verdict: Option<NoVerdict>,
    /// What every look up to this one used up.
    pub taken: Vec<Taken>,
    /// All of it in words.
    pub in_words: String,
}

impl Look {
    /// The look at hand under a plan.
    ///
    /// Formula: the level is 1 − 2p, with p the nominal one-sided level of the last of the boundaries
    /// that spend what was spent at the information there was; for a single look the plan's own.
    /// Source: \[lan_demets1983\]. The boundaries are for statistics with independent increments; with
    /// models refitted and few centres that holds nearly, not exactly.
    pub fn new(plan: &AnalysisPlan, taken: &LooksTaken) -> Self {
        let (own, number) = (taken.own, taken.earlier.len() as u32 + 1);
        let before = spent(&taken.earlier);
        let level = level(plan, taken, number);
        let fraction = match plan.looks() {
            PlannedLooks::One => None,
            PlannedLooks::Several(several) => Some(own.information / f64::from(several.each_arm())),
        };
        let mut look = Self {
            number,
            planned: plan.looks().number(),
            information: own.information,
            fraction,
            spent_before: before,
            spent_here: own.spent - before,
            left: (plan.level().tail() - own.spent).max(0.0),
            level: level.ok(),
            no_verdict: level.err(),
            taken: taken.all().collect(),
            in_words: String::new(),
        };
        look.in_words = look.told(plan);
        look
    }

    /// The level of the intervals of planned endpoints: the look's own, or the plan's where they
    /// only describe.
    pub(super) fn interval_level(&self, plan: &AnalysisPlan) -> Confidence {
        self.level.unwrap_or(plan.level())
    }

    fn told(&self, plan: &AnalysisPlan) -> String {
        let whole = in_per_cent(plan.level().tail());
        let which = match self.planned {
            1 if self.number == 1 => {
                return format!(
                    "The plan orders one look at the data, and this is it: the whole level of {whole} on one side is spent here."
                )
                .replace(" %", "\u{a0}%");
            }
            1 => format!("This is look {}, and the plan orders one.", self.number),
            planned => format!("This is look {} of {planned} that the plan orders.", self.number),
        };
        let cases = self.fraction.map_or(String::new(), |fraction| {
            format!(
                " It comes with {} of the planned cases: compared within centres they tell as much as {} in each arm.",
                percent(fraction, 0),
                count(self.information as u64)
            )
        });
        let spent = |rate: f64| if rate > 0.0 { in_per_cent(rate) } else { "nothing".to_owned() };
        let rates = format!(
            " Of {whole} on one side {} was spent before it, {} is spent here and {} is left.",
            spent(self.spent_before),
            spent(self.spent_here),
            spent(self.left)
        );
        let verdict = match (self.no_verdict, self.level) {
            (Some(why), _) => format!(" No verdict: {why}."),
            (None, Some(level)) if level != plan.level() => {
                format!(" The intervals that decide are therefore of {}.", in_per_cent(level.level()))
            }
            (None, _) => String::new(),
        };
        format!("{which}{cases}{rates}{verdict}").replace(" %", "\u{a0}%")
    }
}

impl fmt::Display for NoVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::BeyondThePlan => {
                "the plan orders no further look at the data, and its level is for those it orders"
            }
            Self::NothingNew => "the data cut tells hardly more than one that was looked at before",
            Self::NothingToSpend => {
                "the plan sets aside so little for a look this early that it could decide nothing"
            }
        })
    }
}

fn level(plan: &AnalysisPlan, taken: &LooksTaken, number: u32) -> Result<Confidence, NoVerdict> {
    if number > plan.looks().number() {
        return Err(NoVerdict::BeyondThePlan);
    }
    if taken.own.spent <= spent(&taken.earlier) {
        return Err(match plan.looks() {
            PlannedLooks::Several(several) if !several.rises(seen(&taken.earlier), taken.own.information) => {
                NoVerdict::NothingNew
            }
            _ => NoVerdict::NothingToSpend,
        });
    }
    let looks: Vec<Taken> = taken.all().collect();
    let spending = deciding(&looks);
    let nominal = match spending.as_slice() {
        // Alone it has what it spends, to the last digit.
        [alone] => alone.spent,
        several => nominal(several, taken.own.information).ok_or(NoVerdict::NothingToSpend)?,
    };
    if nominal < LEAST_NOMINAL {
        return Err(NoVerdict::NothingToSpend);
    }
    let found = Confidence::new(1.0 - 2.0 * nominal).map_err(|_| NoVerdict::NothingToSpend)?;
    // An amendment may ask for more; nothing earlier gives a look more than its plan has.
    Ok(if found.level() < plan.level().level() { plan.level() } else { found })
}

/// The nominal one-sided level of the last look; only the ratios of the information matter.
fn nominal(looks: &[Taken], own: f64) -> Option<f64> {
    let fractions = looks.iter().map(|look| look.information / own).collect();
    let spent = looks.iter().map(|look| look.spent).collect();
    let spending = Spending::new(Looks::new(fractions).ok()?, spent).ok()?;
    one_sided_boundaries(&spending).last()?.critical.map(|critical| critical.nominal_p)
}
