//! The three numbers of a case of the first arm from which sample size and power follow.

use super::counts::Expected;
use super::distribution::{normal_lower_tail, normal_upper_quantile};
use super::non_inferiority::Margin;
use super::plan::{CannotPlan, OneSidedAlpha, Planned, Proportions, WantedPower};
use super::ratio::restricted;
use super::ratio_margin::RatioMargin;
use super::score::restricted_proportions;

/// Distance and variances for one case of the first arm and θ cases of the second.
#[derive(Clone, Copy)]
pub(super) struct Terms {
    /// How far the assumption lies on the acceptable side of the margin.
    pub(super) distance: f64,
    /// Variance where the margin is just reached.
    pub(super) under_null: f64,
    /// Variance under the assumption.
    pub(super) under_truth: f64,
}

impl Terms {
    /// Cases of the first arm, not rounded: ((z_α√V0 + z_β√V1) / distance)².
    pub(super) fn cases(self, alpha: OneSidedAlpha, power: WantedPower) -> f64 {
        let reach = normal_upper_quantile(alpha.alpha()) * self.under_null.sqrt()
            + normal_upper_quantile(1.0 - power.power()) * self.under_truth.sqrt();
        (reach / self.distance).powi(2)
    }

    /// Φ(√n1 distance/√V1 − z_α√(V0/V1)).
    pub(super) fn power(self, alpha: OneSidedAlpha, first_cases: f64) -> f64 {
        // Events too rare for a double: both variances are beyond every number, and equal.
        let share = if self.under_truth.is_infinite() { 1.0 } else { self.under_null / self.under_truth };
        let away = first_cases.sqrt() * self.distance / self.under_truth.sqrt();
        normal_lower_tail(away - normal_upper_quantile(alpha.alpha()) * share.sqrt())
    }
}

fn expected(proportions: Proportions, theta: f64) -> (Expected, Expected) {
    let (p1, p2) = (proportions.first(), proportions.second());
    (
        Expected { events: p1, non_events: 1.0 - p1 },
        Expected { events: theta * p2, non_events: theta * (1.0 - p2) },
    )
}

/// p1(1−p1) + φ²p2(1−p2)/θ.
fn variance((p1, p2): (f64, f64), phi: f64, theta: f64) -> f64 {
    p1 * (1.0 - p1) + phi * phi * p2 * (1.0 - p2) / theta
}

fn assumed(proportions: Proportions) -> (f64, f64) {
    (proportions.first(), proportions.second())
}

pub(super) fn blackwelder(planned: &Planned<Margin>, theta: f64) -> Terms {
    let edge = planned.margin.null_difference().difference();
    let above = (planned.proportions.first() - planned.proportions.second()) - edge;
    let spread = variance(assumed(planned.proportions), 1.0, theta);
    let distance = match planned.margin {
        Margin::Benefit(_) => above,
        Margin::Harm(_) => -above,
    };
    Terms { distance, under_null: spread, under_truth: spread }
}

pub(super) fn farrington_manning(planned: &Planned<Margin>, theta: f64) -> Terms {
    let edge = planned.margin.null_difference().difference();
    let under_null = restricted_proportions(expected(planned.proportions, theta), edge);
    Terms { under_null: variance(under_null, 1.0, theta), ..blackwelder(planned, theta) }
}

pub(super) fn farrington_manning_ratio(planned: &Planned<RatioMargin>, theta: f64) -> Terms {
    let phi = planned.margin.null_ratio().ratio();
    let (p1, p2) = assumed(planned.proportions);
    let under_null = restricted(expected(planned.proportions, theta), phi.ln());
    Terms {
        distance: acceptable_side(phi) * (p1 - phi * p2),
        under_null: variance(under_null, phi, theta),
        under_truth: variance((p1, p2), phi, theta),
    }
}

pub(super) fn wald_log_ratio(planned: &Planned<RatioMargin>, theta: f64) -> Terms {
    let phi = planned.margin.null_ratio().ratio();
    let (p1, p2) = assumed(planned.proportions);
    let spread = (1.0 - p1) / p1 + (1.0 - p2) / (theta * p2);
    let distance = acceptable_side(phi) * ((p1 / p2).ln() - phi.ln());
    Terms { distance, under_null: spread, under_truth: spread }
}

/// A margin above 1 belongs to a harm, whose acceptable side is below it.
fn acceptable_side(phi: f64) -> f64 {
    if phi > 1.0 { -1.0 } else { 1.0 }
}

pub(super) fn difference_on_acceptable_side(planned: &Planned<Margin>) -> Result<(), CannotPlan> {
    let margin = planned.margin.null_difference().difference();
    let assumed = planned.proportions.first() - planned.proportions.second();
    let acceptable = match planned.margin {
        Margin::Benefit(_) => assumed > margin,
        Margin::Harm(_) => assumed < margin,
    };
    if acceptable { Ok(()) } else { Err(CannotPlan::BeyondMargin { assumed, margin }) }
}

pub(super) fn ratio_on_acceptable_side(planned: &Planned<RatioMargin>) -> Result<(), CannotPlan> {
    let margin = planned.margin.null_ratio().ratio();
    let assumed = planned.proportions.first() / planned.proportions.second();
    if acceptable_side(margin) * (assumed - margin) > 0.0 {
        Ok(())
    } else {
        Err(CannotPlan::BeyondMargin { assumed, margin })
    }
}
