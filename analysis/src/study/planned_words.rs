//! A planned comparison as plain text. The first lines say what was shown and what was not.

use super::adjustment::{Adjusted, Adjustment};
use super::decision::Decision;
use super::effect::Effect;
use super::estimate::{Estimate, reason_in_words};
use super::numerals::{self, count, difference};
use super::plan::AnalysisPlan;
use super::planned::{LeftOutCount, PlannedComparison, PlannedFlow, PlannedPopulation, PlannedResult};
use super::population::Population;
use super::words::{Text, both, centre_table, dose_table, effusion_table, estimate_row, share, tally_row};
use quietbeam_schema::vocabulary::{Coded, NearZeroCases, PrimaryMethod, Sensitivity};

/// The comparison as text of at most 100 columns.
pub fn planned_words(comparison: &PlannedComparison) -> String {
    let mut text = Text::default();
    what_was_shown(&mut text, comparison);
    cases(&mut text, comparison);
    for result in &comparison.endpoints {
        endpoint(&mut text, result, comparison);
    }
    text.heading("EXPLORATORY: no verdict hangs on what follows");
    let exploratory = &comparison.exploratory;
    let crossed = &exploratory.cross_over;
    let shares = (share(&crossed.to_x_ray), share(&crossed.to_no_x_ray));
    text.row("Crossed over (X-ray / no X-ray)", shares, "");
    effusion_table(&mut text, &exploratory.effusion);
    text.paragraph(&exploratory.effusion.why_it_differs);
    dose_table(&mut text, &exploratory.dose);
    centre_table(&mut text, &exploratory.by_centre);
    text.0
}

fn what_was_shown(text: &mut Text, comparison: &PlannedComparison) {
    text.heading("WHAT WAS SHOWN");
    text.paragraph(comparison.plan.question());
    for result in &comparison.endpoints {
        text.paragraph(&result.claim_in_words);
        let tested = !matches!(result.claim, Decision::CannotConclude { .. });
        if tested && !result.populations_agree {
            text.paragraph(&format!(
                "The two populations disagree (as intended: {}; per protocol: {}), so no more is claimed.",
                result.as_intended.decision.label(),
                result.per_protocol.decision.label()
            ));
        }
    }
    text.paragraph(&comparison.look.in_words);
    for caution in comparison.cautions {
        text.paragraph(caution);
    }
    text.paragraph(
        "No adjustment answers for what was not recorded, such as how hard a case looked beforehand.",
    );
    for warning in &comparison.warnings {
        text.paragraph(&format!("Warning: {warning}"));
    }
}

fn cases(text: &mut Text, comparison: &PlannedComparison) {
    let PlannedFlow { in_cohort, left_out, near_zero, as_intended, per_protocol, declared_before, .. } =
        &comparison.cases;
    text.columns("CASES", "");
    let mut row = |label: &str, arms| text.row(label, both(arms, |n| count(*n)), "");
    row("As intended", as_intended);
    row("  declared before the procedure", declared_before);
    row("Per protocol", per_protocol);
    let reasons = left_out.iter().map(LeftOutCount::in_words);
    let mut losses: Vec<String> = reasons.collect();
    let in_an_arm = comparison.plan.near_zero() != NearZeroCases::InNeitherArm;
    if !in_an_arm {
        losses.push(format!("{} intended as near-zero, which are a group of their own", count(*near_zero)));
    }
    text.paragraph(&format!(
        "Of {} cases in the cut, not compared: {}.",
        count(*in_cohort),
        if losses.is_empty() { "none".to_owned() } else { losses.join("; ") }
    ));
    if in_an_arm {
        text.paragraph(&comparison.cases.near_zero_in_words(comparison.plan.near_zero()));
    }
}

