//! An endpoint compared among cases alike in centre and covariates, by every method that a
//! plan can choose, side by side.

mod cases;
mod choice;
mod covariates;
mod model;
mod near;
mod numbers;
mod patterns;
mod settled;

use super::arm::ByArm;
use super::cohort::CaseRow;
use super::endpoint::Endpoint;
use super::estimate::Estimate;
use super::population::Population;
use crate::methods::cluster_variance::cr2_from_sums;
use crate::methods::coefficient_variance::hc0_variance;
use crate::methods::interval::{Confidence, Interval, NotEstimable, RatioInterval};
pub(in crate::study) use cases::Cases;
pub(in crate::study) use choice::Choice;
use covariates::ECHO;
pub(in crate::study) use covariates::{quarters, recorded};
pub(in crate::study) use model::Model;
pub(in crate::study) use near::Near;
use near::Said;
use numbers::Entered;
pub(in crate::study) use numbers::Numbers;
pub(in crate::study) use patterns::Patterns;
use quietbeam_schema::vocabulary::{MissingCovariate, PrimaryMethod};
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
    /// The ratio of the risks of what nobody wants, failure or harm (zero-fluoroscopy / conventional).
    pub ratio: Estimate<RatioInterval>,
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
    /// The variable that alone separates those with the event from those without.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub separated_by: Option<String>,
    /// Where a group without any event, or with nothing else, separates the outcomes: the
    /// penalised model, for these centres only. It decides nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub penalised: Option<Estimate<Adjusted>>,
    /// From where models of parts of the cases start.
    #[serde(skip)]
    pub(super) near: Option<Near>,
    /// The plan's estimate with its variance clustered by something within the centres, as intended
    /// and where that was asked for.
    #[serde(skip)]
    pub(super) within: Option<ClusteredWithin>,
}

/// An estimate with its variance clustered by something within the centres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ClusteredWithin {
    /// How many clusters there are.
    pub(super) clusters: usize,
    /// The estimate.
    pub(super) found: Result<Adjusted, NotEstimable>,
}

impl Adjustment {
    /// Compares an endpoint in a population at a level; `known` are the cases of each arm whose
    /// outcome is known, whether they take part or not.
    pub(super) fn new(
        numbers: &Numbers<'_>,
        (endpoint, population): (Endpoint, Population),
        known: ByArm<u32>,
        level: Confidence,
    ) -> Self {
        let within = numbers.within().filter(|_| population == Population::AsIntended);
        let within = within.map(|within| within.method);
        let Entered { cases, terms, model: numbers } = numbers.entered(endpoint, population, |_, _| true);
        let model = Model::new(numbers);
        let model = model.as_ref().map_err(|why| *why);
        let (of_outcome, overlap_weighted) = rayon::join(
            || OfOutcome::new(model, &terms, within, level),
            || model.and_then(|model| model.overlap_weighted(level)),
        );
        Self {
            cases,
            incomplete: ByArm::from_fn(|arm| known.of(arm) - cases.of(arm)),
            settled: model.map_or(0, |model| model.settled.cases),
            centres: model.map_or(0, |model| model.all.centres()),
            terms,
            standardised: of_outcome.standardised.into(),
            standardised_these_centres: of_outcome.these_centres.into(),
            overlap_weighted: overlap_weighted.into(),
            separated_by: of_outcome.separated_by,
            penalised: of_outcome.penalised.map(Estimate::from),
            near: of_outcome.near,
            within: of_outcome.within,
        }
    }
}

/// What follows from the model of the outcome.
struct OfOutcome {
    standardised: Result<Adjusted, NotEstimable>,
    these_centres: Result<Adjusted, NotEstimable>,
    separated_by: Option<String>,
    penalised: Option<Result<Adjusted, NotEstimable>>,
    near: Option<Near>,
    within: Option<ClusteredWithin>,
}

