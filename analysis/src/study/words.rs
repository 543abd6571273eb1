//! A comparison as plain text that a cardiologist can read. The first lines say
//! what was shown and what was not.

use super::arm::ByArm;
use super::by_centre::CentreLine;
use super::cohort::Looked;
use super::comparison::{CaseFlow, Comparison, EndpointComparison};
use super::decision::points;
use super::dose::{DoseAmongExposed, DoseComparison, Spread};
use super::effusion::EffusionComparison;
use super::endpoint::Endpoint;
use super::estimate::{Estimate, reason_in_words};
use super::numerals::{self, WIDTH, count, difference, limits, measured, p_value, paragraph};
use super::population::Population;
use super::population_result::{ArmResult, PopulationResult};
use super::share::Share;
use super::tally::Tally;
use crate::methods::interval::Interval;
use quietbeam_schema::vocabulary::Coded;

/// The comparison as text of at most 100 columns.
pub fn words(comparison: &Comparison) -> String {
    let level = numerals::level(comparison.request.level().level());
    let mut text = Text::default();
    nothing_was_shown(&mut text, comparison);
    cases(&mut text, comparison);
    for endpoint in [&comparison.acute_success, &comparison.major_within_30_days] {
        endpoint_table(&mut text, endpoint, &level);
    }
    effusion_table(&mut text, &comparison.effusion);
    let major = &comparison.major_within_30_days.as_intended;
    estimate_row(&mut text, "Major within 30 days", major, Endpoint::MajorWithin30Days);
    text.paragraph(&comparison.effusion.why_it_differs);
    dose_table(&mut text, &comparison.dose);
    centre_table(&mut text, &comparison.by_centre);
    text.0
}

const LABEL: usize = 32;
const ARM: usize = 22;
const DIFFERENCE: usize = WIDTH - LABEL - 2 * ARM;

/// Text that grows row by row.
#[derive(Default)]
pub(super) struct Text(pub(super) String);

impl Text {
    pub(super) fn heading(&mut self, text: &str) {
        if !self.0.is_empty() {
            self.0.push('\n');
        }
        self.0.push_str(text);
        self.0.push('\n');
    }

    pub(super) fn paragraph(&mut self, text: &str) {
        self.0.push_str(&paragraph(text, 2));
    }

    pub(super) fn row(&mut self, label: &str, arms: (String, String), difference: &str) {
        // A space of its own keeps the columns of a large network apart.
        let cells = (format!(" {}", arms.0), format!(" {}", arms.1), format!(" {difference}"));
        let line = format!("{label:<LABEL$}{:>ARM$}{:>ARM$}{:>DIFFERENCE$}", cells.0, cells.1, cells.2);
        self.0.push_str(line.trim_end());
        self.0.push('\n');
    }

    /// A label with one cell at the right edge.
    pub(super) fn line(&mut self, label: &str, cell: &str) {
        let room = WIDTH.saturating_sub(label.chars().count());
        self.0.push_str(&format!("{label}{:>room$}\n", format!(" {cell}")));
    }

    pub(super) fn columns(&mut self, title: &str, last: &str) {
        self.heading(title);
        self.row("", ("zero-fluoroscopy".to_owned(), "conventional".to_owned()), last);
    }
}

/// The same of both arms.
pub(super) fn both<T>(arms: &ByArm<T>, write: impl Fn(&T) -> String) -> (String, String) {
    (write(&arms.zero_fluoroscopy), write(&arms.conventional))
}

fn nothing_was_shown(text: &mut Text, comparison: &Comparison) {
    text.heading("WITHOUT A PLAN");
    text.paragraph(
        "Nothing was fixed before the data were looked at, so nothing is shown here, whatever the intervals say. A claim needs a plan.",
    );
    for caution in comparison.cautions {
        text.paragraph(caution);
    }
    for warning in &comparison.warnings {
        text.paragraph(&format!("Warning: {warning}"));
    }
}

