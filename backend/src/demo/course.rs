//! What was intended, what became of it, and whether it succeeded. The risks
//! under both strategies are kept, so that the truth about them can be told.

use super::chance::Chance;
use super::model::{Circumstances, KindModel};
use super::network::Habits;
use super::patient::Patient;
use quietbeam_schema::vocabulary::ProcedureType;

/// A risk under each strategy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Risks {
    /// If zero-fluoroscopy is intended.
    pub zero: f64,
    /// If conventional guidance is intended.
    pub conventional: f64,
}

impl Risks {
    fn of(risk: impl Fn(bool) -> f64) -> Self {
        Self { zero: risk(true), conventional: risk(false) }
    }

    /// The risk under the strategy that was intended.
    pub fn under(&self, zero_intended: bool) -> f64 {
        if zero_intended { self.zero } else { self.conventional }
    }
}

/// How the left heart was reached.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum LeftHeart {
    NotEntered,
    Punctured(i64),
    OpenForamen,
    Retrograde,
}

impl LeftHeart {
    pub(super) fn crossed(self) -> bool {
        matches!(self, Self::Punctured(_) | Self::OpenForamen)
    }
}

/// The worst harm that was drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Harm {
    None,
    /// A drained effusion.
    Drained,
    /// Another major complication.
    OtherMajor,
}

/// The course of one case.
#[derive(Clone)]
pub(super) struct Course {
    pub(super) zero_intended: bool,
    pub(super) zero_chance: f64,
    pub(super) crossed_over: bool,
    pub(super) echo_inside: bool,
    pub(super) left_heart: LeftHeart,
    pub(super) operator: usize,
    pub(super) success_risk: Risks,
    pub(super) major_risk: Risks,
    pub(super) drained_risk: Risks,
    pub(super) crossover_risk: f64,
    pub(super) success: bool,
    pub(super) harm: Harm,
}

/// Where and when a case takes place.
pub(super) struct Setting<'a> {
    pub(super) centre: &'a Habits,
    pub(super) quarter: usize,
    pub(super) model: &'static KindModel,
}

impl Course {
    /// Draws the course. `zero_cases` counts each operator's zero-fluoroscopy
    /// cases in this network and is carried on: whatever an operator did before
    /// joining, the network's way of working is new at first.
    pub(super) fn draw(
        chance: &mut Chance,
        setting: &Setting<'_>,
        patient: &Patient,
        zero_cases: &mut [usize],
    ) -> Self {
        let operator = chance.between(0, zero_cases.len() as i64 - 1) as usize;
        let around = Circumstances {
            model: setting.model,
            centre: setting.centre,
            complexity: patient.complexity,
            congenital: patient.has_congenital(),
            device: patient.has_device(),
            earlier_zero: zero_cases[operator],
        };
        let zero_chance = around.zero_intended(setting.centre.zero_share(setting.quarter));
        let zero = chance.happens(zero_chance);
        let echo = if zero { setting.centre.echo_zero } else { setting.centre.echo_conventional };
        let echo_inside = chance.happens(echo);
        let left_heart = left_heart(chance, setting.model.kind);
        let crossover_risk = around.crossover(matches!(left_heart, LeftHeart::Punctured(_)));
        let crossed_over = chance.happens(crossover_risk) && zero;
        let success_risk = Risks::of(|zero| around.success(zero));
        let major_risk = Risks::of(|zero| around.major(zero));
        let drained_risk = Risks::of(|zero| around.drained(zero));
        zero_cases[operator] += usize::from(zero);
        // One draw for both kinds of harm: drained first, then the rest of major.
        let draw = chance.uniform();
        let harm = match draw {
            draw if draw < drained_risk.under(zero) => Harm::Drained,
            draw if draw < major_risk.under(zero) => Harm::OtherMajor,
            _ => Harm::None,
        };
        Self {
            zero_intended: zero,
            zero_chance,
            crossed_over,
            echo_inside,
            left_heart,
            operator,
            success: chance.happens(success_risk.under(zero)),
            success_risk,
            major_risk,
            drained_risk,
            crossover_risk,
            harm,
        }
    }

    /// The beam was on.
    pub(super) fn beam_on(&self) -> bool {
        !self.zero_intended || self.crossed_over
    }
}

fn left_heart(chance: &mut Chance, kind: ProcedureType) -> LeftHeart {
    use LeftHeart as L;
    use ProcedureType as P;
    let routes: &[(L, f64)] = match kind {
        P::AfParoxysmalFirst | P::AfPersistentFirst | P::AfRedo => {
            &[(L::Punctured(1), 0.66), (L::Punctured(2), 0.34)]
        }
        P::AvrtAp => {
            &[(L::NotEntered, 0.45), (L::Punctured(1), 0.30), (L::OpenForamen, 0.05), (L::Retrograde, 0.20)]
        }
        P::FocalAt => &[(L::NotEntered, 0.75), (L::Punctured(1), 0.22), (L::OpenForamen, 0.03)],
        P::Pvc => &[(L::NotEntered, 0.58), (L::Retrograde, 0.32), (L::Punctured(1), 0.10)],
        P::VtEndocardial => &[(L::NotEntered, 0.10), (L::Retrograde, 0.40), (L::Punctured(1), 0.50)],
        P::VtEpicardial => &[(L::NotEntered, 0.40), (L::Retrograde, 0.25), (L::Punctured(1), 0.35)],
        _ => &[(L::NotEntered, 1.0)],
    };
    chance.one_of(routes)
}
