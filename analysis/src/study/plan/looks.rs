//! How often a plan looks at the data, and how it spreads its level over the looks.

use super::refusal::Trouble;
use super::{PlanForm, number};
use crate::methods::group_sequential::one_sided_boundaries;
use crate::methods::group_sequential_power::group_sequential_inflation;
use crate::methods::interval::Confidence;
use crate::methods::plan::WantedPower;
use crate::methods::spending::{
    AlphaPerSide, Looks, Spending, SpendingExponent, obrien_fleming_type_spending, pocock_type_spending,
    power_family_spending,
};
use quietbeam_schema::vocabulary::{Coded, SpendingFunction};
use serde::{Deserialize, Serialize};

/// The looks as written.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LooksForm {
    /// The cases of each arm with which the last planned look comes.
    pub each_arm: u32,
    /// The share of them at each look, rising to 1.
    pub fractions: Vec<f64>,
    /// Code of the spending function.
    pub spending: String,
    /// The exponent; only with a power of the cases.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub exponent: Option<f64>,
}

/// How often the data are looked at.
#[derive(Debug, Clone, PartialEq)]
pub enum PlannedLooks {
    /// Once: the first data cut on which the plan is carried out has the whole level.
    One,
    /// Several times, each with a part of the level.
    Several(SeveralLooks),
}

/// Several looks that share the level.
#[derive(Debug, Clone, PartialEq)]
pub struct SeveralLooks {
    each_arm: u32,
    fractions: Looks,
    function: Function,
}

/// A spending function with what it needs.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Function {
    ObrienFlemingType,
    PocockType,
    PowerFamily(SpendingExponent),
}

impl Function {
    fn spending(self, alpha: AlphaPerSide, looks: Looks) -> Spending {
        match self {
            Self::ObrienFlemingType => obrien_fleming_type_spending(alpha, looks),
            Self::PocockType => pocock_type_spending(alpha, looks),
            Self::PowerFamily(exponent) => power_family_spending(alpha, exponent, looks),
        }
    }

    fn code(self) -> SpendingFunction {
        match self {
            Self::ObrienFlemingType => SpendingFunction::ObrienFlemingType,
            Self::PocockType => SpendingFunction::PocockType,
            Self::PowerFamily(_) => SpendingFunction::PowerFamily,
        }
    }
}

/// A smaller one-sided level decides nothing: intervals so wide tell nobody anything.
pub(in crate::study) const LEAST_NOMINAL: f64 = 1e-6;

/// A look that adds less than this share of the planned cases is no new one.
const LEAST_RISE: f64 = 0.01;

/// Most looks a plan takes.
const MOST: usize = 10;

impl PlannedLooks {
    /// How many.
    pub fn number(&self) -> u32 {
        match self {
            Self::One => 1,
            Self::Several(several) => several.fractions.fractions().len() as u32,
        }
    }

    /// How many times the cases of a single look it takes for a power; `None` for one look.
    pub fn inflation(&self, level: Confidence, power: WantedPower) -> Option<f64> {
        let Self::Several(several) = self else { return None };
        group_sequential_inflation(&several.planned(level)?, power).ok()
    }

    /// Reads the looks of a plan; none are one look.
    pub(super) fn read(form: &PlanForm) -> Result<Self, Vec<(&'static str, Trouble)>> {
        let Some(looks) = &form.looks else { return Ok(Self::One) };
        let mut troubles = Vec::new();
        if looks.each_arm == 0 {
            troubles.push(("/looks/each_arm", Trouble::CasesOfLooks));
        }
        let fractions = fractions(&looks.fractions).map_err(|why| troubles.push(("/looks/fractions", why)));
        let function = function(looks).map_err(|trouble| troubles.push(trouble));
        let (Ok(fractions), Ok(function)) = (fractions, function) else { return Err(troubles) };
        let several = SeveralLooks { each_arm: looks.each_arm, fractions, function };
        let level = number::level(form.level).ok();
        if let Some(fraction) = level.and_then(|level| several.idle(level)) {
            troubles.push(("/looks/fractions", Trouble::IdleLook(fraction)));
        }
        if troubles.is_empty() { Ok(Self::Several(several)) } else { Err(troubles) }
    }
}

