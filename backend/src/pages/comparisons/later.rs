//! What came after the procedure, and how long it took: recurrence after blanking and
//! skin-to-skin time.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::Arm;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::numerals::{count, measured, percent};
use quietbeam_analysis::study::report::{ArmTime, ProcedureTime, Recurrence, RecurrenceCurve};
use quietbeam_schema::vocabulary::Strategy;

use crate::pages::components::{Cell, Column, Table, arm_column};
use crate::pages::figures::{Drawings, Figure, RecurrenceCurves, RecurrenceLine};

/// The section.
pub(super) fn section(recurrence: &Recurrence, time: &ProcedureTime, number: usize) -> Markup {
    html! {
        section id="later" {
            h2 { "Does it come back, and how long does it take?" }
            (curves(recurrence, number))
            (minutes(time))
            p { (time.in_words) }
        }
    }
}

fn curves(found: &Recurrence, number: usize) -> Markup {
    let line = |strategy: Strategy, curve: &RecurrenceCurve| {
        curve.until.map(|until| RecurrenceLine {
            strategy,
            steps: curve.steps.iter().map(|step| (f64::from(step.day), step.recurred)).collect(),
            until: f64::from(until),
            label: at_end(curve),
            still: curve
                .still_followed
                .iter()
                .map(|still| (f64::from(still.day), count(still.cases)))
                .collect(),
        })
    };
    let lines = [
        line(Strategy::Conventional, &found.arms.conventional),
        line(Strategy::Zero, &found.arms.zero_fluoroscopy),
    ];
    let plot = RecurrenceCurves {
        days: (f64::from(found.blanking_days), f64::from(found.horizon)),
        lines: lines.into_iter().flatten().collect(),
    };
    let figure = Figure {
        id: "recurrence",
        lead: format!("Figure {number}."),
        caption: "First documented recurrence after blanking, in ablations for atrial fibrillation. Where fewer than a tenth are still followed nothing is drawn.".to_owned(),
        drawings: Drawings::of(|size| plot.draw(size)),
        in_words: found.in_words.clone(),
        numbers: numbers(found),
    };
    html! { (figure) }
}

/// The share with a recurrence where the curve ends.
fn at_end(curve: &RecurrenceCurve) -> String {
    match &curve.free_at_end {
        Estimate::Estimated(free) => format!(
            "{} ({} to {})",
            percent(1.0 - free.estimate, 1),
            percent(1.0 - free.upper, 1),
            percent(1.0 - free.lower, 1)
        ),
        Estimate::CannotBeEstimated(_) => "not estimable".to_owned(),
    }
}

fn numbers(found: &Recurrence) -> Table<3> {
    let row = |name: &str, of: fn(&RecurrenceCurve) -> String| {
        [
            Cell::text(name),
            Cell::text(of(&found.arms.zero_fluoroscopy)),
            Cell::text(of(&found.arms.conventional)),
        ]
    };
    let mut rows = vec![
        row("Ablations for atrial fibrillation", |curve| count(curve.cases)),
        row("Not followed until blanking ended", |curve| count(curve.not_followed)),
        row("Recurred within blanking", |curve| count(curve.early)),
        row("Followed from then on", |curve| count(curve.followed)),
        row("Of these, died without a recurrence", |curve| count(curve.died)),
        row("Recurrence where the curve ends", at_end),
    ];
    let still =
        found.arms.zero_fluoroscopy.still_followed.iter().zip(&found.arms.conventional.still_followed);
    rows.extend(still.map(|(zero, conventional)| {
        [
            Cell::text(format!("Still followed on day {}", zero.day)),
            Cell::text(count(zero.cases)),
            Cell::text(count(conventional.cases)),
        ]
    }));
    Table {
        caption: "Follow-up after blanking".to_owned(),
        columns: [Column::words("Cases"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows,
    }
}

fn minutes(found: &ProcedureTime) -> Table<3> {
    let spread = |arm: &ArmTime| match &arm.minutes {
        Some(minutes) => format!(
            "{} ({} to {})",
            measured(minutes.median),
            measured(minutes.lower),
            measured(minutes.upper)
        ),
        None => "not stated".to_owned(),
    };
    let arms = &found.arms;
    Table {
        caption: "Skin-to-skin time in minutes: median and quartiles".to_owned(),
        columns: [Column::words("Cases"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows: vec![
            [
                Cell::text("Minutes"),
                Cell::text(spread(&arms.zero_fluoroscopy)),
                Cell::text(spread(&arms.conventional)),
            ],
            [
                Cell::text("Not stated"),
                Cell::text(count(arms.zero_fluoroscopy.missing)),
                Cell::text(count(arms.conventional.missing)),
            ],
        ],
    }
}
