//! An endpoint compared among cases alike in centre and covariates, by every method that a
//! plan can choose, side by side.

mod covariates;

use super::cohort::CaseRow;
use super::endpoint::{Endpoint, Estimate};
use super::plan::AnalysisPlan;
use super::population::{Arm, ByArm, Population};
use crate::methods::cluster_variance::cr2_variance;
use crate::methods::clustered::ClusteredFit;
use crate::methods::coefficient_variance::{CoefficientVariance, hc0_variance};
use crate::methods::design::{Design, indicators};
use crate::methods::firth::firth_regression;
use crate::methods::interval::{Confidence, Interval, NotEstimable};
use crate::methods::logistic::{LogisticCases, logistic_regression};
use crate::methods::propensity::{TargetPopulation, logistic_propensity};
use crate::methods::standardisation::{effects_covariates_sampled, standardise};
use crate::methods::weighting::{WeightedCases, hajek_risks, weighted_cr2};
use covariates::{Term, taking_part, terms};
use quietbeam_schema::ids::CentreCode;
use serde::Serialize;

/// Two risks and their difference (zero-fluoroscopy − conventional).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Adjusted {
    /// The risks, between 0 and 1.
    pub risks: ByArm<f64>,
    /// Their difference.
    pub difference: Interval,
    /// Degrees of freedom of the interval; absent for the normal distribution.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub degrees_of_freedom: Option<f64>,
}

/// One endpoint in one population, adjusted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Adjustment {
    /// Cases of each arm whose outcome is known and that take part.
    pub cases: ByArm<u32>,
    /// Cases of each arm that left because a covariate is not recorded.
    pub incomplete: ByArm<u32>,
    /// Centres among them.
    pub centres: usize,
    /// The terms of the models beside arm and centre.
    pub terms: Vec<String>,
    /// Marginal standardisation with CR2 by centre: speaks of centres like these.
    pub standardised: Estimate<Adjusted>,
    /// The same without clustering: speaks of these centres only.
    pub standardised_these_centres: Estimate<Adjusted>,
    /// Overlap weights with CR2 by centre.
    pub overlap_weighted: Estimate<Adjusted>,
    /// Where a group without any event, or with nothing else, separates the outcomes: the
    /// penalised model, for these centres only. It decides nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub penalised: Option<Estimate<Adjusted>>,
}

impl Adjustment {
    /// Compares an endpoint in a population as the plan says.
    pub fn new(rows: &[&CaseRow], endpoint: Endpoint, population: Population, plan: &AnalysisPlan) -> Self {
        let known: Vec<&CaseRow> =
            rows.iter().copied().filter(|case| known(case, endpoint, population).is_some()).collect();
        let before = sizes(&known, population);
        let taking_part = taking_part(known, plan.covariates(), plan.missing_covariates());
        let cases = sizes(&taking_part, population);
        let terms = terms(&taking_part, plan.covariates());
        let names = terms.iter().map(|(name, _)| name.clone()).collect();
        let model = Model::new(&taking_part, endpoint, population, terms);
        let level = plan.level();
        let standardised = model.as_ref().map_err(|why| *why).and_then(|model| model.standardised(level));
        let separated =
            matches!(standardised, Err(NotEstimable::Separated | NotEstimable::SeparatedByColumn { .. }));
        let of_model = |estimate: fn(&Model, Confidence) -> Result<Adjusted, NotEstimable>| {
            Estimate::from(model.as_ref().map_err(|why| *why).and_then(|model| estimate(model, level)))
        };
        Self {
            cases,
            incomplete: ByArm::from_fn(|arm| before.of(arm) - cases.of(arm)),
            centres: model.as_ref().map_or(0, |model| model.centres),
            terms: names,
            standardised: standardised.into(),
            standardised_these_centres: of_model(Model::standardised_these_centres),
            overlap_weighted: of_model(Model::overlap_weighted),
            penalised: separated.then(|| of_model(Model::penalised)),
        }
    }
}

fn known(case: &CaseRow, endpoint: Endpoint, population: Population) -> Option<(Arm, bool)> {
    Some((population.arm(case)?, endpoint.event(case)?))
}

fn sizes(rows: &[&CaseRow], population: Population) -> ByArm<u32> {
    super::endpoint::arm_sizes(rows, population)
}

/// Cases as numbers, in an order that does not depend on how they were read, so that no
/// rounding does either.
struct Model {
    /// Centre indicators and covariates; the arm is not among them.
    before: Design,
    /// The same with the arm as last column.
    with_arm: Design,
    in_first: Vec<bool>,
    events: Vec<bool>,
    labels: Vec<u32>,
    centres: usize,
}

