//! The effect seen at each centre, and how uncertain it is there.

use serde::{Deserialize, Serialize};

use super::counts::{EventCount, Stratum, TwoArms};
use super::interval::{Arm, NotEstimable};

/// Why two numbers are not the effect of a centre.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CentreEffectError {
    /// Not a number, or so large that its unit must be wrong.
    #[error("an effect of {estimate} does not lie between -1e12 and 1e12")]
    Estimate {
        /// The estimate given.
        estimate: f64,
    },
    /// Zero, negative, not a number, or so small or large that its unit must be wrong.
    #[error("a variance of {variance} does not lie between 1e-24 and 1e24; give the squared standard error")]
    Variance {
        /// The variance given.
        variance: f64,
    },
}

/// What one centre estimates, with the variance of that estimate within the centre.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "UncheckedEffect")]
pub struct CentreEffect {
    estimate: f64,
    variance: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UncheckedEffect {
    estimate: f64,
    variance: f64,
}

impl TryFrom<UncheckedEffect> for CentreEffect {
    type Error = CentreEffectError;

    fn try_from(raw: UncheckedEffect) -> Result<Self, CentreEffectError> {
        Self::new(raw.estimate, raw.variance)
    }
}

impl CentreEffect {
    /// An estimate and its variance, the squared standard error.
    ///
    /// # Errors
    /// A number beyond any sensible unit, or a variance that is not above 0.
    pub fn new(estimate: f64, variance: f64) -> Result<Self, CentreEffectError> {
        if !(-1e12..=1e12).contains(&estimate) {
            return Err(CentreEffectError::Estimate { estimate });
        }
        if !(1e-24..=1e24).contains(&variance) {
            return Err(CentreEffectError::Variance { variance });
        }
        Ok(Self { estimate, variance })
    }

    /// The estimate, on the scale the effects are pooled on.
    pub fn estimate(self) -> f64 {
        self.estimate
    }

