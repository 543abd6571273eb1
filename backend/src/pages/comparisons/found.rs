//! What was planned and what was found, as tables: first the verdicts, then every estimator
//! side by side in each population.

use maud::{Markup, html};
use quietbeam_analysis::methods::interval::{Interval, RatioInterval};
use quietbeam_analysis::study::adjustment::Adjusted;
use quietbeam_analysis::study::arm::{Arm, ByArm};
use quietbeam_analysis::study::effect::Effect;
use quietbeam_analysis::study::estimate::{Estimate, reason_in_words};
use quietbeam_analysis::study::numerals::{count, difference, level, percent, ratio};
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::planned::{PlannedComparison, PlannedPopulation, PlannedResult};
use quietbeam_analysis::study::population::Population;
use quietbeam_analysis::study::population_result::PopulationResult;
use quietbeam_analysis::study::report::{EchoAlike, HeldAlike};
use quietbeam_analysis::study::share::Share;
use quietbeam_analysis::study::tally::Tally;
use quietbeam_schema::vocabulary::{MarginScale, PrimaryMethod};

use crate::pages::components::{Cell, Column, Table, arm_column, as_blocks};

/// The head of a column of effects.
pub(super) fn effect_heading(scale: MarginScale) -> &'static str {
    match scale {
        MarginScale::RiskDifference => "Difference, points",
        MarginScale::RiskRatio => "Ratio",
    }
}

/// An effect, or why there is none.
pub(super) fn effect_said(effect: &Effect) -> Markup {
    match effect.in_numbers() {
        Ok(numbers) => html! { (numbers) },
        Err(why) => html! { span.quiet { (why) } },
    }
}

/// A difference, or why there is none.
pub(super) fn said(estimate: Result<Interval, String>) -> Markup {
    match estimate {
        Ok(interval) => html! { (difference(&interval)) },
        Err(why) => html! { span.quiet { (why) } },
    }
}

fn tally(tally: &Tally) -> String {
    if tally.known == 0 {
        return "no outcome known".to_owned();
    }
    let share = f64::from(tally.events) / f64::from(tally.known);
    format!("{} of {} ({})", count(tally.events), count(tally.known), percent(share, 1))
}

/// A share of one arm.
pub(super) fn share(share: &Share) -> String {
    match &share.proportion {
        Some(proportion) => {
            format!("{} of {} ({})", count(share.count), count(share.of), percent(proportion.estimate, 1))
        }
        None => "no cases".to_owned(),
    }
}

/// A planned endpoint with its verdict.
fn planned(result: &PlannedResult, method: PrimaryMethod) -> [Cell; 5] {
    let arms = &result.as_intended.crude.arms;
    let scale = result.margin.scale();
    let effect = result.as_intended.effect(method, scale);
    let (sign, what) = match scale {
        MarginScale::RiskDifference if result.margin.worse_is_right() => ("+", ""),
        MarginScale::RiskDifference => ("−", ""),
        MarginScale::RiskRatio => ("", "ratio "),
    };
    let margin = result.margin.in_short();
    [
        Cell::shown(html! { b { (result.endpoint.label()) } ", margin " (what) (sign) (margin) }),
        Cell::text(tally(&arms.zero_fluoroscopy.tally)),
        Cell::text(tally(&arms.conventional.tally)),
        Cell::shown(html! { b { (what) (effect_said(&effect)) } }),
        Cell::shown(html! { b { (result.claim.label()) } }),
    ]
}

