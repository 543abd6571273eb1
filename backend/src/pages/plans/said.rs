//! A registered plan, choice by choice, each with what it does.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, in_words, level, percent};
use quietbeam_analysis::study::plan::{AnalysisPlan, PlannedEndpoint, PlannedLooks};
use quietbeam_schema::vocabulary::{Coded, MarginScale};

use super::typed::points_of;
use crate::pages::words::capital;

/// The plan.
pub(super) fn plan(plan: &AnalysisPlan) -> Markup {
    let eligibility = plan.eligibility();
    html! {
        section {
            h2 { "Which cases" }
            dl.terms {
                @if !eligibility.procedure_groups.is_empty() { dt { "Procedures" } dd { (labels(&eligibility.procedure_groups)) } }
                @if !eligibility.procedures.is_empty() { dt { "Single types" } dd { (labels(&eligibility.procedures)) } }
                dt { "Ages" } dd { @if eligibility.age_bands.is_empty() { "all" } @else { (labels(&eligibility.age_bands)) } }
                dt { "Left out" } dd { (labels(&eligibility.exclude)) }
                dt { "Near-zero" } dd { (plan.near_zero().label()) p.small { (definition(plan.near_zero())) } }
                @if let Some(least) = eligibility.least_capture { dt { "Sent in" } dd { "at least " (percent(least, 0)) " of a centre's eligible ablations" } }
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
                dt { "Compared within" } dd { (plan.strata().label()) p.small { (definition(plan.strata())) } }
                dt { "Held alike" } dd { (labels(plan.covariates())) }
                dt { "Where one is missing" } dd { (plan.missing_covariates().label()) p.small { (definition(plan.missing_covariates())) } }
                dt { "Intervals" } dd { (level(plan.level().level())) }
                dt { "Outcome known in" } dd { "at least " (percent(plan.least_known(), 0)) " of each arm, or nothing is concluded" }
                dt { "Beside it" } dd { (labels(plan.sensitivity())) }
                dt { "Recurrence" } dd { "counts " (plan.recurrence().in_words()) p.small { "Described by curves, without a verdict." } }
                dt { "Told apart by" } dd { (labels(plan.subgroups())) p.small { "Other kinds of patient are exploratory." } }
            }
        }
        section {
            h2 { "How often it is looked at" }
            p { (looks(plan)) }
        }
        section {
            h2 { "What every plan here does" }
            ul.always { @for sentence in plan.always() { li { (sentence) } } }
        }
    }
}

/// The looks in a sentence or two.
fn looks(plan: &AnalysisPlan) -> String {
    let PlannedLooks::Several(several) = plan.looks() else {
        return "Once: the first data cut on which the plan is carried out has the whole level. A later cut is described and gets no verdict.".to_owned();
    };
    let shares: Vec<String> = several.fractions().iter().map(|share| percent(*share, 0)).collect();
    let exponent = several.exponent().map_or(String::new(), |exponent| format!(", exponent {exponent}"));
    format!(
        "{} times, at {} of {} cases in each arm. The looks share the level: {}{exponent}. A look that comes earlier or later spends what the function gives for its cases; one beyond these gets no verdict.",
        capital(&in_words(several.fractions().len())),
        shares.join(" and "),
        count(several.each_arm()),
        several.spending().label()
    )
}

fn endpoint(planned: &PlannedEndpoint) -> Markup {
    let margin = match planned.margin.scale() {
        MarginScale::RiskDifference => format!("less than {} worse", planned.margin.in_words()),
        MarginScale::RiskRatio => format!(
            "{} less than {} times as frequent",
            planned.endpoint.unwanted_in_words(),
            planned.margin.in_short()
        ),
    };
    let worse = planned.endpoint.worse_when(planned.margin.scale());
    html! {
        p.strong { (planned.endpoint.label()) ": " (margin) }
        p { (planned.endpoint.definition().in_words()) }
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
