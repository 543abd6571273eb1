//! The verdict on a planned question: the question, what was shown, the numbers, and a small
//! picture of them. The same frame whatever came out.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::difference;
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
    let sign = if result.endpoint.worse_when() == "lower" { -1.0 } else { 1.0 };
    let line = |population: Population, of: &PlannedPopulation| {
        let interval = of.difference(found.plan.method()).ok();
        MarginLine {
            name: population.label(),
            difference: interval.as_ref().map_or("not estimable".to_owned(), difference),
            interval: interval.map(|interval| (interval.lower, interval.estimate, interval.upper)),
        }
    };
    MarginPicture {
        margin: sign * result.margin,
        lines: vec![
            line(Population::AsIntended, &result.as_intended),
            line(Population::PerProtocol, &result.per_protocol),
        ],
    }
}
