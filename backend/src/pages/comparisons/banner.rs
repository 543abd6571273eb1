//! The verdict on a planned question: the question, what was shown, the numbers, and a small
//! picture of them. The same frame whatever came out.

use maud::{Markup, html};
use quietbeam_analysis::study::planned::{PlannedComparison, PlannedPopulation, PlannedResult};
use quietbeam_analysis::study::population::Population;
use quietbeam_analysis::study::report::{EndpointLines, Report};

use crate::pages::figures::{MarginLine, MarginPicture};

/// The banners of the planned endpoints, in their order.
pub(super) fn of(report: &Report) -> Markup {
    let lines = report.first_lines.endpoints.iter().zip(&report.planned.endpoints);
    html! { @for (lines, result) in lines { (one(lines, result, &report.planned)) } }
}

fn one(lines: &EndpointLines, result: &PlannedResult, found: &PlannedComparison) -> Markup {
    html! {
        section.verdict.lit {
            div {
                p.small { (lines.question) }
                h2 { (lines.answer) }
                p { (lines.claim) " " (lines.estimate) }
                p { (lines.populations) }
                p.quiet { (lines.crude) " " (lines.not_tested) }
            }
            div.picture { (picture(result, found).draw().draw("margin-picture", &format!("{} {}", lines.estimate, lines.populations))) }
        }
    }
}

fn picture(result: &PlannedResult, found: &PlannedComparison) -> MarginPicture {
    let line = |population: Population, of: &PlannedPopulation| {
        let effect = of.effect(found.plan.method(), result.margin.scale());
        MarginLine {
            name: population.label(),
            told: effect.in_numbers().unwrap_or("not estimable".to_owned()),
            effect: effect.drawn(),
        }
    };
    MarginPicture {
        margin: result.margin,
        lines: vec![
            line(Population::AsIntended, &result.as_intended),
            line(Population::PerProtocol, &result.per_protocol),
        ],
    }
}
