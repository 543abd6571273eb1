//! A comparison that is published with a summary: what was planned, what was found, the counts of both arms.

use maud::{Markup, html};
use quietbeam_analysis::study::plan::PlannedMargin;
use quietbeam_analysis::study::population::Population;
use quietbeam_analysis::study::summary::{
    NamedTable, PublishedComparison, PublishedEffect, PublishedEndpoint, SafetySummary,
};

use super::compared_flow;
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
            @if let Some(flow) = said.comparison_flow() { (compared_flow::figure(&flow)) }
            @for table in said.comparison_tables() { (drawn(table)) }
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
                (told(endpoint, Population::AsIntended, &endpoint.as_intended))
                @match &endpoint.per_protocol {
                    Some(effect) => (told(endpoint, Population::PerProtocol, effect)),
                    None => p.quiet { "What was found per protocol is not shown." },
                }
                (reason)
            }
            @if let Some(margin) = planned.map(|planned| planned.margin) { (picture(endpoint, margin)) }
        }
    }
}

fn told(endpoint: &PublishedEndpoint, population: Population, effect: &PublishedEffect) -> Markup {
    let population = population.label();
    html! {
        @match effect.difference {
            Some(difference) => p { (population) ": difference " (difference.in_words()) "." },
            None => p { (population) ": the difference cannot be estimated." },
        }
        @if let Some(ratio) = effect.ratio {
            p { (population) ": risk ratio of " (endpoint.endpoint.unwanted_in_words()) " " (ratio.in_words()) "." }
        }
    }
}

/// The intervals that were held against the margin, if there are any.
fn picture(endpoint: &PublishedEndpoint, margin: PlannedMargin) -> Markup {
    let per_protocol = endpoint.per_protocol.as_ref().map(|effect| (Population::PerProtocol, effect));
    let effects = [(Population::AsIntended, &endpoint.as_intended)].into_iter().chain(per_protocol);
    let drawn = effects.filter_map(|(population, effect)| {
        let (effect, told) = effect.drawn(margin.scale())?;
        Some(MarginLine { name: population.label(), told, effect: Some(effect) })
    });
    let lines: Vec<MarginLine> = drawn.collect();
    if lines.is_empty() {
        return html! {};
    }
    let told: Vec<String> = lines.iter().map(|line| format!("{}: {}", line.name, line.told)).collect();
    let (label, told) = (endpoint.endpoint.label(), told.join(", "));
    let words = format!("{label}, {}, margin {}", told.to_lowercase(), margin.in_words());
    html! { div.picture { (MarginPicture { margin, lines }.draw().draw("margin-picture", &words)) } }
}
