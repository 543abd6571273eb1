//! Who was compared: from every ablation performed to the arms, with every loss.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::Arm;
use quietbeam_analysis::study::numerals::{count, share};
use quietbeam_analysis::study::planned::LeftOutCount;
use quietbeam_analysis::study::report::{ArmFlow, Flow as Counted};

use crate::pages::components::{Cell, Column, Table, arm_column};
use crate::pages::figures::{Drawings, Figure, Flow, FlowArm, FlowStep, Size};

/// The figure of the flow.
pub(super) fn flow(counted: &Counted, number: usize) -> Markup {
    let flow =
        Flow { steps: steps(counted), arms: Arm::BOTH.map(|of| arm(counted, of)), desk: Size::Wide.width() };
    let figure = Figure {
        id: "flow",
        lead: format!("Figure {number}."),
        caption: "From every ablation performed to the cases analysed. Cross-overs stay in the arm that was intended.".to_owned(),
        drawings: Drawings::of(|size| flow.draw(size)),
        in_words: counted.in_words.clone(),
        numbers: numbers(counted),
    };
    html! { (figure) }
}

/// The steps; without a screening log they begin in the cut.
fn steps(counted: &Counted) -> Vec<FlowStep> {
    let mut steps = Vec::new();
    let reasons: Vec<String> = counted.not_sent_because.iter().map(|reason| reason.words()).collect();
    if counted.performed > 0 {
        let because =
            (!reasons.is_empty()).then(|| format!("with those not sent in: {}", reasons.join(" · ")));
        steps.push(step(
            "Ablations performed",
            counted.performed,
            lost("Not eligible", counted.not_eligible, because.into_iter().collect()),
        ));
        steps.push(step(
            "Eligible for the registry",
            counted.eligible,
            lost("Eligible, not sent in", counted.not_submitted, Vec::new()),
        ));
        steps.push(step("Sent in, by the screening logs", counted.submitted, unlike(counted)));
    }
    let left = counted.left_out.iter().map(LeftOutCount::in_words);
    let near = (counted.near_zero > 0)
        .then(|| format!("{} intended as near-zero, a group of their own", count(counted.near_zero)));
    let why: Vec<String> = left.chain(near).collect();
    steps.push(step(
        "In the data cut",
        counted.in_cut,
        lost("In the cut, not analysed", counted.in_cut - counted.analysed, why),
    ));
    steps.push(step("Analysed", counted.analysed, Vec::new()));
    steps
}

fn step(name: &str, cases: u32, lost: Vec<String>) -> FlowStep {
    FlowStep { name: name.to_owned(), cases: count(cases), lost }
}

fn lost(what: &str, number: u32, why: Vec<String>) -> Vec<String> {
    if number == 0 {
        return Vec::new();
    }
    [format!("{what}: {}", count(number))].into_iter().chain(why).collect()
}

/// Where the logs and the cut do not say the same.
fn unlike(counted: &Counted) -> Vec<String> {
    let lines = [
        (counted.not_in_cut, "less: sent in by the logs, not in the cut"),
        (counted.beyond_log, "more: in the cut beyond the logs"),
        (counted.without_log, "more: from quarters without a log"),
    ];
    let lines = lines.into_iter().filter(|(number, _)| *number > 0);
    let mut said: Vec<String> = lines.map(|(number, why)| format!("{why}: {}", count(number))).collect();
    if !said.is_empty() {
        said.insert(0, "Logs and cut differ".to_owned());
    }
    said
}

fn lines(arm: Arm, flow: &ArmFlow) -> Vec<(String, String, bool)> {
    let crossed = match arm {
        Arm::ZeroFluoroscopy => "less: X-ray used after all (cross-over)",
        Arm::Conventional => "less: no X-ray used (cross-over)",
    };
    let of = |known: u32| share(known, flow.as_intended, 1);
    vec![
        ("As intended (primary)".to_owned(), count(flow.as_intended), false),
        (crossed.to_owned(), of(flow.crossed_over), true),
        ("Per protocol".to_owned(), count(flow.per_protocol), false),
        ("Declared beforehand".to_owned(), of(flow.declared_before), false),
        ("Acute result known".to_owned(), of(flow.acute_result.known), false),
        ("30-day status known".to_owned(), of(flow.status_30_days_known), false),
    ]
}

fn arm(counted: &Counted, arm: Arm) -> FlowArm {
    FlowArm::new(arm, lines(arm, counted.arms.of(arm)))
}

fn numbers(counted: &Counted) -> Table<3> {
    let zero = lines(Arm::ZeroFluoroscopy, &counted.arms.zero_fluoroscopy);
    let conventional = lines(Arm::Conventional, &counted.arms.conventional);
    let rows = zero.iter().zip(&conventional).map(|((name, zero, less), (_, conventional, _))| {
        let name = if *less { "Crossed over" } else { name };
        [Cell::text(name), Cell::text(zero), Cell::text(conventional)]
    });
    Table {
        caption: "Cases of each arm".to_owned(),
        columns: [Column::words("Cases"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows: rows.collect(),
    }
}