impl OfOutcome {
    /// `within` is the method whose variance is clustered within the centres too.
    fn new(
        model: Result<&Model, NotEstimable>,
        terms: &[String],
        within: Option<ModelMethod>,
        level: Confidence,
    ) -> Self {
        let fit = model.and_then(|model| model.outcomes_by_centre(None));
        let fit = fit.as_ref().map_err(|why| *why);
        let clustered = fit.and_then(|(fit, sums)| cr2_from_sums(fit, sums));
        let clustered = clustered.as_ref().map_err(|why| *why);
        let these = fit.map(|(fit, _)| hc0_variance(fit));
        // Nobody reads why there is none where nobody asked.
        let finer = model.and_then(|model| match within {
            Some(ModelMethod::Standardised) => model.variance_within(&fit?.0),
            _ => Err(NotEstimable::NoVariation),
        });
        let variances = [clustered, these.as_ref().map_err(|why| *why), finer.as_ref().map_err(|why| *why)];
        let [standardised, these_centres, standardised_within] = match (model, fit) {
            (Ok(model), Ok((fit, _))) => model.averaged_each(fit, variances, level),
            (Err(why), _) | (_, Err(why)) => [Err(why); 3],
        };
        let separated =
            matches!(standardised, Err(NotEstimable::Separated | NotEstimable::SeparatedByColumn { .. }));
        let separated_by = match (model, &standardised) {
            (Ok(model), Err(NotEstimable::SeparatedByColumn { column })) => {
                model.said(terms).into_iter().nth(column - 1).map(Said::name)
            }
            _ => None,
        };
        let near = model.ok().zip(clustered.ok());
        let within = within.map(|method| ClusteredWithin {
            clusters: model.map_or(0, Model::clusters_within),
            found: match method {
                ModelMethod::Standardised => standardised_within,
                ModelMethod::OverlapWeighted => model.and_then(|model| model.overlap_weighted_within(level)),
            },
        });
        Self {
            standardised,
            these_centres,
            separated_by,
            penalised: separated.then(|| model.and_then(|model| model.penalised(level))),
            near: near.map(|(model, clustered)| model.near(clustered, terms)),
            within,
        }
    }
}

/// What one method alone says of the cases kept, and how many they are: nothing else is
/// fitted.
pub(super) fn by_one_method(
    numbers: &Numbers<'_>,
    (endpoint, population): (Endpoint, Population),
    kept: impl Fn(usize, &CaseRow) -> bool,
    (method, level): (ModelMethod, Confidence),
    near: Option<&Near>,
) -> (u32, Result<Adjusted, NotEstimable>) {
    let entered = numbers.entered(endpoint, population, kept);
    let cases = sum(entered.cases);
    // All of them take the way of the first estimate, to the same digits.
    let near = near.filter(|near| near.cases != cases);
    (cases, estimated(entered, (method, level), near))
}

fn sum(cases: ByArm<u32>) -> u32 {
    cases.zero_fluoroscopy + cases.conventional
}

fn estimated(
    Entered { terms, model, .. }: Entered,
    (method, level): (ModelMethod, Confidence),
    near: Option<&Near>,
) -> Result<Adjusted, NotEstimable> {
    match method {
        ModelMethod::Standardised => {
            let model = Model::of_outcome(model)?;
            let (fit, sums) = model.outcomes_by_centre(near.map(|near| (near, &terms[..])))?;
            model.averaged(&cr2_from_sums(&fit, &sums)?, level)
        }
        ModelMethod::OverlapWeighted => Model::new(model)?.overlap_weighted(level),
    }
}

/// Marginal standardisation with CR2 by centre as intended, the use of intracardiac echo among the
/// covariates, and the cases of each arm in it; no estimate where echo tells none of them apart.
pub(super) fn standardised_with_echo(
    numbers: &Numbers<'_>,
    endpoint: Endpoint,
    missing: MissingCovariate,
    level: Confidence,
) -> (ByArm<u32>, Option<Result<Adjusted, NotEstimable>>) {
    let entered = numbers.entered_with_echo(endpoint, missing);
    let told = entered.terms.iter().any(|term| term == ECHO);
    let cases = entered.cases;
    (cases, told.then(|| estimated(entered, (ModelMethod::Standardised, level), None)))
}

/// The methods that need a model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ModelMethod {
    /// Marginal standardisation.
    Standardised,
    /// Overlap weights.
    OverlapWeighted,
}

impl ModelMethod {
    /// The one of a plan's method; `None` where that needs no model.
    pub(super) fn of(method: PrimaryMethod) -> Option<Self> {
        match method {
            PrimaryMethod::Standardised => Some(Self::Standardised),
            PrimaryMethod::OverlapWeighted => Some(Self::OverlapWeighted),
            PrimaryMethod::WithinCentres => None,
        }
    }
}
