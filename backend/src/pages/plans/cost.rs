//! What a plan costs in cases, and how far the network is from it.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, percent};
use quietbeam_analysis::study::plan::{Cost, Reach};

/// The section of the margin.
pub(super) fn section(costs: &[Cost], reach: Option<&Reach>) -> Markup {
    html! {
        section id="cost" {
            h2 { "What it costs" }
            @for cost in costs {
                @match &cost.each_arm {
                    Some(cases) => p {
                        b { (count(*cases)) } " cases in each arm for " (cost.endpoint.label().to_lowercase())
                        ", to show it with a chance of " (percent(cost.power, 0)) " if the arms are alike."
                        @if let Some(factor) = cost.for_looks { " Looking several times adds " (percent(factor - 1.0, 1)) " to them, counted in." }
                        @if let Some(reach) = reach { (far(reach, *cases)) }
                    },
                    None => p { (cost.endpoint.label()) ": no number of cases is enough, because " (cost.why_not.as_deref().unwrap_or("it cannot be planned")) "." },
                }
            }
            @if let Some(reach) = reach { (held(reach)) }
            p.small { "Cases as if independent of each other. An effect that differs between centres, and outcomes that are not learnt, cost more." }
        }
    }
}

/// How far the cases that are there go.
fn far(reach: &Reach, needed: u32) -> Markup {
    let share = reach.worth_each_arm / f64::from(needed.max(1));
    html! {
        @if share >= 1.0 { " The network holds enough." }
        @else { " The network holds " (percent(share, 0)) " of them." }
    }
}

fn held(reach: &Reach) -> Markup {
    let cases = &reach.cases;
    html! {
        p {
            "In scope now: " (count(cases.zero_fluoroscopy)) " zero-fluoroscopy and " (count(cases.conventional)) " conventional."
            @match reach.design_effect {
                Some(effect) => {
                    " Compared within centres they tell as much as " (count(reach.worth_each_arm as u64)) " in each arm: "
                    "centres prefer one strategy, which costs " (format!("{effect:.1}")) " times the cases (the design effect)."
                },
                None => " No centre uses both, so nothing can be compared within a centre.",
            }
        }
    }
}