/// The planned endpoints, then what carries no verdict.
pub(super) fn table(found: &PlannedComparison) -> Markup {
    let described = |name: &str, shares: &ByArm<Share>, difference: Markup, verdict: &str| {
        [
            Cell::text(name),
            Cell::text(share(&shares.zero_fluoroscopy)),
            Cell::text(share(&shares.conventional)),
            Cell::shown(difference),
            Cell::text(verdict),
        ]
    };
    let effusion = &found.exploratory.effusion;
    let any = match &effusion.any_difference {
        Estimate::Estimated(interval) => html! { (difference(interval)) ", crude" },
        Estimate::CannotBeEstimated(why) => html! { (reason_in_words(*why)) },
    };
    let method = found.plan.method();
    let mut rows: Vec<[Cell; 5]> = found.endpoints.iter().map(|result| planned(result, method)).collect();
    rows.push(described(
        "Drained effusion",
        &effusion.drained,
        html! { "described" },
        "no verdict, exploratory",
    ));
    rows.push(described(
        "Any effusion reported",
        &effusion.any,
        any,
        "no measure of harm: looked for more often",
    ));
    rows.push(described(
        "No X-ray at all",
        &found.exploratory.dose.no_x_ray,
        html! { "by design" },
        "no verdict",
    ));
    let of_ratio = found.endpoints.iter().any(|result| result.margin.scale() == MarginScale::RiskRatio);
    let heading = if of_ratio { "Points, or ratio" } else { "Difference, points" };
    let table = Table {
        caption: "What was planned, and what was found, as intended".to_owned(),
        columns: [
            Column::words("Endpoint"),
            arm_column(Arm::ZeroFluoroscopy),
            arm_column(Arm::Conventional),
            Column::numbers(&format!("{heading} ({} interval)", level(found.level().level()))),
            Column::words("Decision"),
        ],
        rows,
    };
    html! { section id="found" { (as_blocks(&table)) } }
}

/// Every estimator of every planned endpoint, in each population.
pub(super) fn populations(found: &PlannedComparison, echo: &[EchoAlike]) -> Markup {
    html! {
        section id="populations" {
            h2 { "Every way of estimating it" }
            p { "The line in bold is the one that the plan chose; the others stand beside it so that nobody need ask. Ratios are of what nobody wants: failures, or complications." }
            @if let Some(echo) = echo.first() { p { b { "Echo held alike." } " " (echo.question) } }
            @for (result, echo) in found.endpoints.iter().zip(echo) {
                (as_blocks(&estimators(result, echo, found)))
                @if let Some(told) = silent(result, &found.plan) { p { (told) } }
                p { (echo.in_words) }
                p.small { (result.endpoint.definition().in_words()) }
            }
        }
    }
}

fn estimators(result: &PlannedResult, echo: &EchoAlike, found: &PlannedComparison) -> Table<5> {
    let plan = &found.plan;
    let mut rows = Vec::new();
    for (population, of) in
        [(Population::AsIntended, &result.as_intended), (Population::PerProtocol, &result.per_protocol)]
    {
        rows.extend(lines(population, of, plan));
    }
    rows.push(held_alike(echo));
    rows.push(crude(&format!("{}, crude (description)", Population::AsTreated.label()), &result.as_treated));
    Table {
        caption: format!("{} by population and method", result.endpoint.label()),
        columns: [
            Column::words("Population and method"),
            arm_column(Arm::ZeroFluoroscopy),
            arm_column(Arm::Conventional),
            Column::numbers("Difference, points"),
            Column::numbers(if result.endpoint.is_harm() { "Ratio" } else { "Ratio of failures" }),
        ],
        rows,
    }
}

/// A ratio, or why there is none.
fn ratio_said(estimate: &Estimate<RatioInterval>) -> Markup {
    match estimate {
        Estimate::Estimated(found) => html! { (ratio(found)) },
        Estimate::CannotBeEstimated(why) => html! { span.quiet { (reason_in_words(*why)) } },
    }
}

fn crude(name: &str, result: &PopulationResult) -> [Cell; 5] {
    let difference = match &result.difference {
        Estimate::Estimated(found) => Ok(found.miettinen_nurminen),
        Estimate::CannotBeEstimated(why) => Err(reason_in_words(*why)),
    };
    [
        Cell::text(name),
        Cell::text(tally(&result.arms.zero_fluoroscopy.tally)),
        Cell::text(tally(&result.arms.conventional.tally)),
        Cell::shown(said(difference)),
        Cell::shown(ratio_said(&result.ratio.miettinen_nurminen)),
    ]
}

