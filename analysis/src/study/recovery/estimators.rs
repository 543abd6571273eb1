//! The estimators of the report and the variances that it refuses, on one network.

use super::world::Network;
use super::{Answer, Line, Outcome, Visibility};
use crate::methods::cluster_variance::{cr0_variance, cr1_variance, cr2_variance};
use crate::methods::coefficient_variance::{CoefficientVariance, hc0_variance};
use crate::methods::column::Column;
use crate::methods::counts::{EventCount, Stratum, TwoArms};
use crate::methods::design::indicators;
use crate::methods::interval::{Confidence, Interval, NotEstimable};
use crate::methods::score::miettinen_nurminen_interval;
use crate::methods::stratified_score::stratified_miettinen_nurminen_interval;
use crate::methods::wald::WaldEstimate;
use crate::methods::weighting::{WeightedContrast, weighted_cr1, weighted_cr2, weighted_for_these_centres};
use crate::study::adjustment::{Cases, Model};
use quietbeam_schema::vocabulary::Coded;
use std::collections::BTreeMap;
use std::sync::Arc;

/// An estimator with its variance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Estimator {
    /// All centres thrown together.
    Crude,
    /// Within centres.
    WithinCentres,
    /// Marginal standardisation, cases taken as independent.
    Standardised,
    /// The same, CR0 by centre, normal limits.
    StandardisedCr0,
    /// The same, CR1 by centre, Student's limits.
    StandardisedCr1,
    /// The same, CR2 by centre, Satterthwaite's degrees of freedom.
    StandardisedCr2,
    /// Overlap weights, cases taken as independent.
    Weighted,
    /// The same, CR1 by centre, Student's limits.
    WeightedCr1,
    /// The same, CR2 by centre, Satterthwaite's degrees of freedom.
    WeightedCr2,
}

impl Estimator {
    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::Crude => "crude, Miettinen–Nurminen",
            Self::WithinCentres => "within centres, Miettinen–Nurminen",
            Self::Standardised => "standardised, no clustering",
            Self::StandardisedCr0 => "standardised, CR0, normal",
            Self::StandardisedCr1 => "standardised, CR1, Student",
            Self::StandardisedCr2 => "standardised, CR2, Satterthwaite",
            Self::Weighted => "overlap weights, no clustering",
            Self::WeightedCr1 => "overlap weights, CR1, Student",
            Self::WeightedCr2 => "overlap weights, CR2, Satterthwaite",
        }
    }

    /// Whether it answers for the patients whom either arm might have treated.
    fn for_overlap(self) -> bool {
        matches!(self, Self::Weighted | Self::WeightedCr1 | Self::WeightedCr2)
    }
}

type Said = Result<Interval, NotEstimable>;

const LEVEL: Confidence = Confidence::NINETY_FIVE;

/// What every estimator says.
pub(super) fn answers(network: &Network<'_>, outcome: Outcome, at_the_margin: bool) -> Vec<Answer> {
    let answer = |estimator: Estimator, visibility, said| Answer {
        line: Line { outcome, estimator, visibility },
        at_the_margin,
        truth: if estimator.for_overlap() { network.overlap_truth } else { network.truth },
        said,
    };
    let strata = strata(network);
    let within = stratified_miettinen_nurminen_interval(&strata, LEVEL).map(|common| common.interval);
    let mut all =
        vec![answer(Estimator::Crude, None, crude(&strata)), answer(Estimator::WithinCentres, None, within)];
    for visibility in Visibility::ALL {
        let model = Model::new(numbers(network, visibility));
        let model = model.as_ref().map_err(|why| *why);
        all.extend(standardised(model).map(|(by, said)| answer(by, Some(visibility), said)));
        all.extend(weighted(model).map(|(by, said)| answer(by, Some(visibility), said)));
    }
    all
}

fn strata(network: &Network<'_>) -> Vec<Stratum> {
    let mut counts = BTreeMap::<u32, [(u32, u32); 2]>::new();
    for (case, event) in network.cases.iter().zip(&network.events) {
        let (events, cases) = &mut counts.entry(case.centre).or_default()[usize::from(!case.zero)];
        *cases += 1;
        *events += u32::from(*event);
    }
    let count = |(events, cases): (u32, u32)| EventCount::if_any(events, cases).ok().flatten();
    counts
        .into_values()
        .map(|[first, second]| Stratum { first: count(first), second: count(second) })
        .collect()
}

fn crude(strata: &[Stratum]) -> Said {
    let all = |arm: fn(&Stratum) -> Option<EventCount>| {
        let (mut events, mut cases) = (0, 0);
        for count in strata.iter().filter_map(arm) {
            events += count.events();
            cases += count.total();
        }
        EventCount::if_any(events, cases).ok().flatten()
    };
    let both = all(|stratum| stratum.first).zip(all(|stratum| stratum.second));
    let (first, second) = both.ok_or(NotEstimable::NoVariation)?;
    Ok(miettinen_nurminen_interval(TwoArms { first, second }, LEVEL))
}

/// The cases as the models of a report see them: centre, procedure group and what is recorded of
/// complexity.
fn numbers(network: &Network<'_>, visibility: Visibility) -> Cases {
    let of = network.cases;
    let groups: Vec<u32> = of.iter().map(|case| case.group.position() as u32).collect();
    let mut columns = indicators(&groups);
    columns.extend(of.iter().map(|case| visibility.column(case)).collect::<Option<Vec<f64>>>());
    let columns = columns.into_iter().map(|values| Arc::new(Column::new(values.into_iter()))).collect();
    Cases {
        in_first: of.iter().map(|case| case.zero).collect(),
        events: network.events.clone(),
        labels: of.iter().map(|case| case.centre).collect(),
        columns,
        ..Cases::default()
    }
}

fn standardised(model: Result<&Model, NotEstimable>) -> [(Estimator, Said); 4] {
    use Estimator as E;
    let fit = model.and_then(Model::outcomes);
    let fit = fit.as_ref().map_err(|why| *why);
    let said = |variance: Result<CoefficientVariance<'_>, NotEstimable>| {
        Ok(model?.averaged(&variance?, LEVEL)?.difference)
    };
    let clustered = model.and_then(|model| model.by_centre(fit?));
    let clustered = clustered.as_ref().map_err(|why| *why);
    [
        (E::Standardised, said(fit.map(hc0_variance))),
        (E::StandardisedCr0, said(clustered.and_then(cr0_variance))),
        (E::StandardisedCr1, said(clustered.and_then(cr1_variance))),
        (E::StandardisedCr2, said(clustered.and_then(cr2_variance))),
    ]
}

fn weighted(model: Result<&Model, NotEstimable>) -> [(Estimator, Said); 3] {
    let difference = model.and_then(|model| model.overlap()?.difference);
    let said = |errors: fn(WeightedContrast) -> Result<WaldEstimate, NotEstimable>| {
        difference.and_then(errors).and_then(|wald| wald.interval(LEVEL))
    };
    [
        (Estimator::Weighted, said(weighted_for_these_centres)),
        (Estimator::WeightedCr1, said(weighted_cr1)),
        (Estimator::WeightedCr2, said(weighted_cr2)),
    ]
}
