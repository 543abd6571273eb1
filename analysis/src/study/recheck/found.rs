//! What the registry found, one number a line.

use super::POPULATIONS;
use crate::methods::interval::{Interval, NotEstimable, Ratio, RatioInterval};
use crate::study::adjustment::Adjusted;
use crate::study::decision::Decision;
use crate::study::estimate::{Estimate, reason_in_words};
use crate::study::planned::{PlannedComparison, PlannedPopulation, PlannedResult};
use crate::study::population::Population;
use crate::study::population_result::PopulationResult;
use crate::study::report::{EchoAlike, HeldAlike};
use std::fmt::Write;

/// A number with its name.
type Number = (&'static str, f64);

/// An estimate in numbers, or why there is none.
type Numbers = Result<Vec<Number>, NotEstimable>;

/// The estimates of every planned endpoint in both populations.
pub(super) fn results(planned: &PlannedComparison, echo: &[EchoAlike]) -> String {
    let mut text = String::from("endpoint,population,estimator,quantity,value,why\n");
    for (result, echo) in planned.endpoints.iter().zip(echo) {
        for (population, code) in POPULATIONS {
            let place = |estimator| format!("{},{code},{estimator}", result.endpoint.code());
            for (estimator, numbers) in estimates(of(result, population)) {
                line(&mut text, &place(estimator), numbers.map_err(reason_in_words));
            }
            if population == Population::AsIntended {
                line(&mut text, &place("echo_alike"), held_alike(&echo.held_alike));
            }
        }
    }
    text
}

fn line(text: &mut String, place: &str, numbers: Result<Vec<Number>, String>) {
    // Writing into a string never fails.
    let _ = match numbers {
        Ok(numbers) => numbers.iter().try_for_each(|(name, value)| writeln!(text, "{place},{name},{value},")),
        Err(why) => writeln!(text, "{place},estimate,,\"{why}\""),
    };
}

fn held_alike(found: &HeldAlike) -> Result<Vec<Number>, String> {
    match found {
        HeldAlike::Estimated(found) => Ok(of_model(found)),
        HeldAlike::CannotBeEstimated(why) => Err(why.to_string()),
    }
}

/// What each population decides, and the claim.
pub(super) fn decisions(planned: &PlannedComparison) -> String {
    let mut text = String::from("endpoint,population,decision\n");
    for result in &planned.endpoints {
        let mut line = |population: &str, decision: Decision| {
            let _ = writeln!(text, "{},{population},{}", result.endpoint.code(), decision.label());
        };
        POPULATIONS.iter().for_each(|(population, code)| line(code, of(result, *population).decision));
        line("claim", result.claim);
    }
    text
}

fn of(result: &PlannedResult, population: Population) -> &PlannedPopulation {
    match population {
        Population::PerProtocol => &result.per_protocol,
        Population::AsIntended | Population::AsTreated => &result.as_intended,
    }
}

fn estimates(of: &PlannedPopulation) -> [(&'static str, Numbers); 6] {
    [
        ("crude", with_ratio(of.crude.deciding(), &of.crude.ratio.miettinen_nurminen)),
        ("newcombe", newcombe(&of.crude).map(limits)),
        ("within_centres", with_ratio(of.crude.within_centres(), &of.crude.ratio.within_centres)),
        ("standardised", adjusted(&of.adjusted.standardised)),
        ("these_centres", adjusted(&of.adjusted.standardised_these_centres)),
        ("overlap_weighted", adjusted(&of.adjusted.overlap_weighted)),
    ]
}

fn newcombe(crude: &PopulationResult) -> Result<Interval, NotEstimable> {
    crude.difference.result().map(|difference| difference.newcombe)
}

fn with_ratio(difference: Result<Interval, NotEstimable>, of: &Estimate<RatioInterval>) -> Numbers {
    difference.map(|difference| {
        let mut numbers = limits(difference);
        numbers.extend(ratio(of));
        numbers
    })
}

/// The ratio of what nobody wants, as far as it has bounds.
fn ratio(of: &Estimate<RatioInterval>) -> Vec<Number> {
    let Some(found) = of.estimated() else { return Vec::new() };
    let finite = |name, ratio| match ratio {
        Some(Ratio::Finite(value)) => Some((name, value)),
        Some(Ratio::Unbounded) | None => None,
    };
    let lower = Some(("ratio_lower", found.lower));
    [finite("ratio", found.estimate), lower, finite("ratio_upper", Some(found.upper))]
        .into_iter()
        .flatten()
        .collect()
}

fn limits(interval: Interval) -> Vec<Number> {
    vec![("estimate", interval.estimate), ("lower", interval.lower), ("upper", interval.upper)]
}

fn adjusted(estimate: &Estimate<Adjusted>) -> Numbers {
    estimate.result().map(|found| of_model(&found))
}

fn of_model(found: &Adjusted) -> Vec<Number> {
    let mut numbers = vec![
        ("risk_zero_fluoroscopy", found.risks.zero_fluoroscopy),
        ("risk_conventional", found.risks.conventional),
    ];
    numbers.extend(limits(found.difference));
    numbers.extend(found.degrees_of_freedom.map(|number| ("degrees_of_freedom", number)));
    numbers.extend(ratio(&found.ratio));
    numbers
}
