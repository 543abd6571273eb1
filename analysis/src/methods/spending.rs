//! How much of the error rate a trial or registry may spend by each interim look.

use serde::{Deserialize, Serialize};

use super::distribution::{normal_upper_quantile, normal_upper_tail};

/// Why numbers are not the looks of a plan.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum LooksError {
    /// None, or more than can be planned for.
    #[error("{found} looks are planned; there must be 1 to 50")]
    Number {
        /// Looks given.
        found: usize,
    },
    /// Looks must be apart, and within the planned information.
    #[error(
        "the information fraction {fraction} after {before} does not rise by 0.001 or more, or exceeds 1"
    )]
    NotRising {
        /// The fraction before, 0 at the first look.
        before: f64,
        /// The fraction given.
        fraction: f64,
    },
}

/// Fractions of the planned information at which the data are looked at: 1 to 50 of them, each at
/// least 0.001 above the one before, at most 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<f64>", into = "Vec<f64>")]
pub struct Looks(Vec<f64>);

impl Looks {
    /// Fractions such as 0.5 and 1.
    ///
    /// # Errors
    /// No look, more than 50, or fractions that do not rise or exceed 1.
    pub fn new(fractions: Vec<f64>) -> Result<Self, LooksError> {
        if fractions.is_empty() || fractions.len() > 50 {
            return Err(LooksError::Number { found: fractions.len() });
        }
        let mut before = 0.0;
        for fraction in &fractions {
            // A thousandth taken from rounded decimals may fall a hair short.
            let rises = *fraction - before >= 0.001 - 1e-12;
            if !rises || *fraction > 1.0 {
                return Err(LooksError::NotRising { before, fraction: *fraction });
            }
            before = *fraction;
        }
        Ok(Self(fractions))
    }

    /// The fractions, rising.
    pub fn fractions(&self) -> &[f64] {
        &self.0
    }
}

impl TryFrom<Vec<f64>> for Looks {
    type Error = LooksError;

    fn try_from(fractions: Vec<f64>) -> Result<Self, LooksError> {
        Self::new(fractions)
    }
}

impl From<Looks> for Vec<f64> {
    fn from(looks: Looks) -> Self {
        looks.0
    }
}

/// Why a number is not an error rate per side.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "an error rate of {rate} on one side does not lie between 0.000000001 and 0.25; write 2.5 % as 0.025"
)]
pub struct AlphaPerSideError {
    /// The number given.
    pub rate: f64,
}

/// Error rate to spend on one side; a two-sided design spends it twice.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct AlphaPerSide(f64);

impl AlphaPerSide {
    /// A rate such as 0.025, for a one-sided test at 2.5 % as for a two-sided one at 5 %.
    ///
    /// # Errors
    /// Out of range, or not a number.
    pub fn new(rate: f64) -> Result<Self, AlphaPerSideError> {
        if (1e-9..=0.25).contains(&rate) { Ok(Self(rate)) } else { Err(AlphaPerSideError { rate }) }
    }

    /// The rate.
    pub fn rate(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for AlphaPerSide {
    type Error = AlphaPerSideError;

    fn try_from(rate: f64) -> Result<Self, AlphaPerSideError> {
        Self::new(rate)
    }
}

impl From<AlphaPerSide> for f64 {
    fn from(alpha: AlphaPerSide) -> f64 {
        alpha.0
    }
}

/// Why a number is not the exponent of a power family.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("an exponent of {exponent} does not lie between 0.1 and 20")]
pub struct SpendingExponentError {
    /// The number given.
    pub exponent: f64,
}

/// Exponent of the power family, between 0.1 and 20: the higher, the less is spent early.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct SpendingExponent(f64);

impl SpendingExponent {
    /// An exponent such as 2.
    ///
    /// # Errors
    /// Out of range, or not a number.
    pub fn new(exponent: f64) -> Result<Self, SpendingExponentError> {
        if (0.1..=20.0).contains(&exponent) {
            Ok(Self(exponent))
        } else {
            Err(SpendingExponentError { exponent })
        }
    }
}

impl TryFrom<f64> for SpendingExponent {
    type Error = SpendingExponentError;

    fn try_from(exponent: f64) -> Result<Self, SpendingExponentError> {
        Self::new(exponent)
    }
}

impl From<SpendingExponent> for f64 {
    fn from(exponent: SpendingExponent) -> f64 {
        exponent.0
    }
}

/// Why numbers are not cumulative error rates of the looks.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SpendingError {
    /// One rate a look.
    #[error("{rates} rates are given for {looks} looks")]
    Number {
        /// Looks planned.
        looks: usize,
        /// Rates given.
        rates: usize,
    },
    /// What was spent cannot be taken back, and one side has no more than a quarter.
    #[error("the cumulative rate {rate} after {before} falls, or exceeds 0.25")]
    NotRising {
        /// The rate before, 0 at the first look.
        before: f64,
        /// The rate given.
        rate: f64,
    },
}

/// Error rate spent on one side by every look.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "UncheckedSpending")]
pub struct Spending {
    looks: Looks,
    cumulative: Vec<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UncheckedSpending {
    looks: Looks,
    cumulative: Vec<f64>,
}

impl TryFrom<UncheckedSpending> for Spending {
    type Error = SpendingError;

