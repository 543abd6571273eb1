//! Who was compared: from the cases of the cut to the arms, with every loss.

use std::sync::Arc;

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, share};
use quietbeam_analysis::study::planned::PlannedComparison;
use quietbeam_analysis::study::population::{Arm, ByArm};
use quietbeam_schema::vocabulary::Strategy;

use super::found::arm_column;
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{Drawings, Figure, Flow, FlowArm, FlowStep};
use crate::registry::reports::Report;

/// The figure of the flow.
pub(super) fn flow(report: &Arc<Report>, found: &PlannedComparison) -> Markup {
    let cases = &found.cases;
    let compared = cases.as_intended.zero_fluoroscopy + cases.as_intended.conventional;
    let left: Vec<String> = cases
        .left_out
        .iter()
        .map(|line| format!("{} {}", count(line.cases), line.reason.in_words()))
        .chain(
            (cases.near_zero > 0)
                .then(|| format!("{} intended as near-zero, a group of their own", count(cases.near_zero))),
        )
        .collect();
    let mut lost = Vec::new();
    if !left.is_empty() {
        lost.push(format!("Not compared: {}", count(cases.in_cohort - compared)));
        lost.extend(left.clone());
    }
    let flow = Flow {
        steps: vec![
            FlowStep { name: format!("Cases in {}", report.cut.name), cases: cases.in_cohort, lost },
            FlowStep { name: "Compared".to_owned(), cases: compared, lost: Vec::new() },
        ],
        arms: [arm(found, Arm::ZeroFluoroscopy), arm(found, Arm::Conventional)],
    };
    let said = format!(
        "of {} cases in the cut {} are compared, {} intended without fluoroscopy and {} conventional; cross-overs stay in the arm that was intended",
        count(cases.in_cohort),
        count(compared),
        count(cases.as_intended.zero_fluoroscopy),
        count(cases.as_intended.conventional),
    );
    let figure = Figure {
        id: "flow",
        lead: "Flow.".to_owned(),
        caption: "From the frozen cases to the arms. Cross-overs stay in the arm that was intended."
            .to_owned(),
        drawings: Drawings::of(|size| flow.draw(size)),
        in_words: format!("{said}."),
        numbers: numbers(found),
    };
    html! { (figure) }
}

fn crossed(found: &PlannedComparison, arm: Arm) -> (u32, u32, &'static str) {
    let crossed = &found.exploratory.cross_over;
    match arm {
        Arm::ZeroFluoroscopy => {
            (crossed.to_x_ray.count, crossed.to_x_ray.of, "less: X-ray used after all (cross-over)")
        }
        Arm::Conventional => {
            (crossed.to_no_x_ray.count, crossed.to_no_x_ray.of, "less: no X-ray used after all (cross-over)")
        }
    }
}

fn arm(found: &PlannedComparison, arm: Arm) -> FlowArm {
    let (crossed, of, why) = crossed(found, arm);
    let whole = |cases: &ByArm<u32>| count(*cases.of(arm));
    let known = found.endpoints.iter().map(|result| {
        let tally = &result.as_intended.crude.arms.of(arm).tally;
        (format!("{} known", result.endpoint.label()), share(tally.known, tally.cases, 1), false)
    });
    let mut lines = vec![
        ("As intended".to_owned(), whole(&found.cases.as_intended), false),
        (why.to_owned(), share(crossed, of, 1), true),
        ("Per protocol".to_owned(), whole(&found.cases.per_protocol), false),
        ("Declared before the procedure".to_owned(), whole(&found.cases.declared_before), false),
    ];
    lines.extend(known);
    let (strategy, name) = match arm {
        Arm::ZeroFluoroscopy => (Strategy::Zero, "Zero-fluoroscopy intended"),
        Arm::Conventional => (Strategy::Conventional, "Conventional intended"),
    };
    FlowArm { strategy, name: name.to_owned(), lines }
}

fn numbers(found: &PlannedComparison) -> Table<3> {
    let arms = [arm(found, Arm::ZeroFluoroscopy), arm(found, Arm::Conventional)];
    let rows = arms[0].lines.iter().zip(&arms[1].lines).map(|((name, zero, _), (other, conventional, _))| {
        let name = if name == other { name.clone() } else { "Crossed over".to_owned() };
        [Cell::text(name), Cell::text(zero), Cell::text(conventional)]
    });
    Table {
        caption: "Cases of each arm".to_owned(),
        columns: [Column::words(""), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows: rows.collect(),
    }
}
