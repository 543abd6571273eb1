//! The cases of a published comparison, from all of them to those of both arms that went as intended.

use maud::{Markup, Render};
use quietbeam_analysis::study::arm::Arm;
use quietbeam_analysis::study::published::Published;
use quietbeam_analysis::study::summary::{PublishedArm, PublishedFlow};

use super::{Cell, Column, Table, arm_column};
use crate::pages::figures::{BESIDE_A_MARGIN, Drawings, Figure, Flow, FlowArm, FlowStep};

/// The figure.
pub(super) fn figure(flow: &PublishedFlow) -> Markup {
    let arms = Arm::BOTH.map(|arm| box_of(arm, *flow.arms.of(arm)));
    let drawn = Flow { steps: steps(flow), arms, desk: BESIDE_A_MARGIN };
    let figure = Figure {
        id: "cases-compared",
        lead: "Cases compared.".to_owned(),
        caption: "Who crossed over stays in the arm that was intended.".to_owned(),
        drawings: Drawings::of(|size| drawn.draw(size)),
        in_words: flow.in_words(),
        numbers: numbers(flow),
    };
    figure.render()
}

fn steps(flow: &PublishedFlow) -> Vec<FlowStep> {
    let step = |name: &str, cases: Published, lost: Vec<String>| FlowStep {
        name: name.to_owned(),
        cases: cases.to_string(),
        lost,
    };
    let eligible = flow.eligible.map(|of| {
        let lost =
            [("Not sent in", of.not_sent_in), ("More, from quarters without a signed log", of.without_log)];
        let lost = lost.map(|(what, count)| format!("{what}: {count}"));
        step("Eligible, by signed logs", of.eligible, lost.to_vec())
    });
    let neither = vec![format!("In neither arm: {}", flow.in_neither_arm)];
    eligible.into_iter().chain([step("Cases", flow.cases, neither)]).collect()
}

fn lines(arm: Arm, of: PublishedArm) -> [(&'static str, Published); 3] {
    let crossed = match arm {
        Arm::ZeroFluoroscopy => "less: X-ray used after all",
        Arm::Conventional => "less: no X-ray used",
    };
    [("As intended", of.as_intended), (crossed, of.crossed_over), ("Per protocol", of.per_protocol)]
}

fn box_of(arm: Arm, of: PublishedArm) -> FlowArm {
    let line =
        |(name, count): (&str, Published)| (name.to_owned(), count.to_string(), name.starts_with("less"));
    FlowArm::new(arm, lines(arm, of).map(line).to_vec())
}

fn numbers(flow: &PublishedFlow) -> Table<3> {
    let cell = |count: Published| match count {
        Published::Shown(_) => Cell::text(count.to_string()),
        Published::Hidden => Cell::NotShown,
    };
    let [zero, conventional] = Arm::BOTH.map(|arm| lines(arm, *flow.arms.of(arm)).map(|(_, count)| count));
    let names = ["As intended", "Crossed over", "Per protocol"].into_iter();
    let rows = names.zip(zero.into_iter().zip(conventional));
    Table {
        caption: "Cases of each arm".to_owned(),
        columns: [Column::words("Cases"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows: rows.map(|(name, (zero, other))| [Cell::text(name), cell(zero), cell(other)]).collect(),
    }
}