fn cases(text: &mut Text, comparison: &Comparison) {
    let CaseFlow { in_cohort, diagnostic_only, other_groups, near_zero, .. } = comparison.cases;
    text.columns("CASES", "");
    let mut row = |label: &str, arms: &ByArm<u32>| text.row(label, both(arms, |n| count(*n)), "");
    row("As intended", &comparison.cases.as_intended);
    row("  declared before the procedure", &comparison.cases.declared_before);
    row("Per protocol", &comparison.cases.per_protocol);
    row("As treated", &comparison.cases.as_treated);
    let crossed = &comparison.cross_over;
    let shares = (share(&crossed.to_x_ray), share(&crossed.to_no_x_ray));
    text.row("Crossed over (X-ray / no X-ray)", shares, "");
    text.paragraph(&format!(
        "Of {} cases in the cut, not compared: {} diagnostic only, {} of other procedure groups, {} intended as near-zero, which are a group of their own.",
        count(in_cohort), count(diagnostic_only), count(other_groups), count(near_zero)
    ));
}

pub(super) fn share(share: &Share) -> String {
    numerals::share(share.count, share.of, 1)
}

fn endpoint_table(text: &mut Text, endpoint: &EndpointComparison, level: &str) {
    let title = endpoint.endpoint.label().to_uppercase();
    let title = format!("{title}, margin {}", points(endpoint.margin));
    text.columns(&title, &format!("points ({level})"));
    population_rows(text, endpoint, &endpoint.as_intended, Population::AsIntended);
    population_rows(text, endpoint, &endpoint.per_protocol, Population::PerProtocol);
    let label = format!("{} (description)", Population::AsTreated.label());
    estimate_row(text, &label, &endpoint.as_treated, endpoint.endpoint);
}

/// Success is told to one decimal, rarer harm to two.
fn decimals(endpoint: Endpoint) -> usize {
    match endpoint {
        Endpoint::AcuteSuccess => 1,
        Endpoint::MajorWithin30Days | Endpoint::MajorBeforeDischarge => 2,
    }
}

pub(super) fn estimate_row(text: &mut Text, label: &str, result: &PopulationResult, endpoint: Endpoint) {
    let arms =
        both(&result.arms, |arm| numerals::share(arm.tally.events, arm.tally.known, decimals(endpoint)));
    match &result.difference {
        Estimate::Estimated(estimated) => text.row(label, arms, &difference(&estimated.miettinen_nurminen)),
        Estimate::CannotBeEstimated(why) => {
            text.row(label, arms, "");
            text.paragraph(&format!("No difference: {}.", reason_in_words(*why)));
        }
    }
}

fn population_rows(
    text: &mut Text,
    endpoint: &EndpointComparison,
    result: &PopulationResult,
    population: Population,
) {
    let digits = decimals(endpoint.endpoint);
    estimate_row(text, population.label(), result, endpoint.endpoint);
    let of = |pick: fn(&ArmResult) -> Option<Interval>| {
        both(&result.arms, |arm| pick(arm).map_or(String::new(), |interval| limits(&interval, digits)))
    };
    text.row("  limits, Wilson", of(|arm| arm.proportion), "");
    if result.arms.each().iter().any(|(_, arm)| arm.exact.is_some()) {
        text.row("  exact limits, Clopper–Pearson", of(|arm| arm.exact), "");
    }
    tally_row(text, "  outcome not known", &result.arms, |tally| tally.missing);
    tally_row(text, "  nothing attempted", &result.arms, |tally| tally.not_attempted);
    if let Estimate::Estimated(estimated) = &result.difference {
        let blank = || (String::new(), String::new());
        text.row("  by Newcombe", blank(), &difference(&estimated.newcombe));
        if let Estimate::Estimated(within) = &estimated.within_centres {
            let label = format!("  within centres ({} used)", within.strata_used);
            text.row(&label, blank(), &difference(&within.interval));
        }
        if let Some(test) = estimated.test_at_margin {
            text.row("  one-sided p at the margin", blank(), &p_value(test.p_one_sided));
        }
    }
}

pub(super) fn tally_row(text: &mut Text, label: &str, arms: &ByArm<ArmResult>, of: fn(&Tally) -> u32) {
    if arms.each().iter().any(|(_, arm)| of(&arm.tally) > 0) {
        text.row(label, both(arms, |arm| count(of(&arm.tally))), "");
    }
}

