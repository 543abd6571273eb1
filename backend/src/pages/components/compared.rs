//! A comparison that is published with a summary: what was planned, what was found, the counts of both arms.

use maud::{Markup, html};
use quietbeam_analysis::study::plan::PlannedMargin;
use quietbeam_analysis::study::summary::{NamedTable, PublishedComparison, PublishedEndpoint, SafetySummary};
use quietbeam_schema::vocabulary::MarginScale;

use crate::pages::figures::{MarginLine, MarginPicture};

/// The comparison of a summary, if it publishes one, with its table drawn one way or another.
pub(crate) fn compared(said: &SafetySummary, drawn: fn(&NamedTable) -> Markup) -> Markup {
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
            @if let Some(table) = said.comparison_table() { (drawn(table)) }
            @for note in &found.notes { p.small { (note) } }
        }
    }
}

fn verdict(found: &PublishedComparison, endpoint: &PublishedEndpoint) -> Markup {
    let planned = found.plan.endpoints().iter().find(|planned| planned.endpoint == endpoint.endpoint);
    let reason = html! {
        @if let Some(planned) = planned {
            p.quiet { "Margin " (planned.margin.in_words()) ": " (planned.reason) " (" (planned.source) ")" }
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
                @if let Some(ratio) = endpoint.ratio {
                    p { "Risk ratio of " (endpoint.endpoint.unwanted_in_words()) " " (ratio.in_words()) "." }
                }
                (reason)
            }
            @if let Some(margin) = planned.map(|planned| planned.margin) { (picture(endpoint, margin)) }
        }
    }
}

/// The interval that was held against the margin, if there is one.
fn picture(endpoint: &PublishedEndpoint, margin: PlannedMargin) -> Markup {
    let told = match margin.scale() {
        MarginScale::RiskDifference => endpoint.difference.map(|found| found.in_words()),
        MarginScale::RiskRatio => endpoint.ratio.map(|found| found.in_words()),
    };
    let Some((told, effect)) = told.zip(endpoint.drawn()) else { return html! {} };
    let words = format!("{}: {told}, margin {}", endpoint.endpoint.label(), margin.in_words());
    let line = MarginLine { name: "As intended", told, effect: Some(effect) };
    let picture = MarginPicture { margin, lines: vec![line] };
    html! { div.picture { (picture.draw().draw("margin-picture", &words)) } }
}
