//! One effect over all centres, with its limits, and what a new centre may expect.

use serde::{Deserialize, Serialize};

use super::between_centres::{BetweenCentres, BetweenMethod, CentreModel};
use super::distribution::{normal_upper_tail, student_two_sided_p, student_upper_quantile};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};

/// A pooled effect.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PooledEffect {
    /// Estimate and limits on the scale of the effects: logarithms stay logarithms.
    pub interval: Interval,
    /// Standard error the limits stand on.
    pub standard_error: f64,
    /// Estimate over standard error.
    pub statistic: f64,
    /// Two-sided p value of no effect, by the distribution the limits stand on.
    pub p: f64,
    /// Variance between centres and how it was obtained.
    pub between: BetweenCentres,
    /// Share of each centre, in the order given.
    pub shares: Vec<f64>,
}

/// Inverse-variance mean with normal limits.
///
/// Formula: m = Σwy/Σw, w = 1/(v+τ²), limits m ± z/√Σw.
/// Units: those of the effects.
/// Edges: too narrow with few centres, because τ² is taken as known.
/// Source: [dersimonian_laird1986].
/// Checked: tests/numbers/pooling.csv.
pub fn pooled_normal(model: &CentreModel, level: Confidence) -> PooledEffect {
    let standard_error = model.pool().weight.sqrt().recip();
    let reach = level.z() * standard_error;
    let p = |statistic: f64| 2.0 * normal_upper_tail(statistic.abs());
    let interval = around(model, reach, level, IntervalMethod::PooledNormal);
    pooled(model, interval, standard_error, p)
}

/// Inverse-variance mean with the limits of Hartung and Knapp.
///
/// Formula: m ± t√(Σw(y−m)² / ((k−1)Σw)), w = 1/(v+τ²), t Student's with k−1 degrees of freedom.
/// Units: those of the effects.
/// Edges: centres that agree by chance make it narrower than the normal limits, and centres
/// that agree exactly leave no standard error; fewer than two centres are refused.
/// Source: [hartung_knapp2001].
/// Checked: tests/numbers/pooling.csv.
pub fn pooled_hartung_knapp(model: &CentreModel, level: Confidence) -> Result<PooledEffect, NotEstimable> {
    let factor = hartung_knapp_factor(model)?;
    if factor <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    Ok(student(model, factor, level, IntervalMethod::HartungKnapp))
}

/// Inverse-variance mean with the ad hoc limits of Knapp and Hartung.
///
/// Formula: as Hartung–Knapp, with the factor Σw(y−m)²/(k−1) of the variance never below 1.
/// Units: those of the effects.
/// Edges: never narrower than the normal limits; fewer than two centres are refused.
/// Source: [knapp_hartung2003].
/// Checked: tests/numbers/pooling.csv.
pub fn pooled_hartung_knapp_ad_hoc(
    model: &CentreModel,
    level: Confidence,
) -> Result<PooledEffect, NotEstimable> {
    let factor = hartung_knapp_factor(model)?.max(1.0);
    Ok(student(model, factor, level, IntervalMethod::HartungKnappAdHoc))
}

/// Interval for the true effect at a new centre like these.
///
/// Formula: m ± t√(τ² + 1/Σw), w = 1/(v+τ²), t Student's with k−2 degrees of freedom.
/// Units: those of the effects.
/// Edges: not truncated to the possible range; τ² = 0 still gives Student's width; fewer than
/// three centres, or a common effect (which leaves nothing to predict), are refused.
/// Source: [higgins2009].
/// Checked: tests/numbers/pooling.csv.
pub fn prediction_interval(model: &CentreModel, level: Confidence) -> Result<Interval, NotEstimable> {
    predicted(model, 1.0, level, IntervalMethod::Prediction)
}

/// Interval for the true effect at a new centre, standard error of Hartung and Knapp.
///
/// Formula: m ± t√(τ² + s²), s² the Hartung–Knapp variance of m, t Student's with k−2 degrees of
/// freedom.
/// Units: those of the effects.
/// Edges: as without Hartung–Knapp; centres that agree exactly are refused.
/// Source: [higgins2009], [hartung_knapp2001].
/// Checked: tests/numbers/pooling.csv.
pub fn prediction_interval_hartung_knapp(
    model: &CentreModel,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let factor = hartung_knapp_factor(model)?;
    if factor <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    predicted(model, factor, level, IntervalMethod::PredictionHartungKnapp)
}

/// Σw(y−m)²/(k−1).
fn hartung_knapp_factor(model: &CentreModel) -> Result<f64, NotEstimable> {
    at_least(2, model)?;
    Ok(model.pool().q / model.effects.freedom())
}

fn student(model: &CentreModel, factor: f64, level: Confidence, method: IntervalMethod) -> PooledEffect {
    let df = model.effects.freedom();
    let standard_error = (factor / model.pool().weight).sqrt();
    let reach = student_upper_quantile(level.tail(), df) * standard_error;
    let interval = around(model, reach, level, method);
    pooled(model, interval, standard_error, |statistic| student_two_sided_p(statistic, df))
}

fn predicted(
    model: &CentreModel,
    factor: f64,
    level: Confidence,
    method: IntervalMethod,
) -> Result<Interval, NotEstimable> {
    let BetweenCentres { tau_squared, method: between } = model.between();
    if between == BetweenMethod::CommonEffect {
        return Err(NotEstimable::OneCommonEffect);
    }
    at_least(3, model)?;
    let spread = (tau_squared + factor / model.pool().weight).sqrt();
    let reach = student_upper_quantile(level.tail(), model.effects.freedom() - 1.0) * spread;
    Ok(around(model, reach, level, method))
}

fn at_least(needed: usize, model: &CentreModel) -> Result<(), NotEstimable> {
    let found = model.centres();
    if found < needed { Err(NotEstimable::TooFewCentres { found, needed }) } else { Ok(()) }
}

fn around(model: &CentreModel, reach: f64, level: Confidence, method: IntervalMethod) -> Interval {
    let estimate = model.pool().mean;
    Interval { estimate, lower: estimate - reach, upper: estimate + reach, level, method }
}

fn pooled(
    model: &CentreModel,
    interval: Interval,
    standard_error: f64,
    p: impl Fn(f64) -> f64,
) -> PooledEffect {
    let statistic = interval.estimate / standard_error;
    PooledEffect {
        interval,
        standard_error,
        statistic,
        p: p(statistic),
        between: model.between(),
        shares: model.shares(),
    }
}
