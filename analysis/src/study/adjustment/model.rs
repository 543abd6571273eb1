//! The models of an endpoint, fitted once and read by every method that a plan can choose.

use super::Adjusted;
use super::cases::Cases;
use super::near::{Near, Said};
use super::settled::{Settled, settle};
use crate::distinct::distinct;
use crate::methods::cluster_sums::ClusterSums;
use crate::methods::cluster_variance::cr2_variance;
use crate::methods::clustered::ClusteredFit;
use crate::methods::coefficient_variance::CoefficientVariance;
use crate::methods::design::Design;
use crate::methods::firth::firth_regression;
use crate::methods::interval::{Confidence, NotEstimable};
use crate::methods::logistic::{LogisticFit, logistic_regression, logistic_regression_by_cluster};
use crate::methods::logistic_cases::LogisticCases;
use crate::methods::propensity::{TargetPopulation, logistic_propensity};
use crate::methods::standardisation::{
    RatioOf, Standardised, difference_covariates_sampled, log_ratio_covariates_sampled, standardise_each,
};
use crate::methods::weighting::{WeightedCases, WeightedRisks, hajek_risks, weighted_cr2};
use crate::study::arm::ByArm;

/// What the methods compute with.
pub(in crate::study) struct Model {
    /// Every case, for the choice of arm.
    pub(super) all: Cases,
    /// The cases whose outcome the model has to explain, where those are not all.
    some: Option<Cases>,
    /// Their centres and covariates with the arm as last column.
    with_arm: Design,
    pub(super) settled: Settled,
}

impl Model {
    pub(in crate::study) fn new(all: Cases) -> Result<Self, NotEstimable> {
        let (some, settled) = settle(&all);
        let with_arm = some.as_ref().unwrap_or(&all).design(true)?;
        Ok(Self { with_arm, all, some, settled })
    }

    /// For the outcome alone: where not all cases are open, the covariates of the others are let go.
    pub(super) fn of_outcome(all: Cases) -> Result<Self, NotEstimable> {
        let mut model = Self::new(all)?;
        if model.some.is_some() {
            model.all.columns = Vec::new();
        }
        Ok(model)
    }

    /// Clusters within the centres, among all cases.
    pub(super) fn clusters_within(&self) -> usize {
        distinct(self.all.within.iter().copied()).len()
    }

    fn open(&self) -> &Cases {
        self.some.as_ref().unwrap_or(&self.all)
    }

    /// What the columns of the outcome's design say, in their order, by the names of the covariates.
    pub(super) fn said(&self, terms: &[String]) -> Vec<Said> {
        let open = self.open();
        let varying = open.columns.iter().zip(terms).filter(|(values, _)| values.varies());
        let centres = open.levels().into_iter().skip(1).map(Said::Centre);
        let covariates = varying.map(|(_, name)| Said::Covariate(name.clone()));
        centres.chain(covariates).chain([Said::Arm]).collect()
    }

