//! A comparison that is published with a summary: what was planned, what was found, the counts of both arms.

use maud::{Markup, html};
use quietbeam_analysis::study::decision::points;
use quietbeam_analysis::study::summary::{
    PublishedComparison, PublishedDifference, PublishedEndpoint, SafetySummary,
};

use super::named_table;
use crate::pages::figures::{MarginLine, MarginPicture};

/// The comparison of a summary, if it publishes one.
pub(crate) fn compared(said: &SafetySummary) -> Markup {
    let Some(found) = &said.comparison else { return html! {} };
    let registered = &found.registered;
    html! {
        section id="comparison" {
            h2 { "The comparison, as it was planned" }
            p { (found.plan.question()) }
            p.small {
                "Plan " (registered.plan) ", registered " (registered.day) ", "
                @if registered.fully_prespecified { "before any case in scope was entered or looked at" }
                @else { "when cases in scope had been entered already" }
                ". SHA-256 " code { (registered.plan_hash) } "."
            }
            @for endpoint in &found.endpoints { (verdict(found, endpoint)) }
            @if let Some(table) = said.comparison_table() { (named_table(table)) }
            @for note in &found.notes { p.small { (note) } }
        }
    }
}

fn verdict(found: &PublishedComparison, endpoint: &PublishedEndpoint) -> Markup {
    let planned = found.plan.endpoints().iter().find(|planned| planned.endpoint == endpoint.endpoint);
    let reason = html! {
        @if let Some(planned) = planned {
            p.quiet { "Margin " (points(endpoint.margin)) ": " (planned.reason) " (" (planned.source) ")" }
        }
    };
    let Some(claim) = &endpoint.claim else {
        return html! {
            h3 { (endpoint.endpoint.label()) }
            p { "What was found is not shown: a count of an arm cannot be published without risk to a patient." }
            (reason)
        };
    };
    html! {
        section.verdict.lit {
            div {
                h3 { (endpoint.endpoint.label()) }
                p { (claim) }
                @match endpoint.difference {
                    Some(difference) => p { "Difference " (difference.in_words()) "." },
                    None => p { "The difference cannot be estimated." },
                }
                (reason)
            }
            @if let Some(difference) = endpoint.difference { div.picture { (picture(endpoint, difference)) } }
        }
    }
}

fn picture(endpoint: &PublishedEndpoint, difference: PublishedDifference) -> Markup {
    let sign = if endpoint.endpoint.worse_when() == "lower" { -1.0 } else { 1.0 };
    let line = MarginLine {
        name: "As intended",
        difference: difference.in_words(),
        interval: Some((difference.lower, difference.estimate, difference.upper)),
    };
    let picture = MarginPicture { margin: sign * endpoint.margin, lines: vec![line] };
    let words = format!(
        "{}: difference {}, margin {}",
        endpoint.endpoint.label(),
        difference.in_words(),
        points(endpoint.margin)
    );
    picture.draw().draw("margin-picture", &words)
}
