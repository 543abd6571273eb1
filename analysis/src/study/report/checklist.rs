//! What a reader must be told, item by item: filled from the report, written by a person, or
//! missing. A report with a blocking item missing is a draft.

use super::Report;
use super::facts::Facts;
use super::prose::{and, cases};
use crate::study::numerals;
use crate::study::plan::costs;
use quietbeam_schema::vocabulary::Coded;
use serde::Serialize;

/// The items with where they stand.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Checklist {
    /// All 25, in order.
    pub items: Vec<Item>,
    /// Whether a blocking item is missing.
    pub standing: Standing,
}

/// Whether a report may be called final.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "standing", rename_all = "snake_case")]
pub enum Standing {
    /// Blocking items are missing.
    Draft {
        /// Their numbers.
        missing: Vec<u8>,
    },
    /// None is.
    Final,
}

/// One item.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// Its number, from 1.
    pub number: u8,
    /// What it asks.
    pub asks: &'static str,
    /// Whether a report without it stays a draft.
    pub blocking: bool,
    /// Where it stands.
    #[serde(flatten)]
    pub state: State,
}

/// Where an item stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "state", content = "text", rename_all = "snake_case")]
pub enum State {
    /// Filled from the report, with the sentence.
    FromReport(String),
    /// Written by a person, or told by the registry.
    Written(String),
    /// It does not apply, and why.
    NotApplicable(String),
    /// Nobody has written it.
    Missing,
}

/// What each item asks, and whether it blocks. Composed from guidance on reporting non-inferiority
/// and observational studies; the numbers are this registry's own.
const ASKS: [(&str, bool); 25] = [
    ("The title says non-inferiority and that it is a registry without randomisation", true),
    ("Source of the data: centres, period, cut and version of the form", true),
    ("Why non-inferiority rather than superiority is asked", false),
    ("The hypothesis with margin, scale and direction", true),
    ("Why this margin, and from where", true),
    ("Eligibility beside the population that established conventional ablation", false),
    ("What counts as zero-fluoroscopy, when it was declared, and what a cross-over is", true),
    ("The endpoints with their windows, and who judged them", true),
    ("From performed to analysed, by arm", true),
    ("What is estimated, and what is done with cross-over, death and loss", true),
    ("Both populations with denominators, and whether they agree", true),
    ("Absolute and relative effect with intervals and margin", true),
    ("Crude and adjusted estimates side by side", true),
    ("Missing data and follow-up by arm, with a worst case", true),
    ("The arms before the procedure with standardised differences", true),
    ("Planned numbers beside those reached", true),
    ("The plan: identity, time of registration, amendments", true),
    ("Order of testing and number of looks", true),
    ("Without learning, without each centre, tipping point", false),
    ("Quality of the data: completeness, delay, open queries, signed, verified, consecutive", true),
    ("All classes of harm, not only favourable ones", true),
    ("Sources of bias, limits, for whom it holds", false),
    ("Funding, conflicts, ethics approval, access to data", true),
    ("Version of the software and identity of the computation", true),
    ("Disclosure check of any public version", true),
];

impl Checklist {
    pub(super) fn new(report: &Report, facts: &Facts) -> Self {
        let items: Vec<Item> = (1_u8..)
            .zip(ASKS)
            .map(|(number, (asks, blocking))| Item {
                number,
                asks,
                blocking,
                state: state(number, report, facts),
            })
            .collect();
        let missing: Vec<u8> = items
            .iter()
            .filter(|item| item.blocking && item.state == State::Missing)
            .map(|item| item.number)
            .collect();
        let standing = if missing.is_empty() { Standing::Final } else { Standing::Draft { missing } };
        Self { items, standing }
    }
}

fn state(number: u8, report: &Report, facts: &Facts) -> State {
    if let Some(told) = from_report(number, report) {
        return State::FromReport(told);
    }
    match facts.texts.get(&number).map(|text| text.trim()).filter(|text| !text.is_empty()) {
        Some(text) => State::Written(text.to_owned()),
        None if number == 25 => State::NotApplicable("No public version has been made.".to_owned()),
        None => State::Missing,
    }
}

/// The sentence of an item that the report itself answers. What only a person or the registry
/// knows is not among them.
fn from_report(number: u8, report: &Report) -> Option<String> {
    let lines = &report.first_lines;
    let each =
        |of: fn(&super::EndpointLines) -> &str| lines.endpoints.iter().map(of).collect::<Vec<_>>().join(" ");
    Some(match number {
        1 => format!("{}. {}", lines.title, lines.design),
        4 => each(|endpoint| &endpoint.question),
        5 => margins(report),
        7 => "The strategy declared before the case defines the arm; X-ray switched on in a case intended without it is a cross-over and stays in its arm.".to_owned(),
        9 => report.flow.in_words.clone(),
        10 => format!("{} {}", report.planned.always[0], report.planned.always[1]),
        11 => each(|endpoint| &endpoint.populations),
        12 => format!(
            "{} {}",
            each(|endpoint| &endpoint.estimate),
            report
                .driving
                .iter()
                .map(|line| line.unrecorded.ratio_in_words(line.endpoint))
                .collect::<Vec<_>>()
                .join(" ")
        ),
        13 => each(|endpoint| &endpoint.crude),
        14 => missing(report),
        15 => report.who_was_treated.baseline_in_words.clone(),
        16 => numbers(report),
        18 => format!("{} This is look {}.", report.planned.always[2], lines.look),
        19 => report
            .driving
            .iter()
            .flat_map(|line| line.without.iter().map(|without| without.in_words.clone()))
            .collect::<Vec<_>>()
            .join(" "),
        _ => return None,
    })
}

fn margins(report: &Report) -> String {
    let told = report.planned.plan.endpoints().iter();
    told.map(|planned| format!("{} Source: {}.", planned.reason, planned.source.trim_end_matches('.')))
        .collect::<Vec<_>>()
        .join(" ")
}

fn missing(report: &Report) -> String {
    let arms = report.flow.arms;
    let known = arms.each().map(|(arm, flow)| {
        let share = numerals::share(flow.status_30_days_known, flow.as_intended, 1);
        format!("{share} in the {} arm", arm.name())
    });
    let tipping: Vec<String> = report.driving.iter().map(|line| line.tipping.in_words.clone()).collect();
    format!("The 30-day status is known of {}. {}", and(&known), tipping.join(" "))
}

fn numbers(report: &Report) -> String {
    let arms = report.planned.cases.as_intended;
    let planned = costs(&report.planned.plan).into_iter().filter_map(|cost| {
        let power = 100.0 * cost.power;
        Some(format!(
            "{} in each arm for {} at {power:.0} % power",
            cases(cost.each_arm?),
            cost.endpoint.label().to_lowercase()
        ))
    });
    format!(
        "Planned, {}; reached, {} and {}. Method: {}.",
        and(&planned.collect::<Vec<_>>()),
        numerals::count(arms.zero_fluoroscopy),
        numerals::count(arms.conventional),
        report.planned.plan.method().label()
    )
}
