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

use super::cohort::CaseRow;
use super::endpoint::{Endpoint, Estimate};
use super::population::{ByArm, Population};
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
use std::collections::BTreeSet;

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
        let Entered { cases, terms, model: numbers, .. } = numbers.entered(endpoint, population, |_, _| true);
        let model = Model::new(numbers);
        let model = model.as_ref().map_err(|why| *why);
        let fit = model.and_then(Model::outcomes);
        let fit = fit.as_ref().map_err(|why| *why);
        let clustered = model.and_then(|model| model.clustered(fit?));
        let clustered = clustered.as_ref().map_err(|why| *why);
        let standardised = model.and_then(|model| model.averaged(clustered?, level));
        let separated =
            matches!(standardised, Err(NotEstimable::Separated | NotEstimable::SeparatedByColumn { .. }));
        let separated_by = match (model, &standardised) {
            (Ok(model), Err(NotEstimable::SeparatedByColumn { column })) => {
                model.said(&terms).into_iter().nth(column - 1).map(Said::name)
            }
            _ => None,
        };
        let near = model.ok().zip(clustered.ok());
        let near = near.map(|(model, clustered)| model.near(clustered, &terms));
        let these_centres = model.and_then(|model| model.standardised_these_centres(fit?, level));
        Self {
            cases,
            incomplete: ByArm::from_fn(|arm| known.of(arm) - cases.of(arm)),
            settled: model.map_or(0, |model| model.settled.cases),
            centres: model.map_or(0, |model| model.all.centres()),
            terms,
            separated_by,
            standardised: standardised.into(),
            standardised_these_centres: these_centres.into(),
            overlap_weighted: model.and_then(|model| model.overlap_weighted(level)).into(),
            near,
            penalised: separated.then(|| model.and_then(|model| model.penalised(level)).into()),
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

/// What a method says as intended of all cases, with the variance clustered by something within the
/// centres, told by the place of a case; and how many clusters there are. The model starts as that of
/// the planned estimate does, so that it is the same to the last digit.
pub(super) fn clustered_within(
    numbers: &Numbers<'_>,
    endpoint: Endpoint,
    cluster: impl Fn(usize) -> u32,
    by: (ModelMethod, Confidence),
) -> (usize, Result<Adjusted, NotEstimable>) {
    let mut entered = numbers.entered(endpoint, Population::AsIntended, |_, _| true);
    let cluster_of = numbers.given(&entered.places).into_iter().map(cluster);
    entered.model.clusters = cluster_of.collect();
    let clusters = entered.model.clusters.iter().collect::<BTreeSet<_>>().len();
    (clusters, estimated(entered, by, None))
}

fn estimated(
    Entered { terms, model, .. }: Entered,
    (method, level): (ModelMethod, Confidence),
    near: Option<&Near>,
) -> Result<Adjusted, NotEstimable> {
    match method {
        ModelMethod::Standardised => {
            let model = Model::of_outcome(model)?;
            let fit = near.map_or_else(|| model.outcomes(), |near| model.outcomes_near(near, &terms));
            let fit = fit?;
            model.averaged(&model.clustered(&fit)?, level)
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