/// The second model, which is no estimate of the same thing.
fn held_alike(echo: &EchoAlike) -> [Cell; 5] {
    let name = "As intended, echo held alike: not the total effect (description)";
    let (found, difference) = match &echo.held_alike {
        HeldAlike::Estimated(found) => (Some(found), Ok(found.difference)),
        HeldAlike::CannotBeEstimated(why) => (None, Err(format!("cannot be estimated: {why}"))),
    };
    let risk = |of: fn(ByArm<f64>) -> f64| found.map_or(String::new(), |found| percent(of(found.risks), 2));
    [
        Cell::text(name),
        Cell::text(risk(|risks| risks.zero_fluoroscopy)),
        Cell::text(risk(|risks| risks.conventional)),
        Cell::shown(said(difference)),
        Cell::shown(found.map_or(Markup::default(), |found| ratio_said(&found.ratio))),
    ]
}

/// How many strata tell nothing, as intended.
fn silent(result: &PlannedResult, plan: &AnalysisPlan) -> Option<String> {
    let told = result.as_intended.crude.strata_left_out_in_words()?;
    Some(format!("Compared {}, as intended, {told}.", plan.within_strata()))
}

fn lines(population: Population, of: &PlannedPopulation, plan: &AnalysisPlan) -> Vec<[Cell; 5]> {
    let method = plan.method();
    let adjusted = &of.adjusted;
    let bold = |markup: Markup, decides: bool| {
        if decides {
            html! { b { (markup) } }
        } else {
            markup
        }
    };
    let model = |name: &str, estimate: &Estimate<Adjusted>, decides: bool| {
        let risk = |of: fn(&ByArm<f64>) -> f64| {
            estimate.estimated().map_or(String::new(), |found| percent(of(&found.risks), 2))
        };
        let (difference, ratio) = match estimate {
            Estimate::Estimated(found) => (said(Ok(found.difference)), ratio_said(&found.ratio)),
            Estimate::CannotBeEstimated(why) => (said(Err(reason_in_words(*why))), Markup::default()),
        };
        [
            Cell::shown(bold(html! { (population.label()) ", " (name) }, decides)),
            Cell::text(risk(|risks| risks.zero_fluoroscopy)),
            Cell::text(risk(|risks| risks.conventional)),
            Cell::shown(bold(difference, decides)),
            Cell::shown(bold(ratio, decides)),
        ]
    };
    let decides = method == PrimaryMethod::WithinCentres;
    let within = [
        Cell::shown(bold(html! { (population.label()) ", " (plan.within_strata()) }, decides)),
        Cell::text(""),
        Cell::text(""),
        Cell::shown(bold(said(of.crude.within_centres().map_err(reason_in_words)), decides)),
        Cell::shown(bold(ratio_said(&of.crude.ratio.within_centres), decides)),
    ];
    let mut rows = vec![
        crude(&format!("{}, crude", population.label()), &of.crude),
        within,
        model("standardised, CR2 by centre", &adjusted.standardised, method == PrimaryMethod::Standardised),
        model("standardised, these centres only", &adjusted.standardised_these_centres, false),
        model(
            "overlap weights, CR2 by centre",
            &adjusted.overlap_weighted,
            method == PrimaryMethod::OverlapWeighted,
        ),
    ];
    if let Some(penalised) = &adjusted.penalised {
        let label = match &adjusted.separated_by {
            Some(variable) => format!("penalised, these centres only ({variable} separates the outcomes)"),
            None => "penalised, these centres only".to_owned(),
        };
        rows.push(model(&label, penalised, false));
    }
    rows
}
