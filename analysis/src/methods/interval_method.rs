//! The methods with which intervals are computed, and their names.

use serde::{Deserialize, Serialize};

/// The method an interval was computed with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum IntervalMethod {
    /// Wilson score, one proportion.
    Wilson,
    /// Wilson score with continuity correction, one proportion.
    WilsonCorrected,
    /// Mid-P exact, one proportion.
    MidP,
    /// Jeffreys, one proportion.
    Jeffreys,
    /// Agresti–Coull, one proportion.
    AgrestiCoull,
    /// Clopper–Pearson exact, one proportion.
    ClopperPearson,
    /// Newcombe hybrid score, difference of proportions.
    Newcombe,
    /// Miettinen–Nurminen score, difference, ratio or odds ratio.
    MiettinenNurminen,
    /// Mee score, difference of proportions.
    Mee,
    /// Newcombe hybrid score with continuity correction, difference of proportions.
    NewcombeCorrected,
    /// Agresti–Caffo, difference of proportions.
    AgrestiCaffo,
    /// Katz log, ratio of proportions.
    Katz,
    /// Koopman score, ratio of proportions.
    Koopman,
    /// Woolf log, odds ratio.
    Woolf,
    /// Haldane–Anscombe log, odds ratio.
    HaldaneAnscombe,
    /// Score, odds ratio.
    Score,
    /// Exact conditional, odds ratio.
    ExactConditional,
    /// Wald, one proportion or a difference.
    Wald,
    /// Miettinen–Nurminen over strata with Mantel–Haenszel weights.
    StratifiedMiettinenNurminen,
    /// Mantel–Haenszel risk difference with the variance of Sato.
    MantelHaenszelSato,
    /// Mee over strata with Mantel–Haenszel weights.
    StratifiedMee,
    /// Wilson over strata, one arm.
    StratifiedWilson,
    /// Newcombe over strata in the form of Yan and Su.
    StratifiedNewcombeYanSu,
    /// Newcombe over strata by recovered variances.
    StratifiedNewcombeRecovered,
    /// Mantel–Haenszel risk difference with the variance of Greenland and Robins.
    MantelHaenszelGreenlandRobins,
    /// Mantel–Haenszel odds ratio.
    MantelHaenszelOddsRatio,
    /// Mantel–Haenszel risk ratio.
    MantelHaenszelRiskRatio,
    /// Hodges–Lehmann shift, normal approximation.
    HodgesLehmann,
    /// Hodges–Lehmann shift, exact.
    HodgesLehmannExact,
    /// Median by order statistics.
    MedianOrderStatistics,
    /// Percentile bootstrap.
    BootstrapPercentile,
    /// Bias-corrected and accelerated bootstrap.
    BootstrapBca,
    /// Kaplan–Meier, linear limits.
    KaplanMeierLinear,
    /// Kaplan–Meier, log limits.
    KaplanMeierLog,
    /// Kaplan–Meier, log–log limits.
    KaplanMeierLogLog,
    /// Difference of Kaplan–Meier estimates, linear limits.
    SurvivalDifference,
    /// Difference of Kaplan–Meier estimates, recovered from log–log limits.
    SurvivalDifferenceRecovered,
    /// Difference of restricted means.
    RestrictedMeanDifference,
    /// Cox regression with centre-robust variance.
    CoxCentreRobust,
    /// Exact Poisson, observed over expected.
    ExactPoisson,
    /// Mid-P Poisson, observed over expected.
    MidPPoisson,
    /// Byar in the form of Breslow and Day, observed over expected.
    Byar,
    /// Estimate and model standard error of a regression.
    WaldModel,
    /// Estimate and standard error of a regression with Firth's penalty.
    WaldFirth,
    /// Estimate and robust standard error HC0.
    WaldHc0,
    /// Estimate and robust standard error HC1.
    WaldHc1,
    /// Estimate and cluster-robust standard error CR0.
    WaldCr0,
    /// Estimate and cluster-robust standard error CR1.
    WaldCr1,
    /// Estimate and cluster-robust standard error CR1S.
    WaldCr1S,
    /// Estimate and cluster-robust standard error CR2.
    WaldCr2,
    /// Weighted risks, cases independent.
    WeightedTheseCentres,
    /// Weighted risks, centre-robust CR1 with Student's t.
    WeightedCr1,
    /// Weighted risks, centre-robust CR2 with Satterthwaite's degrees of freedom.
    WeightedCr2,
    /// Geometric mean, Student on the log scale.
    GeometricMean,
    /// Inverse-variance mean of centres, normal limits.
    PooledNormal,
    /// Inverse-variance mean of centres, Hartung–Knapp limits.
    HartungKnapp,
    /// Inverse-variance mean of centres, ad hoc Knapp–Hartung limits.
    HartungKnappAdHoc,
    /// Effect at a new centre.
    Prediction,
    /// Effect at a new centre, standard error of Hartung and Knapp.
    PredictionHartungKnapp,
    /// Random-intercept logistic, proportion at the median centre.
    RandomInterceptMedianCentre,
    /// Random-intercept logistic, proportion over all centres.
    RandomInterceptMarginal,
    /// Ratio of geometric means, Welch on the log scale.
    GeometricMeanRatioWelch,
    /// Posterior quantiles of a difference of proportions.
    PosteriorEqualTails,
    /// Agreement beyond chance, Fleiss, Cohen and Everitt's standard error.
    CohenKappa,
}

