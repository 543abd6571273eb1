//! What a reader must be told, item by item: filled from the report, written by a person, or
//! missing. A report with a blocking item missing is a draft.

use super::facts::Facts;
use super::prose::{and, cases};
use super::{Report, provenance};
use crate::methods::interval::RatioInterval;
use crate::study::estimate::{Estimate, reason_in_words};
use crate::study::numerals;
use crate::study::plan::costs;
use crate::study::planned::PlannedResult;
use quietbeam_schema::vocabulary::{Coded, PrimaryMethod};
use serde::Serialize;
use std::collections::BTreeMap;

/// The items with where they stand.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Checklist {
    /// All 25, in order.
    pub items: Vec<Item>,
    /// Whether a blocking item is missing.
    pub standing: Standing,
}

/// Whether a report may be called final.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
#[serde(tag = "standing", rename_all = "snake_case")]
pub enum Standing {
    /// Blocking items are missing.
    Draft {
        /// Their numbers.
        missing: Vec<u8>,
    },
    /// None is.
    #[default]
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
#[serde(tag = "state", rename_all = "snake_case")]
pub enum State {
    /// Filled from the report and what the registry knows around it.
    FromReport {
        /// The sentence.
        text: String,
    },
    /// Written by a person.
    Written(Written),
    /// It does not apply.
    NotApplicable {
        /// Why not.
        text: String,
    },
    /// Nobody has written it, or nobody knows it.
    Missing,
}

/// What a person wrote.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Written {
    /// The text.
    pub text: String,
    /// Who wrote it.
    pub by: String,
    /// When, UTC.
    pub at: String,
}

/// The items that only a person can write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ByPerson {
    /// Why non-inferiority is asked.
    WhyNonInferiority,
    /// Whether the cases are like those in which conventional ablation was established.
    EstablishedPopulation,
    /// Bias, limits, for whom it holds.
    Limits,
    /// Funding, conflicts, ethics, access to data.
    Interests,
}

impl ByPerson {
    /// All of them, in the order of their numbers.
    pub const ALL: [Self; 4] =
        [Self::WhyNonInferiority, Self::EstablishedPopulation, Self::Limits, Self::Interests];

    /// Its number in the checklist.
    pub fn number(self) -> u8 {
        match self {
            Self::WhyNonInferiority => 3,
            Self::EstablishedPopulation => 6,
            Self::Limits => 22,
            Self::Interests => 23,
        }
    }

    /// The item of a number; `None` where the registry fills it.
    pub fn of_number(number: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|item| item.number() == number)
    }

    /// What it asks.
    pub fn asks(self) -> &'static str {
        ASKS[usize::from(self.number()) - 1].0
    }

    /// Whether a report without it stays a draft.
    pub fn is_blocking(self) -> bool {
        ASKS[usize::from(self.number()) - 1].1
    }
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
        Self { standing: standing(&items), items }
    }

    /// Puts in what people wrote; what nobody wrote, or somebody took back, is missing.
    pub fn write(&mut self, texts: &BTreeMap<ByPerson, Written>) {
        for item in &mut self.items {
            if let Some(asked) = ByPerson::of_number(item.number) {
                item.state = texts.get(&asked).cloned().map_or(State::Missing, State::Written);
            }
        }
        self.standing = standing(&self.items);
    }
}

fn standing(items: &[Item]) -> Standing {
    let missing = items.iter().filter(|item| item.blocking && item.state == State::Missing);
    let missing: Vec<u8> = missing.map(|item| item.number).collect();
    if missing.is_empty() { Standing::Final } else { Standing::Draft { missing } }
}

fn state(number: u8, report: &Report, facts: &Facts) -> State {
    let told = from_report(number, report).or_else(|| from_registry(number, report, facts));
    match told {
        Some(text) => State::FromReport { text },
        None if number == 25 => {
            State::NotApplicable { text: "No public version of this report has been made.".to_owned() }
        }
        None => State::Missing,
    }
}

/// The sentence of an item that the registry knows; nothing where it was not told.
fn from_registry(number: u8, report: &Report, facts: &Facts) -> Option<String> {
    let origin = facts.origin.as_ref();
    match number {
        2 => origin.map(|origin| provenance::source(report, origin)),
        17 => origin.map(|origin| provenance::plan(report, origin)),
        20 => facts.entry.as_ref().map(|entry| provenance::quality(report, entry)),
        24 => origin.map(provenance::computation),
        _ => None,
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
        8 => provenance::endpoints(report),
        9 => report.flow.in_words.clone(),
        10 => format!("{} {}", report.planned.always[0], report.planned.always[1]),
        11 => each(|endpoint| &endpoint.populations),
        12 => format!(
            "{} {}",
            each(|endpoint| &endpoint.estimate),
            report
                .planned
                .endpoints
                .iter()
                .map(|found| ratio_in_words(found, report.planned.plan.method()))
                .collect::<Vec<_>>()
                .join(" ")
        ),
        13 => each(|endpoint| &endpoint.crude),
        14 => missing(report),
        15 => report.who_was_treated.baseline_in_words.clone(),
        16 => numbers(report),
        18 => format!("{} {}", report.planned.always[2], lines.look),
        19 => report
            .driving
            .iter()
            .flat_map(|line| line.without.iter().map(|without| without.in_words.clone()))
            .collect::<Vec<_>>()
            .join(" "),
        21 => report.harms.in_words.clone(),
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
    let tipping =
        report.driving.iter().map(|line| format!("{}: {}", line.endpoint.label(), line.tipping.in_words));
    let tipping: Vec<String> = tipping.collect();
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

/// The relative effect as intended in a sentence: crude, and by the plan's method.
fn ratio_in_words(found: &PlannedResult, method: PrimaryMethod) -> String {
    let of = found.endpoint.unwanted_in_words();
    let said = |ratio: Estimate<RatioInterval>| match ratio {
        Estimate::Estimated(ratio) => numerals::ratio_with_level(&ratio),
        Estimate::CannotBeEstimated(why) => format!("cannot be estimated, because {}", reason_in_words(why)),
    };
    let intended = &found.as_intended;
    let (crude, planned) = (said(intended.crude.ratio.miettinen_nurminen), said(intended.ratio(method)));
    format!("Risk ratio of {of}: crude {crude}; by the planned method {planned}.")
}