    /// The outcome by arm, centre and covariates.
    pub(in crate::study) fn outcomes(&self) -> Result<LogisticFit<'_>, NotEstimable> {
        logistic_regression(self.cases()?)
    }

    /// The same with scores and information by centre, from the coefficients of nearly the same cases
    /// where there are some.
    pub(super) fn outcomes_by_centre(
        &self,
        near: Option<(&Near, &[String])>,
    ) -> Result<(LogisticFit<'_>, ClusterSums), NotEstimable> {
        let base = self.open().levels().first().copied().unwrap_or_default();
        let near = near.map(|(near, terms)| near.of(base, &self.said(terms)));
        logistic_regression_by_cluster(self.cases()?, &self.open().labels, near.as_deref())
    }

    /// The fit with its cases by centre.
    pub(in crate::study) fn by_centre<'f>(
        &self,
        fit: &'f LogisticFit<'f>,
    ) -> Result<ClusteredFit<'f>, NotEstimable> {
        clustered(fit, &self.open().labels)
    }

    /// CR2 by what is within the centres.
    pub(super) fn variance_within<'f>(
        &self,
        fit: &'f LogisticFit<'f>,
    ) -> Result<CoefficientVariance<'f>, NotEstimable> {
        cr2_variance(&clustered(fit, &self.open().within)?)
    }

    /// From where the models of parts of the cases start.
    pub(super) fn near(&self, clustered: &CoefficientVariance<'_>, terms: &[String]) -> Near {
        let without = self.open().levels().into_iter().zip(clustered.without_each_cluster());
        Near::new(self.all.events.len(), self.said(terms), &clustered.fit().coefficients(), without)
    }

    pub(super) fn penalised(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let fit = firth_regression(self.cases()?)?;
        self.averaged(&fit.variance(), level)
    }

    fn cases(&self) -> Result<LogisticCases<'_>, NotEstimable> {
        LogisticCases::new(&self.with_arm, &self.open().events).map_err(|_| NotEstimable::NoVariation)
    }

    /// The risks of all cases in either arm and their difference, with the variance given.
    pub(in crate::study) fn averaged(
        &self,
        variance: &CoefficientVariance<'_>,
        level: Confidence,
    ) -> Result<Adjusted, NotEstimable> {
        let [averaged] = self.averaged_each(variance.fit(), [Ok(variance)], level);
        averaged
    }

    /// The same with each of some variances of a fit.
    pub(super) fn averaged_each<const MANY: usize>(
        &self,
        fit: &LogisticFit<'_>,
        variances: [Result<&CoefficientVariance<'_>, NotEstimable>; MANY],
        level: Confidence,
    ) -> [Result<Adjusted, NotEstimable>; MANY] {
        // The arm was written as 1 or 0 into the last column.
        match standardise_each(fit, variances, self.with_arm.columns()) {
            Ok(each) => each.map(|standardised| self.adjusted(&standardised?, level)),
            Err(_) => [Err(NotEstimable::NoVariation); MANY],
        }
    }

    fn adjusted(
        &self,
        standardised: &Standardised<'_, '_>,
        level: Confidence,
    ) -> Result<Adjusted, NotEstimable> {
        let difference = difference_covariates_sampled(standardised)?;
        let unwanted = self.all.unwanted;
        let ratio = log_ratio_covariates_sampled(standardised, unwanted, self.settled.with(unwanted));
        let (open, [first, second]) = (self.open().events.len(), standardised.risks());
        Ok(Adjusted {
            risks: ByArm {
                zero_fluoroscopy: self.settled.risk(open, first),
                conventional: self.settled.risk(open, second),
            },
            difference: self.settled.difference(open, difference.interval(level)?),
            degrees_of_freedom: difference.degrees_of_freedom,
            ratio: ratio.and_then(|log| log.ratio_interval(level)).into(),
        })
    }

    /// The risks of the patients whom either arm might have treated, with errors by such clusters.
    fn overlap_by(&self, clusters: &[u32]) -> Result<WeightedRisks, NotEstimable> {
        let before = self.all.design(false)?;
        let cases = LogisticCases::new(&before, &self.all.in_first);
        let propensity = logistic_propensity(cases.map_err(|_| NotEstimable::NoVariation)?)?;
        let weighted = WeightedCases::new(&propensity, &self.all.events, clusters);
        hajek_risks(weighted.map_err(|_| NotEstimable::NoOverlap)?, TargetPopulation::Overlap)
    }

    /// The same with errors by centre.
    pub(in crate::study) fn overlap(&self) -> Result<WeightedRisks, NotEstimable> {
        self.overlap_by(&self.all.labels)
    }

    pub(super) fn overlap_weighted(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        self.weighted(self.overlap()?, level)
    }

    /// The overlap-weighted risks with CR2 by what is within the centres.
    pub(super) fn overlap_weighted_within(&self, level: Confidence) -> Result<Adjusted, NotEstimable> {
        self.weighted(self.overlap_by(&self.all.within)?, level)
    }

    fn weighted(&self, risks: WeightedRisks, level: Confidence) -> Result<Adjusted, NotEstimable> {
        let difference = weighted_cr2(risks.difference?)?;
        let log_ratio = match self.all.unwanted {
            RatioOf::Event => risks.log_ratio,
            RatioOf::NoEvent => risks.log_ratio_of_absence,
        };
        let ratio = log_ratio.and_then(weighted_cr2).and_then(|log| log.ratio_interval(level));
        Ok(Adjusted {
            risks: ByArm { zero_fluoroscopy: risks.first, conventional: risks.second },
            difference: difference.interval(level)?,
            degrees_of_freedom: difference.degrees_of_freedom,
            ratio: ratio.into(),
        })
    }
}

fn clustered<'f>(fit: &'f LogisticFit<'f>, labels: &[u32]) -> Result<ClusteredFit<'f>, NotEstimable> {
    ClusteredFit::new(fit, labels).map_err(|_| NotEstimable::TooFewClusters { found: 0 })
}