impl Model {
    fn new(
        rows: &[&CaseRow],
        endpoint: Endpoint,
        population: Population,
        terms: Vec<Term>,
    ) -> Result<Self, NotEstimable> {
        let mut centres: Vec<CentreCode> = rows.iter().map(|case| case.centre).collect();
        centres.sort_unstable();
        centres.dedup();
        let mut cases: Vec<Numbers> = (0..rows.len())
            .filter_map(|at| {
                let (arm, event) = known(rows[at], endpoint, population)?;
                let label = centres.binary_search(&rows[at].centre).ok()? as u32;
                let values = terms.iter().map(|(_, column)| column[at]).collect();
                Some(Numbers { label, first: arm == Arm::ZeroFluoroscopy, event, values })
            })
            .collect();
        cases.sort_unstable_by(Numbers::order);
        let labels: Vec<u32> = cases.iter().map(|case| case.label).collect();
        let mut columns = indicators(&labels);
        columns.extend((0..terms.len()).map(|term| cases.iter().map(|case| case.values[term]).collect()));
        let design = |columns: &[Vec<f64>]| {
            // Columns are as long as the cases; values are recorded within their limits.
            Design::new(cases.len(), columns).map_err(|_| NotEstimable::NoVariation)
        };
        let before = design(&columns)?;
        columns.push(cases.iter().map(|case| f64::from(u8::from(case.first))).collect());
        Ok(Self {
            with_arm: design(&columns)?,
            before,
            in_first: cases.iter().map(|case| case.first).collect(),
            events: cases.iter().map(|case| case.event).collect(),
            labels,
            centres: centres.len(),
        })
    }

    fn standardised(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let fit = logistic_regression(self.outcomes()?)?;
        let clustered =
            ClusteredFit::new(&fit, &self.labels).map_err(|_| NotEstimable::TooFewClusters { found: 0 })?;
        self.averaged(&cr2_variance(&clustered)?, level)
    }

    fn standardised_these_centres(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let fit = logistic_regression(self.outcomes()?)?;
        self.averaged(&hc0_variance(&fit), level)
    }

    fn penalised(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let fit = firth_regression(self.outcomes()?)?;
        self.averaged(&fit.variance(), level)
    }

    fn outcomes(&self) -> Result<LogisticCases<'_>, NotEstimable> {
        LogisticCases::new(&self.with_arm, &self.events).map_err(|_| NotEstimable::NoVariation)
    }

    fn averaged(
        &self,
        variance: &CoefficientVariance<'_>,
        level: Confidence,
    ) -> Result<Adjusted, NotEstimable> {
        // The arm was written as 1 or 0 into the last column.
        let standardised =
            standardise(variance, self.with_arm.columns()).map_err(|_| NotEstimable::NoVariation)?;
        let effects = effects_covariates_sampled(&standardised)?;
        Ok(Adjusted {
            risks: ByArm {
                zero_fluoroscopy: effects.first_risk.estimate,
                conventional: effects.second_risk.estimate,
            },
            difference: effects.difference_interval(level)?,
            degrees_of_freedom: effects.difference.degrees_of_freedom,
        })
    }

    fn overlap_weighted(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let cases =
            LogisticCases::new(&self.before, &self.in_first).map_err(|_| NotEstimable::NoVariation)?;
        let propensity = logistic_propensity(cases)?;
        let weighted = WeightedCases::new(&propensity, &self.events, &self.labels);
        let risks = hajek_risks(weighted.map_err(|_| NotEstimable::NoOverlap)?, TargetPopulation::Overlap)?;
        let difference = weighted_cr2(risks.difference?)?;
        Ok(Adjusted {
            risks: ByArm { zero_fluoroscopy: risks.first, conventional: risks.second },
            difference: difference.interval(level)?,
            degrees_of_freedom: difference.degrees_of_freedom,
        })
    }
}

/// One case as the models see it.
struct Numbers {
    label: u32,
    first: bool,
    event: bool,
    values: Vec<f64>,
}

impl Numbers {
    fn order(&self, other: &Self) -> std::cmp::Ordering {
        let values = || {
            let pairs = self.values.iter().zip(&other.values);
            pairs.map(|(one, other)| one.total_cmp(other)).find(|order| order.is_ne())
        };
        (self.label, self.first, self.event)
            .cmp(&(other.label, other.first, other.event))
            .then_with(|| values().unwrap_or(std::cmp::Ordering::Equal))
    }
}
