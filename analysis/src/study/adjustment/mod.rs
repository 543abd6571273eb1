//! An endpoint compared among cases alike in centre and covariates, by every method that a
//! plan can choose, side by side.

mod cases;
mod choice;
mod covariates;
mod settled;

use super::cohort::CaseRow;
use super::endpoint::{Endpoint, Estimate};
use super::plan::AnalysisPlan;
use super::population::{Arm, ByArm, Population};
use crate::methods::cluster_variance::cr2_variance;
use crate::methods::clustered::ClusteredFit;
use crate::methods::coefficient_variance::{CoefficientVariance, hc0_variance};
use crate::methods::design::Design;
use crate::methods::firth::firth_regression;
use crate::methods::interval::{Confidence, Interval, NotEstimable};
use crate::methods::logistic::{LogisticCases, logistic_regression};
use crate::methods::propensity::{TargetPopulation, logistic_propensity};
use crate::methods::standardisation::{effects_covariates_sampled, standardise};
use crate::methods::weighting::{WeightedCases, hajek_risks, weighted_cr2};
use cases::Cases;
pub(in crate::study) use choice::Choice;
pub(in crate::study) use covariates::{quarters, recorded};
use covariates::{taking_part, terms};
use serde::Serialize;
use settled::{Settled, settle};

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
    /// Cases of groups in which nobody, or everybody, had the event: the outcome model gives
    /// them that risk in either arm, and they stay in its averages.
    pub settled: u32,
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
        let model = Model::new(Cases::new(&taking_part, endpoint, population, terms));
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
            settled: model.as_ref().map_or(0, |model| model.settled.cases),
            centres: model.as_ref().map_or(0, |model| model.all.centres()),
            terms: names,
            standardised: standardised.into(),
            standardised_these_centres: of_model(Model::standardised_these_centres),
            overlap_weighted: of_model(Model::overlap_weighted),
            penalised: separated.then(|| of_model(Model::penalised)),
        }
    }
}

/// The arm of a case and whether it had the event, where both are known.
fn known(case: &CaseRow, endpoint: Endpoint, population: Population) -> Option<(Arm, bool)> {
    Some((population.arm(case)?, endpoint.event(case)?))
}

fn sizes(rows: &[&CaseRow], population: Population) -> ByArm<u32> {
    super::endpoint::arm_sizes(rows, population)
}

/// What the methods compute with.
struct Model {
    /// Every case, for the choice of arm.
    all: Cases,
    /// Centres and covariates of every case; the arm is not among them.
    before: Design,
    /// The cases whose outcome the model has to explain.
    open: Cases,
    /// Their centres and covariates with the arm as last column.
    with_arm: Design,
    settled: Settled,
}

impl Model {
    fn new(all: Cases) -> Result<Self, NotEstimable> {
        let (open, settled) = settle(&all);
        Ok(Self { before: all.design(false)?, with_arm: open.design(true)?, all, open, settled })
    }

    fn standardised(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let fit = logistic_regression(self.outcomes()?)?;
        let clustered = ClusteredFit::new(&fit, &self.open.labels);
        let clustered = clustered.map_err(|_| NotEstimable::TooFewClusters { found: 0 })?;
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
        LogisticCases::new(&self.with_arm, &self.open.events).map_err(|_| NotEstimable::NoVariation)
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
        let open = self.open.events.len();
        Ok(Adjusted {
            risks: ByArm {
                zero_fluoroscopy: self.settled.risk(open, effects.first_risk.estimate),
                conventional: self.settled.risk(open, effects.second_risk.estimate),
            },
            difference: self.settled.difference(open, effects.difference_interval(level)?),
            degrees_of_freedom: effects.difference.degrees_of_freedom,
        })
    }

    fn overlap_weighted(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let cases = LogisticCases::new(&self.before, &self.all.in_first);
        let propensity = logistic_propensity(cases.map_err(|_| NotEstimable::NoVariation)?)?;
        let weighted = WeightedCases::new(&propensity, &self.all.events, &self.all.labels);
        let risks = hajek_risks(weighted.map_err(|_| NotEstimable::NoOverlap)?, TargetPopulation::Overlap)?;
        let difference = weighted_cr2(risks.difference?)?;
        Ok(Adjusted {
            risks: ByArm { zero_fluoroscopy: risks.first, conventional: risks.second },
            difference: difference.interval(level)?,
            degrees_of_freedom: difference.degrees_of_freedom,
        })
    }
}