pub(super) fn effusion_table(text: &mut Text, effusion: &EffusionComparison) {
    text.columns("PERICARDIAL EFFUSION WITHIN 30 DAYS, as intended (description)", "points");
    let interval = effusion.any_difference.estimated().map_or(String::new(), difference);
    text.row("Any effusion reported", both(&effusion.any, share), &interval);
    for line in &effusion.by_route {
        let route = line.detected_by.map_or("not stated".to_owned(), |by| lower_first(by.label()));
        text.row(&format!("  first: {route}"), both(&line.cases, |n| count(*n)), "");
    }
    text.row("Looked with echo unprompted", both(&effusion.looked_with_echo, share), "");
    for line in &effusion.by_look {
        let label = match line.looked {
            Looked::WithEcho => "  effusion where echo looked",
            Looked::NotWithEcho => "  effusion where none looked",
            Looked::NotStated => "  effusion, looking not stated",
        };
        text.row(label, both(&line.effusions, share), "");
    }
    text.row(
        "Drained effusion",
        both(&effusion.drained, |drained| numerals::share(drained.count, drained.of, 2)),
        "",
    );
}

/// Abbreviations such as CT and ECG keep their capitals.
fn lower_first(label: &str) -> String {
    let mut letters = label.chars();
    match (letters.next(), letters.next()) {
        (Some(first), Some(second)) if second.is_lowercase() => {
            first.to_lowercase().chain(label.chars().skip(1)).collect()
        }
        _ => label.to_owned(),
    }
}

pub(super) fn dose_table(text: &mut Text, dose: &DoseComparison) {
    text.columns("DOSE, as intended", "ratio of means");
    text.row("No X-ray at all", both(&dose.no_x_ray, share), "");
    text.row("X-ray used: median (quartiles)", (String::new(), String::new()), "");
    dose_rows(text, "air kerma, mGy", &dose.air_kerma_mgy);
    dose_rows(text, "kerma-area product, Gy·cm²", &dose.kap_gy_cm2);
    let minutes = |value: f64| measured(value / 60.0);
    let time = both(&dose.fluoro_time_s, |spread| quartiles(spread, minutes));
    text.row("  fluoroscopy time, min", time, "");
    text.paragraph(
        "Ratios are of geometric means (zero-fluoroscopy / conventional) among cases with X-ray. Fluoroscopy time describes the work and is never a dose.",
    );
}

fn dose_rows(text: &mut Text, label: &str, dose: &DoseAmongExposed) {
    let ratio = match &dose.ratio_of_geometric_means {
        Estimate::Estimated(ratio) => {
            format!("{} ({} to {})", measured(ratio.estimate), measured(ratio.lower), measured(ratio.upper))
        }
        Estimate::CannotBeEstimated(_) => "not estimable".to_owned(),
    };
    text.row(&format!("  {label}"), both(&dose.arms, |spread| quartiles(spread, measured)), &ratio);
    let missing = |spread: &Spread| format!("{}/{}", count(spread.missing), count(spread.exposed));
    text.row("    not recorded", both(&dose.arms, missing), "");
}

fn quartiles(spread: &Spread, write: impl Fn(f64) -> String) -> String {
    spread.quartiles.map_or("none recorded".to_owned(), |q| {
        format!("{} ({} to {})", write(q.median), write(q.lower), write(q.upper))
    })
}

pub(super) fn centre_table(text: &mut Text, centres: &[CentreLine]) {
    text.heading("BY CENTRE, as intended (zero-fluoroscopy | conventional); not for publication");
    let line = |cells: [&str; 5]| {
        let row = format!("{:<8}{:>15}{:>26}{:>25}{:>20}", cells[0], cells[1], cells[2], cells[3], cells[4]);
        format!("{}\n", row.trim_end())
    };
    text.0.push_str(&line(["Centre", "cases", "acute success", "major, 30 days", "no X-ray"]));
    for centre in centres {
        let pair = |first: u32, second: u32| format!("{} | {}", count(first), count(second));
        let tallies = |arms: &ByArm<Tally>| {
            let (first, second) = both(arms, |tally| format!("{}/{}", tally.events, tally.known));
            format!("{first} | {second}")
        };
        let success = &centre.acute_success;
        text.0.push_str(&line([
            &centre.centre.to_string(),
            &pair(success.zero_fluoroscopy.cases, success.conventional.cases),
            &tallies(success),
            &tallies(&centre.major_within_30_days),
            &pair(centre.no_x_ray.zero_fluoroscopy, centre.no_x_ray.conventional),
        ]));
    }
}