fn endpoint(text: &mut Text, result: &PlannedResult, comparison: &PlannedComparison) {
    let level = numerals::level(comparison.level().level());
    let title = format!("{}, margin {}", result.endpoint.label().to_uppercase(), result.margin.in_words());
    text.columns(&title, &format!("points ({level})"));
    let plan = &comparison.plan;
    population(text, result, &result.as_intended, (Population::AsIntended, plan));
    population(text, result, &result.per_protocol, (Population::PerProtocol, plan));
    let label = format!("{} (description)", Population::AsTreated.label());
    estimate_row(text, &label, &result.as_treated, result.endpoint);
    if !result.sensitivity.is_empty() {
        text.paragraph("The primary estimate on parts of the cases, as intended:");
    }
    for line in &result.sensitivity {
        let part = match (line.analysis, &line.part) {
            (Sensitivity::LeaveOneCentreOut, Some(centre)) => format!("without {centre}"),
            (Sensitivity::ByProcedureGroup, Some(group)) => format!("only {group}"),
            (analysis, _) => analysis.label().to_lowercase(),
        };
        let label = format!("  {part} ({})", count(line.cases));
        let estimate = match (&line.effect, line.effect.in_numbers()) {
            (Effect::Ratio(_), Ok(ratio)) => format!("ratio {ratio}"),
            (_, Ok(numbers) | Err(numbers)) => numbers,
        };
        text.line(&label, &estimate);
    }
}

fn population(
    text: &mut Text,
    result: &PlannedResult,
    decided: &PlannedPopulation,
    (population, plan): (Population, &AnalysisPlan),
) {
    let method = plan.method();
    let label = format!("{}: {}", population.label(), decided.decision.label());
    let arms = &decided.crude.arms;
    estimate_row(text, &format!("{}, crude", population.label()), &decided.crude, result.endpoint);
    tally_row(text, "  outcome not known", arms, |tally| tally.missing);
    tally_row(text, "  nothing attempted", arms, |tally| tally.not_attempted);
    let Adjustment {
        incomplete, standardised, standardised_these_centres, overlap_weighted, penalised, ..
    } = &decided.adjusted;
    if decided.adjusted.settled > 0 {
        text.paragraph(&format!(
            "{} cases are of groups in which nobody, or everybody, had the event; the model gives them that risk either way and keeps them in the average.",
            count(decided.adjusted.settled)
        ));
    }
    if incomplete.zero_fluoroscopy + incomplete.conventional > 0 {
        text.row("  left for a missing covariate", both(incomplete, |n| count(*n)), "");
    }
    let mut adjusted = |name: &str, estimate: &Estimate<Adjusted>, decides: bool| {
        let mark = if decides { "* " } else { "  " };
        match estimate {
            Estimate::Estimated(found) => {
                let risks = both(&found.risks, |risk| numerals::percent(*risk, 2));
                text.row(&format!("{mark}{name}"), risks, &difference(&found.difference));
            }
            Estimate::CannotBeEstimated(why) => {
                text.row(&format!("{mark}{name}"), (String::new(), String::new()), "not estimable");
                text.paragraph(&format!("{name}: {}.", reason_in_words(*why)));
            }
        }
    };
    adjusted("standardised, CR2", standardised, method == PrimaryMethod::Standardised);
    adjusted("the same, these centres only", standardised_these_centres, false);
    adjusted("overlap weights, CR2", overlap_weighted, method == PrimaryMethod::OverlapWeighted);
    if let Some(penalised) = penalised {
        adjusted("penalised, these centres", penalised, false);
        if let Some(name) = &decided.adjusted.separated_by {
            text.paragraph(&format!("It is {name} that separates the outcomes."));
        }
    }
    if let Ok(within) = decided.crude.within_centres() {
        let mark = if method == PrimaryMethod::WithinCentres { "* " } else { "  " };
        text.row(
            &format!("{mark}{}", plan.within_strata()),
            (String::new(), String::new()),
            &difference(&within),
        );
    }
    if let Some(told) = decided.crude.strata_left_out_in_words() {
        text.paragraph(&format!("Compared {}, {told}.", plan.within_strata()));
    }
    if let Effect::Ratio(Estimate::Estimated(found)) = decided.effect(method, result.margin.scale()) {
        let of = result.endpoint.unwanted_in_words();
        text.paragraph(&format!("* Risk ratio of {of}, by the same method: {}.", numerals::ratio(&found)));
    }
    text.paragraph(&match decided.decision {
        Decision::CannotConclude { reason } => format!("{label}: {reason}."),
        _ => format!("{label} (by the line with the star)."),
    });
}
