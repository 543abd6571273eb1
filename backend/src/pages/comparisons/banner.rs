//! The verdict on the first planned question: the question, what was shown, the numbers, and
//! a small picture of them. The same frame whatever came out.

use maud::{Markup, html};
use quietbeam_analysis::study::decision::Decision;
use quietbeam_analysis::study::endpoint::reason_in_words;
use quietbeam_analysis::study::numerals::{difference, level};
use quietbeam_analysis::study::planned::{PlannedComparison, PlannedPopulation, PlannedResult};
use quietbeam_analysis::study::population::Population;

use crate::pages::figures::{MarginLine, MarginPicture};
use crate::pages::words::sentence;

/// The banners of the planned endpoints, in their order; the first is the largest.
pub(super) fn of(found: &PlannedComparison) -> Markup {
    html! { @for (at, result) in found.endpoints.iter().enumerate() { (one(at == 0, result, found)) } }
}

fn one(is_first: bool, result: &PlannedResult, found: &PlannedComparison) -> Markup {
    let order = if is_first { "First question, fixed beforehand" } else { "Next question, fixed beforehand" };
    html! {
        section.verdict.lit {
            div {
                p.small { (order) ": is " (result.endpoint.label().to_lowercase()) " less than " (points(result.margin)) " worse?" }
                h2 { (opening(result.claim)) }
                p { (result.claim_in_words) }
                p { (numbers(result, found)) }
                @if let Some(crude) = crude(result) { p.quiet { (crude) " Superiority was not tested." } }
                @if !result.populations_agree && !matches!(result.claim, Decision::CannotConclude { .. }) {
                    p.quiet { "The populations disagree: as intended " (result.as_intended.decision.label()) ", per protocol " (result.per_protocol.decision.label()) "." }
                }
            }
            (picture(result, found))
        }
    }
}

/// The verdict's opening word, from four.
fn opening(claim: Decision) -> String {
    match claim {
        Decision::Shown => "Shown: non-inferior by the planned margin".to_owned(),
        Decision::NotShown => "Not shown: the interval reaches the margin".to_owned(),
        Decision::WorseBeyondTheMargin => "Worse beyond the margin".to_owned(),
        Decision::CannotConclude { reason } => format!("Cannot conclude: {reason}"),
    }
}

fn numbers(result: &PlannedResult, found: &PlannedComparison) -> String {
    let level = level(found.plan.level().level());
    let said = |population: &PlannedPopulation| match population.difference(found.plan.method()) {
        Ok(interval) => format!("{} points", difference(&interval)),
        Err(why) => reason_in_words(why),
    };
    format!(
        "Zero-fluoroscopy minus conventional, by the plan's method: as intended {}; per protocol {} ({level} intervals).",
        said(&result.as_intended),
        said(&result.per_protocol)
    )
}

/// What the crude figure hides.
fn crude(result: &PlannedResult) -> Option<String> {
    let crude = result.as_intended.crude.difference.estimated()?;
    Some(sentence(format!(
        "the crude difference is {}: operators chose for whom, and it answers for nothing",
        quietbeam_analysis::study::numerals::signed_points(crude.miettinen_nurminen.estimate)
    )))
}

fn points(margin: f64) -> String {
    let points = (margin * 1e8).round() / 1e6;
    format!("{points} {}", if points == 1.0 { "point" } else { "points" })
}

fn picture(result: &PlannedResult, found: &PlannedComparison) -> Markup {
    let sign = if result.endpoint.worse_when() == "lower" { -1.0 } else { 1.0 };
    let line = |population: Population, of: &PlannedPopulation| {
        let interval = of.difference(found.plan.method()).ok();
        MarginLine {
            name: population.label(),
            difference: interval.as_ref().map_or("not estimable".to_owned(), difference),
            interval: interval.map(|interval| (interval.lower, interval.estimate, interval.upper)),
        }
    };
    let picture = MarginPicture {
        margin: sign * result.margin,
        lines: vec![
            line(Population::AsIntended, &result.as_intended),
            line(Population::PerProtocol, &result.per_protocol),
        ],
    };
    let drawn = picture.draw();
    html! { div.picture { (drawn.draw("margin-picture", &numbers(result, found))) } }
}
