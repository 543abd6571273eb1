//! What was shown and what was not, in plain words, before any number asks to be interpreted.

use super::facts::{Before, Facts};
use super::flow::Flow;
use super::prose::{and, capital, cases, decimals, things, told};
use super::{ReportCase, Seen};
use crate::distinct::distinct;
use crate::study::arm::{Arm, ByArm};
use crate::study::decision::{Decision, Reason};
use crate::study::effect::Effect;
use crate::study::endpoint::Endpoint;
use crate::study::estimate::Estimate;
use crate::study::numerals;
use crate::study::plan::{AnalysisPlan, costs};
use crate::study::planned::{PlannedComparison, PlannedResult};
use crate::study::population::Population;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::value::{FieldValue, OperatorCode};
use quietbeam_schema::vocabulary::PrimaryMethod;
use serde::Serialize;

/// What no adjustment answers for.
const NOT_RECORDED: &str =
    "No adjustment answers for what was not recorded, such as how hard a case looked beforehand.";

/// The power of the plan whose cases the arms are held against.
const PLANNED_POWER: f64 = 0.8;

/// The head of a report.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FirstLines {
    /// Says what was compared, where and when.
    pub title: String,
    /// Says that it is a comparison in a registry and that nobody was randomised.
    pub design: &'static str,
    /// Whether nobody can have looked at the cases before the plan was fixed.
    pub fully_prespecified: bool,
    /// What was known before the plan was registered, in words.
    pub registered: String,
    /// Which look this is, and what it may spend, in words.
    pub look: String,
    /// Each planned endpoint in the plan's order.
    pub endpoints: Vec<EndpointLines>,
    /// What to keep in mind, whatever was found, and what weakens this comparison.
    pub cautions: Vec<String>,
}

/// An endpoint in plain words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EndpointLines {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// What the plan asked.
    pub question: String,
    /// The answer in a few words.
    pub answer: String,
    /// The answer in a sentence.
    pub claim: String,
    /// The planned estimate, or why there is none.
    pub estimate: String,
    /// What both populations say.
    pub populations: String,
    /// The crude difference beside the planned one.
    pub crude: String,
    /// What the endpoint means, and until when it counts.
    pub definition: String,
    /// What was not tested.
    pub not_tested: &'static str,
}

/// What the cases alone have to say in the first lines: read beside the comparison.
pub(super) struct OfCases {
    title: String,
    one_operator: Vec<String>,
}

impl OfCases {
    pub(super) fn new(seen: &Seen<'_>) -> Self {
        Self { title: title(seen), one_operator: one_operator(seen) }
    }
}

impl FirstLines {
    pub(super) fn new(of_cases: OfCases, planned: &PlannedComparison, flow: &Flow, facts: &Facts) -> Self {
        let endpoints = planned.endpoints.iter().enumerate();
        Self {
            title: of_cases.title,
            design: "A non-inferiority comparison in a registry. Patients were not randomised.",
            fully_prespecified: facts.before.is_nothing(),
            registered: registered(facts.before),
            look: planned.look.in_words.clone(),
            endpoints: endpoints
                .map(|(place, result)| EndpointLines::new(place, result, &planned.plan))
                .collect(),
            cautions: cautions(of_cases.one_operator, planned, flow),
        }
    }
}

fn title(seen: &Seen<'_>) -> String {
    let centres = distinct(seen.kept().map(|case| case.row.centre));
    let years = distinct(seen.kept().map(|case| case.row.period.year()));
    let when = match (years.first(), years.last()) {
        (Some(first), Some(last)) if first == last => format!(", {first}"),
        (Some(first), Some(last)) => format!(", {first} to {last}"),
        _ => String::new(),
    };
    let centres = things(centres.len(), "centre", "centres");
    format!("Zero-fluoroscopy against conventional ablation in {centres}{when}")
}