    fn try_from(raw: UncheckedSpending) -> Result<Self, SpendingError> {
        Self::new(raw.looks, raw.cumulative)
    }
}

impl Spending {
    /// Rates laid down in a protocol, cumulative, on one side; a look may spend nothing.
    ///
    /// # Errors
    /// Another number of rates than of looks, rates that fall, or more than 0.25 in all.
    pub fn new(looks: Looks, cumulative: Vec<f64>) -> Result<Self, SpendingError> {
        if cumulative.len() != looks.0.len() {
            return Err(SpendingError::Number { looks: looks.0.len(), rates: cumulative.len() });
        }
        let mut before = 0.0;
        for rate in &cumulative {
            let holds = *rate >= before && *rate <= 0.25;
            if !holds {
                return Err(SpendingError::NotRising { before, rate: *rate });
            }
            before = *rate;
        }
        Ok(Self { looks, cumulative })
    }

    fn by_function(alpha: AlphaPerSide, looks: Looks, spent: impl Fn(f64) -> f64) -> Self {
        // The last look spends all there is, without the rounding of the function.
        let rate = |t: &f64| if *t == 1.0 { alpha.0 } else { spent(*t).min(alpha.0) };
        let cumulative = looks.0.iter().map(rate).collect();
        Self { looks, cumulative }
    }

    /// The looks.
    pub fn looks(&self) -> &Looks {
        &self.looks
    }

    /// Error rate spent on one side by each look and those before.
    pub fn cumulative(&self) -> &[f64] {
        &self.cumulative
    }
}

/// O'Brien–Fleming-type spending of Lan and DeMets.
///
/// Formula: α(t) = 2(1 − Φ(z/√t)) on one side, with z the upper normal quantile of half the side's rate.
/// Units: a probability; t is the fraction of the planned information.
/// Edges: very early looks spend nothing that a number can hold.
/// Source: [lan_demets1983].
/// Checked: tests/numbers/group_sequential.csv.
pub fn obrien_fleming_type_spending(alpha: AlphaPerSide, looks: Looks) -> Spending {
    let z = normal_upper_quantile(alpha.0 / 2.0);
    Spending::by_function(alpha, looks, |t| 2.0 * normal_upper_tail(z / t.sqrt()))
}

/// Pocock-type spending of Lan and DeMets.
///
/// Formula: α(t) = α ln(1 + (e − 1)t) on one side.
/// Units: a probability; t is the fraction of the planned information.
/// Edges: α(1) = α.
/// Source: [lan_demets1983].
/// Checked: tests/numbers/group_sequential.csv.
pub fn pocock_type_spending(alpha: AlphaPerSide, looks: Looks) -> Spending {
    Spending::by_function(alpha, looks, |t| alpha.0 * ((std::f64::consts::E - 1.0) * t).ln_1p())
}

/// Spending of the power family.
///
/// Formula: α(t) = α tᵉ on one side, with e the exponent.
/// Units: a probability; t is the fraction of the planned information.
/// Edges: exponent 1 spends in proportion to the information.
/// Source: [kim_demets1987].
/// Checked: tests/numbers/group_sequential.csv.
pub fn power_family_spending(alpha: AlphaPerSide, exponent: SpendingExponent, looks: Looks) -> Spending {
    Spending::by_function(alpha, looks, |t| alpha.0 * t.powf(exponent.0))
}