impl SeveralLooks {
    /// The cases of each arm with which the last planned look comes.
    pub fn each_arm(&self) -> u32 {
        self.each_arm
    }

    /// The share of them at each look.
    pub fn fractions(&self) -> &[f64] {
        self.fractions.fractions()
    }

    /// The spending function.
    pub fn spending(&self) -> SpendingFunction {
        self.function.code()
    }

    /// The exponent of a power of the cases.
    pub fn exponent(&self) -> Option<f64> {
        match self.function {
            Function::PowerFamily(exponent) => Some(exponent.into()),
            Function::ObrienFlemingType | Function::PocockType => None,
        }
    }

    /// One-sided error rate that is spent when a share of the planned cases is there, at most
    /// the whole of it.
    pub(in crate::study) fn spent(&self, level: Confidence, fraction: f64) -> f64 {
        let alpha = AlphaPerSide::new(level.tail());
        let looks = Looks::new(vec![fraction.min(1.0)]);
        // Without a case nothing is spent.
        let (Ok(alpha), Ok(looks)) = (alpha, looks) else { return 0.0 };
        self.function.spending(alpha, looks).cumulative().last().copied().unwrap_or(0.0)
    }

    /// Whether a cut holds enough more than an earlier one to be a look of its own.
    pub(in crate::study) fn rises(&self, before: f64, information: f64) -> bool {
        information - before >= LEAST_RISE * f64::from(self.each_arm)
    }

    /// What the looks spend if they come as planned; a plan's level always allows it.
    fn planned(&self, level: Confidence) -> Option<Spending> {
        let alpha = AlphaPerSide::new(level.tail()).ok()?;
        Some(self.function.spending(alpha, self.fractions.clone()))
    }

    /// The first look that could decide nothing if it came as planned.
    fn idle(&self, level: Confidence) -> Option<f64> {
        let looks = one_sided_boundaries(&self.planned(level)?);
        let idle =
            looks.iter().find(|look| look.critical.is_none_or(|found| found.nominal_p < LEAST_NOMINAL));
        idle.map(|look| look.fraction)
    }
}

impl From<SeveralLooks> for LooksForm {
    fn from(looks: SeveralLooks) -> Self {
        Self {
            each_arm: looks.each_arm,
            spending: looks.spending().code().to_owned(),
            exponent: looks.exponent(),
            fractions: looks.fractions.into(),
        }
    }
}

fn fractions(given: &[f64]) -> Result<Looks, Trouble> {
    let apart = |pair: &[f64]| pair[1] - pair[0] >= LEAST_RISE - 1e-12;
    let holds = (2..=MOST).contains(&given.len())
        && given.first().is_some_and(|first| *first >= LEAST_RISE)
        && given.windows(2).all(apart)
        && given.last() == Some(&1.0);
    let looks = holds.then(|| Looks::new(given.to_vec()).ok()).flatten();
    looks.ok_or(Trouble::Fractions)
}

fn function(looks: &LooksForm) -> Result<Function, (&'static str, Trouble)> {
    const EXPONENT: &str = "/looks/exponent";
    let code = SpendingFunction::from_code(&looks.spending).ok_or_else(|| {
        ("/looks/spending", super::refusal::unknown(SpendingFunction::LIST, &looks.spending))
    })?;
    match (code, looks.exponent) {
        (SpendingFunction::PowerFamily, Some(exponent)) => SpendingExponent::new(exponent)
            .map(Function::PowerFamily)
            .map_err(|_| (EXPONENT, Trouble::Exponent(Some(exponent)))),
        (SpendingFunction::PowerFamily, None) => Err((EXPONENT, Trouble::Exponent(None))),
        (_, Some(_)) => Err((EXPONENT, Trouble::ExponentUnused)),
        (SpendingFunction::ObrienFlemingType, None) => Ok(Function::ObrienFlemingType),
        (SpendingFunction::PocockType, None) => Ok(Function::PocockType),
    }
}