fn registered(before: Before) -> String {
    if before.is_nothing() {
        return "The plan was registered before any case in its scope was entered and before any outcome was opened.".to_owned();
    }
    let mut known = Vec::new();
    if before.cases > 0 {
        known.push(format!("{} in its scope had been entered", cases(before.cases)));
    }
    if before.views > 0 {
        let times = if before.views == 1 { "once".to_owned() } else { format!("{} times", before.views) };
        known.push(format!("outcomes by arm had been opened {times}"));
    }
    if before.cut_taken {
        known.push("the data cut had been taken".to_owned());
    }
    format!("Not fully specified beforehand: when the plan was registered, {}.", and(&known))
}

impl EndpointLines {
    fn new(place: usize, result: &PlannedResult, plan: &AnalysisPlan) -> Self {
        let scale = result.margin.scale();
        let found = result.as_intended.effect(plan.method(), scale);
        Self {
            endpoint: result.endpoint,
            question: question(place, result),
            answer: answer(result.claim).to_owned(),
            claim: result.claim_in_words.clone(),
            estimate: estimate(result, &found, plan),
            populations: populations(result),
            crude: crude(result.endpoint, &found, &result.as_intended.crude.crude_effect(scale)),
            definition: result.endpoint.definition().in_words(),
            not_tested: "Superiority was not tested.",
        }
    }
}

fn question(place: usize, result: &PlannedResult) -> String {
    let (what, verb) = result.margin.subject(result.endpoint);
    let rank = if place == 0 { "Primary question" } else { "Next question" };
    format!(
        "{rank}: {verb} {what} less than {} with zero-fluoroscopy?",
        result.margin.amount(result.endpoint)
    )
}

fn answer(claim: Decision) -> &'static str {
    match claim {
        Decision::Shown => "Shown: non-inferior by the planned margin",
        Decision::NotShown => "Not shown. This is no proof of the contrary",
        Decision::WorseBeyondTheMargin => "Worse beyond the planned margin",
        Decision::CannotConclude { .. } => "Cannot be concluded",
    }
}

fn estimate(result: &PlannedResult, found: &Effect, plan: &AnalysisPlan) -> String {
    let endpoint = result.endpoint;
    let (what, verb) = result.margin.subject(endpoint);
    let were = if verb == "are" { "were" } else { "was" };
    let how = match plan.method() {
        PrimaryMethod::Standardised | PrimaryMethod::OverlapWeighted => "after adjustment".to_owned(),
        PrimaryMethod::WithinCentres => plan.within_strata(),
    };
    match found {
        Effect::Difference(Estimate::Estimated(_)) => {
            format!("With zero-fluoroscopy intended, {what} {were} {} {how}.", told(found, endpoint))
        }
        Effect::Ratio(Estimate::Estimated(ratio)) => format!(
            "With zero-fluoroscopy intended, {what} {were} {} times as frequent {how}.",
            numerals::ratio_with_level(ratio)
        ),
        Effect::Difference(_) => format!("The planned difference {}.", told(found, endpoint)),
        Effect::Ratio(_) => format!("The planned ratio {}.", told(found, endpoint)),
    }
}

fn populations(result: &PlannedResult) -> String {
    let (first, second) = (result.as_intended.decision, result.per_protocol.decision);
    if let Decision::CannotConclude { reason: Reason::NotTested { .. } } = result.claim {
        return "It was not tested, so its numbers are a description.".to_owned();
    }
    if result.populations_agree {
        return format!("As intended and per protocol agree: {}.", first.label());
    }
    format!(
        "The two populations disagree (as intended: {}; per protocol: {}), so no more is claimed.",
        first.label(),
        second.label()
    )
}

