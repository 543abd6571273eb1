//! A registered plan, choice by choice, each with what it does.

use maud::{Markup, html};
use quietbeam_analysis::methods::non_inferiority::Margin;
use quietbeam_analysis::study::numerals::{level, percent};
use quietbeam_analysis::study::plan::{ALWAYS, AnalysisPlan, PlannedEndpoint};
use quietbeam_schema::vocabulary::Coded;

use super::typed::points_of;

/// The plan.
pub(super) fn plan(plan: &AnalysisPlan) -> Markup {
    let eligibility = plan.eligibility();
    html! {
        section {
            h2 { "Which cases" }
            dl.terms {
                dt { "Procedures" } dd { (labels(&eligibility.procedure_groups)) }
                dt { "Left out" } dd { (labels(&eligibility.exclude)) }
            }
        }
        section {
            h2 { "What is asked, in this order" }
            ol.endpoints { @for planned in plan.endpoints() { li { (endpoint(planned)) } } }
        }
        section {
            h2 { "How it is estimated" }
            dl.terms {
                dt { "Method" } dd { (plan.method().label()) p.small { (definition(plan.method())) } }
                dt { "Held alike" } dd { (labels(plan.covariates())) }
                dt { "Where one is missing" } dd { (plan.missing_covariates().label()) p.small { (definition(plan.missing_covariates())) } }
                dt { "Intervals" } dd { (level(plan.level().level())) }
                dt { "Outcome known in" } dd { "at least " (percent(plan.least_known(), 0)) " of each arm, or nothing is concluded" }
                dt { "Beside it" } dd { (labels(plan.sensitivity())) }
            }
        }
        section {
            h2 { "What every plan here does" }
            ul.always { @for sentence in ALWAYS { li { (sentence) } } }
        }
    }
}

fn endpoint(planned: &PlannedEndpoint) -> Markup {
    let (Margin::Benefit(size) | Margin::Harm(size)) = planned.margin;
    let worse = planned.endpoint.worse_when();
    html! {
        p.strong { (planned.endpoint.label()) ": less than " (points_of(size.size())) " points worse" }
        p { (planned.reason) }
        p.small { "Source: " (planned.source) ". Worse when " (worse) "; expected in the conventional arm: " (points_of(planned.expected)) " %." }
    }
}

/// Labels one after another; "nothing" where there are none.
fn labels<C: Coded>(codes: &[C]) -> String {
    if codes.is_empty() {
        return "nothing".to_owned();
    }
    codes.iter().map(|code| code.label()).collect::<Vec<_>>().join(", ")
}

fn definition<C: Coded>(code: C) -> &'static str {
    C::LIST.codes[code.position()].definition
}