    /// Variance of the estimate within the centre, above 0.
    pub fn variance(self) -> f64 {
        self.variance
    }
}

/// Difference of proportions at each centre, variance from the centre's own proportions.
///
/// Formula: p1 − p2 with variance p1(1−p1)/n1 + p2(1−p2)/n2.
/// Units: proportions between 0 and 1, first − second.
/// Edges: nothing is ever added to a count. A centre where neither arm varies (no events at
/// all) has the difference 0 but no variance of its own: it is not dropped, the whole is
/// refused, and common rates are the way. `None` where an arm has no cases.
/// Source: [dersimonian_laird1986].
/// Checked: tests/numbers/centre_effects.csv.
pub fn risk_differences(strata: &[Stratum]) -> Result<Vec<Option<CentreEffect>>, NotEstimable> {
    let own = |counts: EventCount| counts.x() * counts.y() / (counts.n() * counts.n() * counts.n());
    let effect = |(index, stratum): (usize, &Stratum)| {
        let Some(arms) = stratum.arms() else { return Ok(None) };
        let variance = own(arms.first) + own(arms.second);
        if variance <= 0.0 {
            return Err(NotEstimable::NoVariationAtCentre { place: index + 1 });
        }
        Ok(Some(CentreEffect { estimate: arms.difference(), variance }))
    };
    strata.iter().enumerate().map(effect).collect()
}

/// Difference of proportions at each centre, variance from the proportions of all centres.
///
/// Formula: p1 − p2 with variance P1(1−P1)/n1 + P2(1−P2)/n2, P the proportion of an arm over
/// all centres that have both arms.
/// Units: proportions between 0 and 1, first − second.
/// Edges: nothing is ever added to a count and no centre is dropped: one without events has
/// the difference 0 and the variance its size deserves, and a lucky centre gains no weight by
/// its luck. An arm without events (or with only events) in all centres together is refused.
/// Too wide where the centres' own proportions differ much. `None` where an arm has no cases.
/// Source: [berkey1995].
/// Checked: tests/numbers/centre_effects.csv.
pub fn risk_differences_by_common_rates(
    strata: &[Stratum],
) -> Result<Vec<Option<CentreEffect>>, NotEstimable> {
    let all: Vec<TwoArms> = strata.iter().filter_map(|stratum| stratum.arms()).collect();
    if all.is_empty() {
        return Err(NotEstimable::NoStratumWithBothArms);
    }
    let first = spread_of_one_case(&all, Arm::First, |arms| arms.first)?;
    let second = spread_of_one_case(&all, Arm::Second, |arms| arms.second)?;
    let effect = |arms: TwoArms| CentreEffect {
        estimate: arms.difference(),
        variance: first / arms.first.n() + second / arms.second.n(),
    };
    Ok(strata.iter().map(|stratum| stratum.arms().map(effect)).collect())
}

/// P(1−P) of one arm over all centres.
fn spread_of_one_case(
    all: &[TwoArms],
    arm: Arm,
    counts: fn(&TwoArms) -> EventCount,
) -> Result<f64, NotEstimable> {
    // Whole numbers: the sum is the same in every order of the centres.
    let events: u64 = all.iter().map(|arms| u64::from(counts(arms).events())).sum();
    let cases: u64 = all.iter().map(|arms| u64::from(counts(arms).total())).sum();
    if events == 0 {
        return Err(NotEstimable::NoEvents { arm });
    }
    if events == cases {
        return Err(NotEstimable::OnlyEvents { arm });
    }
    Ok(events as f64 / cases as f64 * ((cases - events) as f64 / cases as f64))
}

/// Logarithm of the odds ratio at each centre, one half added where a cell is zero.
///
/// Formula: ln(x1y2 / y1x2) with variance 1/x1 + 1/y1 + 1/x2 + 1/y2, y = n − x; at a centre
/// with a zero cell, and only there, ½ is first added to all four cells.
/// Units: natural logarithm, first over second.
/// Edges: no centre is dropped. One without events enters with ln((2n2+1)/(2n1+1)) and a
/// variance just above 4: nearly nothing, but not 0 when its arms differ in size.
/// `None` where an arm has no cases.
/// Source: [haldane1956], [woolf1955].
/// Checked: tests/numbers/centre_effects.csv.
pub fn log_odds_ratios(strata: &[Stratum]) -> Vec<Option<CentreEffect>> {
    each(strata, |arms| log_odds_ratio(cells(arms, |_, _| 0.5)))
}

/// Logarithm of the odds ratio at each centre, size-matched correction where a cell is zero.
///
/// Formula: as with one half, but what is added to the cells of an arm is its share of the
/// centre's cases, n1/N or n2/N.
/// Units: natural logarithm, first over second.
/// Edges: no centre is dropped. One without events enters with 0 and a variance of
/// N(1/n1 + 1/n2) or a little more. `None` where an arm has no cases.
/// Source: [sweeting2004].
/// Checked: tests/numbers/centre_effects.csv.
pub fn log_odds_ratios_size_matched(strata: &[Stratum]) -> Vec<Option<CentreEffect>> {
    each(strata, |arms| log_odds_ratio(cells(arms, |own, both| own / both)))
}

/// Logarithm of the risk ratio at each centre, one half added where a cell is zero.
///
/// Formula: ln(x1n2 / x2n1) with variance y1/(x1n1) + y2/(x2n2), y = n − x; at a centre with a
/// zero cell, and only there, ½ is first added to all four cells.
/// Units: natural logarithm, first over second.
/// Edges: no centre is dropped. One without events enters with ln((n2+1)/(n1+1)) and a variance
/// just below 4; one with only events has hardly any variance, so count the rarer event.
/// `None` where an arm has no cases.
/// Source: [katz1978].
/// Checked: tests/numbers/centre_effects.csv.
pub fn log_risk_ratios(strata: &[Stratum]) -> Vec<Option<CentreEffect>> {
    each(strata, |arms| log_risk_ratio(cells(arms, |_, _| 0.5)))
}

/// Logarithm of the risk ratio at each centre, size-matched correction where a cell is zero.
///
/// Formula: as with one half, but what is added to the cells of an arm is its share of the
/// centre's cases, n1/N or n2/N.
/// Units: natural logarithm, first over second.
/// Edges: no centre is dropped. One without events enters with 0.
/// `None` where an arm has no cases.
/// Source: [sweeting2004].
/// Checked: tests/numbers/centre_effects.csv.
pub fn log_risk_ratios_size_matched(strata: &[Stratum]) -> Vec<Option<CentreEffect>> {
    each(strata, |arms| log_risk_ratio(cells(arms, |own, both| own / both)))
}

/// Logarithm of the odds at each centre, one half added where a cell is zero.
///
/// Formula: ln(x/y) with variance 1/x + 1/y, y = n − x; at a centre without events or without
/// non-events, and only there, ½ is first added to both.
/// Units: natural logarithm.
/// Edges: with rare events the correction decides the result; the random-intercept fit needs none.
/// Source: [haldane1956].
/// Checked: tests/numbers/centre_effects.csv.
pub fn log_odds(centres: &[EventCount]) -> Vec<CentreEffect> {
    let effect = |counts: &EventCount| {
        let added = if counts.events() == 0 || counts.non_events() == 0 { 0.5 } else { 0.0 };
        let (x, y) = (counts.x() + added, counts.y() + added);
        CentreEffect { estimate: (x / y).ln(), variance: 1.0 / x + 1.0 / y }
    };
    centres.iter().map(effect).collect()
}

fn each(strata: &[Stratum], effect: impl Fn(TwoArms) -> CentreEffect) -> Vec<Option<CentreEffect>> {
    strata.iter().map(|stratum| stratum.arms().map(&effect)).collect()
}

/// Events and non-events of both arms, corrected where one of the four is zero.
struct Cells {
    x1: f64,
    y1: f64,
    x2: f64,
    y2: f64,
}

fn cells(arms: TwoArms, correction: fn(own: f64, both: f64) -> f64) -> Cells {
    let (a, b) = (arms.first, arms.second);
    let zero = [a.events(), a.non_events(), b.events(), b.non_events()].contains(&0);
    let added = |own: EventCount| if zero { correction(own.n(), arms.n()) } else { 0.0 };
    Cells { x1: a.x() + added(a), y1: a.y() + added(a), x2: b.x() + added(b), y2: b.y() + added(b) }
}

fn log_odds_ratio(Cells { x1, y1, x2, y2 }: Cells) -> CentreEffect {
    let estimate = (x1 / y1).ln() - (x2 / y2).ln();
    CentreEffect { estimate, variance: 1.0 / x1 + 1.0 / y1 + 1.0 / x2 + 1.0 / y2 }
}

fn log_risk_ratio(Cells { x1, y1, x2, y2 }: Cells) -> CentreEffect {
    let (n1, n2) = (x1 + y1, x2 + y2);
    let estimate = (x1 / n1).ln() - (x2 / n2).ln();
    CentreEffect { estimate, variance: y1 / x1 / n1 + y2 / x2 / n2 }
}