impl IntervalMethod {
    /// The name as printed in a table.
    #[allow(clippy::too_many_lines, reason = "a table, one line a method")]
    pub fn label(self) -> &'static str {
        match self {
            Self::Wilson => "Wilson",
            Self::WilsonCorrected => "Wilson, continuity corrected",
            Self::MidP => "mid-P",
            Self::Jeffreys => "Jeffreys",
            Self::AgrestiCoull => "Agresti–Coull",
            Self::NewcombeCorrected => "Newcombe, continuity corrected",
            Self::AgrestiCaffo => "Agresti–Caffo",
            Self::Katz => "Katz log",
            Self::Koopman => "Koopman",
            Self::Woolf => "Woolf log",
            Self::HaldaneAnscombe => "Haldane–Anscombe log",
            Self::Score => "score",
            Self::ExactConditional => "exact conditional",
            Self::ClopperPearson => "Clopper–Pearson",
            Self::Newcombe => "Newcombe",
            Self::MiettinenNurminen => "Miettinen–Nurminen",
            Self::Mee => "Mee",
            Self::Wald => "Wald",
            Self::StratifiedMiettinenNurminen => "stratified Miettinen–Nurminen, Mantel–Haenszel weights",
            Self::MantelHaenszelSato => "Mantel–Haenszel, Sato variance",
            Self::StratifiedMee => "stratified Mee, Mantel–Haenszel weights",
            Self::StratifiedWilson => "stratified Wilson",
            Self::StratifiedNewcombeYanSu => "stratified Newcombe, Yan–Su",
            Self::StratifiedNewcombeRecovered => "stratified Newcombe, recovered variances",
            Self::MantelHaenszelGreenlandRobins => "Mantel–Haenszel, Greenland–Robins variance",
            Self::MantelHaenszelOddsRatio => "Mantel–Haenszel odds ratio",
            Self::MantelHaenszelRiskRatio => "Mantel–Haenszel risk ratio",
            Self::HodgesLehmann => "Hodges–Lehmann",
            Self::HodgesLehmannExact => "Hodges–Lehmann, exact",
            Self::MedianOrderStatistics => "median, order statistics",
            Self::BootstrapPercentile => "percentile bootstrap",
            Self::BootstrapBca => "bias-corrected and accelerated bootstrap",
            Self::KaplanMeierLinear => "Kaplan–Meier, linear",
            Self::KaplanMeierLog => "Kaplan–Meier, log",
            Self::KaplanMeierLogLog => "Kaplan–Meier, log–log",
            Self::SurvivalDifference => "difference of Kaplan–Meier estimates",
            Self::SurvivalDifferenceRecovered => "difference of Kaplan–Meier estimates, log–log",
            Self::RestrictedMeanDifference => "difference of restricted means",
            Self::CoxCentreRobust => "Cox, centre-robust variance",
            Self::ExactPoisson => "exact Poisson",
            Self::MidPPoisson => "mid-P Poisson",
            Self::Byar => "Byar",
            Self::WaldModel => "Wald, model variance",
            Self::WaldFirth => "Wald, Firth's penalty",
            Self::WaldHc0 => "Wald, robust variance HC0",
            Self::WaldHc1 => "Wald, robust variance HC1",
            Self::WaldCr0 => "Wald, cluster-robust variance CR0",
            Self::WaldCr1 => "Student, cluster-robust variance CR1",
            Self::WaldCr1S => "Student, cluster-robust variance CR1S",
            Self::WaldCr2 => "Satterthwaite, cluster-robust variance CR2",
            Self::WeightedTheseCentres => "weighted, these centres only",
            Self::WeightedCr1 => "weighted, centre-robust CR1",
            Self::WeightedCr2 => "weighted, centre-robust CR2, Satterthwaite",
            Self::GeometricMean => "geometric mean, Student",
            Self::PooledNormal => "inverse variance, normal",
            Self::HartungKnapp => "Hartung–Knapp",
            Self::HartungKnappAdHoc => "Hartung–Knapp, ad hoc",
            Self::Prediction => "prediction",
            Self::PredictionHartungKnapp => "prediction, Hartung–Knapp",
            Self::RandomInterceptMedianCentre => "random-intercept logistic, median centre",
            Self::RandomInterceptMarginal => "random-intercept logistic, marginal",
            Self::GeometricMeanRatioWelch => "ratio of geometric means, Welch",
            Self::PosteriorEqualTails => "posterior, equal tails",
            Self::CohenKappa => "Cohen's kappa",
        }
    }
}