/// Which way the crude effect leans from the planned one.
fn crude(endpoint: Endpoint, found: &Effect, crude: &Effect) -> String {
    let what = match crude {
        Effect::Difference(_) => "The crude difference",
        Effect::Ratio(_) => "The crude ratio",
    };
    let said = match crude {
        Effect::Ratio(Estimate::Estimated(ratio)) => {
            format!("{what} was {}", numerals::ratio_with_level(ratio))
        }
        Effect::Difference(Estimate::Estimated(_)) => format!("{what} was {}", told(crude, endpoint)),
        Effect::Difference(_) | Effect::Ratio(_) => return format!("{what} {}.", told(crude, endpoint)),
    };
    let Some((crude, planned)) = crude.drawn().zip(found.drawn()) else { return format!("{said}.") };
    let higher = crude.estimate - planned.estimate;
    let (better, told_apart) = match found {
        // Half of the last digit that is told.
        Effect::Difference(_) => {
            let better = if endpoint.is_harm() { -higher } else { higher };
            (better, 0.5 * 0.1_f64.powi(decimals(endpoint) as i32 + 2))
        }
        Effect::Ratio(_) => (-higher, 0.005),
    };
    if better.abs() < told_apart {
        format!("{said}, the same as planned.")
    } else if better > 0.0 {
        format!("{said}; it flatters zero-fluoroscopy.")
    } else {
        format!("{said}; it flatters conventional fluoroscopy.")
    }
}

fn cautions(one_operator: Vec<String>, planned: &PlannedComparison, flow: &Flow) -> Vec<String> {
    let mut said: Vec<String> = planned.cautions.iter().map(|caution| (*caution).to_owned()).collect();
    said.push(NOT_RECORDED.to_owned());
    said.extend(planned.warnings.iter().map(ToString::to_string));
    said.extend(one_operator);
    said.extend(flow.centres.iter().filter(|centre| centre.is_incomplete()).map(|centre| {
        format!(
            "Centre {} sent in {} of its {} eligible ablations: perhaps not the hard ones.",
            centre.centre,
            numerals::count(centre.submitted),
            numerals::count(centre.eligible)
        )
    }));
    said.extend(too_few(planned));
    said
}

/// More than half of an arm from one operator.
fn one_operator(seen: &Seen<'_>) -> Vec<String> {
    let operator = |case: &ReportCase| Some((case.row.centre, case.course.operator?));
    let operators = distinct(seen.kept().filter_map(operator));
    let mut counts = vec![ByArm::<u32>::default(); operators.len()];
    let mut sizes = ByArm::<u32>::default();
    for case in seen.kept() {
        let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
        *sizes.of_mut(arm) += 1;
        let place = operator(case).and_then(|operator| operators.binary_search(&operator).ok());
        if let Some(place) = place {
            *counts[place].of_mut(arm) += 1;
        }
    }
    let told = |arm: Arm, ((centre, operator), arms): (&(CentreCode, OperatorCode), &ByArm<u32>)| {
        let (own, of) = (*arms.of(arm), *sizes.of(arm));
        (2 * own > of).then(|| {
            format!(
                "Operator {} of centre {centre} did {} of the {} cases of the {} arm: strategy and operator can hardly be told apart.",
                operator.text(),
                numerals::count(own),
                numerals::count(of),
                arm.name()
            )
        })
    };
    Arm::BOTH
        .into_iter()
        .flat_map(|arm| {
            operators.iter().zip(&counts).filter_map(move |line| told(arm, line)).collect::<Vec<_>>()
        })
        .collect()
}

/// Arms smaller than the plan's own number for its power.
fn too_few(planned: &PlannedComparison) -> Vec<String> {
    let needed = costs(&planned.plan).into_iter().filter(|cost| cost.power == PLANNED_POWER);
    let short = needed.filter_map(|cost| Some((cost.endpoint, cost.each_arm?)));
    let told = short.filter_map(|(endpoint, each_arm)| {
        let smaller = planned.cases.as_intended.zero_fluoroscopy.min(planned.cases.as_intended.conventional);
        (smaller < each_arm).then(|| {
            format!(
                "{} asks for {} in each arm to be shown with {:.0} % power; the smaller arm has {}.",
                capital(&endpoint.label().to_lowercase()),
                cases(each_arm),
                100.0 * PLANNED_POWER,
                numerals::count(smaller)
            )
        })
    });
    told.collect()
}
