//! Who was treated: what was known beforehand in each arm, and how alike weighting makes them.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::{Arm, ByArm};
use quietbeam_analysis::study::numerals::{count, measured, percent};
use quietbeam_analysis::study::report::{
    ArmLevel, ArmNumbers, BaselineLine, LearningBand, Spread, UNLIKE, WhoWasTreated,
};

use super::found::share;
use crate::pages::components::{Cell, Column, Table, arm_column, as_blocks};
use crate::pages::figures::{BalancePlot, BalanceRow, Drawings, Figure, OverlapPicture};

/// The section.
pub(super) fn section(treated: &WhoWasTreated, number: usize) -> Markup {
    html! {
        section id="treated" {
            h2 { "Who was treated" }
            (baseline(treated))
            (balance(treated, number))
            (overlap(treated, number + 1))
            (learning(treated))
            (as_blocks(&quarters(treated)))
        }
    }
}

fn apart(size: Option<f64>) -> String {
    size.map_or("–".to_owned(), |size| format!("{size:.2}"))
}

fn baseline(treated: &WhoWasTreated) -> Table<5> {
    let mut rows = Vec::new();
    for line in &treated.baseline {
        rows.push(head(line));
        if let Spread::Levels(levels) = &line.spread {
            rows.extend(levels.iter().map(|level| {
                let of = |level: &ArmLevel| match level.share {
                    Some(share) => format!("{} ({})", count(level.cases), percent(share, 1)),
                    None => count(level.cases),
                };
                [
                    Cell::shown(html! { span.level { (level.label) } }),
                    Cell::text(of(&level.arms.zero_fluoroscopy)),
                    Cell::text(of(&level.arms.conventional)),
                    Cell::text(apart(level.balance.before.estimated().map(|size| size.abs()))),
                    Cell::text(apart(level.balance.after.estimated().map(|size| size.abs()))),
                ]
            }));
        }
        let missing = &line.missing;
        if missing.zero_fluoroscopy + missing.conventional > 0 {
            rows.push([
                Cell::shown(html! { span.level.quiet { "not recorded" } }),
                Cell::text(count(missing.zero_fluoroscopy)),
                Cell::text(count(missing.conventional)),
                Cell::text(""),
                Cell::text(""),
            ]);
        }
    }
    Table {
        caption: "What was known before the procedure, as intended".to_owned(),
        columns: [
            Column::words("Variable"),
            arm_column(Arm::ZeroFluoroscopy),
            arm_column(Arm::Conventional),
            Column::numbers("Apart, before"),
            Column::numbers("after weighting"),
        ],
        rows,
    }
}

fn head(line: &BaselineLine) -> [Cell; 5] {
    let numbers = |arm: fn(&ByArm<ArmNumbers>) -> &ArmNumbers| match &line.spread {
        Spread::Numbers { arms, .. } => in_numbers(arm(arms)),
        Spread::Levels(_) => String::new(),
    };
    let unlike = line.largest_before.is_some_and(|size| size > UNLIKE);
    let before = apart(line.largest_before);
    [
        Cell::shown(html! { b { (line.label) } @if line.planned { span.quiet { ", in the plan" } } }),
        Cell::text(numbers(|arms| &arms.zero_fluoroscopy)),
        Cell::text(numbers(|arms| &arms.conventional)),
        Cell::shown(html! { @if unlike { b { (before) } } @else { (before) } }),
        Cell::text(apart(line.largest_after)),
    ]
}

fn in_numbers(arm: &ArmNumbers) -> String {
    match (arm.mean, arm.standard_deviation, &arm.quartiles) {
        (Some(mean), Some(spread), Some(quartiles)) => format!(
            "{} ± {} ({}, {} to {})",
            measured(mean),
            measured(spread),
            measured(quartiles.median),
            measured(quartiles.lower),
            measured(quartiles.upper)
        ),
        (Some(mean), ..) => measured(mean),
        _ => "not recorded".to_owned(),
    }
}

fn balance(treated: &WhoWasTreated, number: usize) -> Markup {
    let row = |line: &BaselineLine| BalanceRow {
        name: line.label.to_owned(),
        before: line.largest_before,
        after: line.largest_after,
    };
    let plot = BalancePlot { rows: treated.baseline.iter().map(row).collect(), alike: UNLIKE };
    let numbers = Table {
        caption: "Standardised differences, the largest of each variable".to_owned(),
        columns: [Column::words("Variable"), Column::numbers("Before"), Column::numbers("After weighting")],
        rows: treated
            .baseline
            .iter()
            .map(|line| {
                [
                    Cell::text(line.label),
                    Cell::text(apart(line.largest_before)),
                    Cell::text(apart(line.largest_after)),
                ]
            })
            .collect(),
    };
    let figure = Figure {
        id: "balance",
        lead: format!("Figure {number}."),
        caption: "How alike the arms are: a cross before, a dot after overlap weighting.".to_owned(),
        drawings: Drawings::of(|size| plot.draw(size)),
        in_words: treated.baseline_in_words.clone(),
        numbers,
    };
    html! { (figure) }
}

/// How many figures the section has.
pub(super) fn figures(treated: &WhoWasTreated) -> usize {
    1 + usize::from(treated.overlap.estimated().is_some())
}

fn overlap(treated: &WhoWasTreated, number: usize) -> Markup {
    let Some(found) = treated.overlap.estimated() else {
        return html! { p { (treated.overlap_in_words) } };
    };
    let [zero, conventional] = [&found.first, &found.second].map(|arm| arm.by_class.to_vec());
    let step = 100 / zero.len().max(1);
    let row = |(at, (zero, conventional)): (usize, (&usize, &usize))| {
        [
            Cell::text(format!("{} to {} %", step * at, step * (at + 1))),
            Cell::text(count(*zero as u64)),
            Cell::text(count(*conventional as u64)),
        ]
    };
    let numbers = Table {
        caption: "Cases by the chance of zero-fluoroscopy".to_owned(),
        columns: [Column::words("Chance"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows: zero.iter().zip(&conventional).enumerate().map(row).collect(),
    };
    let picture = OverlapPicture { zero, conventional, shared: found.shared_range };
    let figure = Figure {
        id: "overlap",
        lead: format!("Figure {number}."),
        caption: "Are like patients found in both arms? Cases by the chance of zero-fluoroscopy that centre and covariates give them, as shares of each arm; in the shaded range both arms have cases.".to_owned(),
        drawings: Drawings::of(|size| picture.draw(size)),
        in_words: treated.overlap_in_words.clone(),
        numbers,
    };
    html! { (figure) }
}

fn learning(treated: &WhoWasTreated) -> Markup {
    let row = |band: &LearningBand| {
        let name = match band.to {
            Some(to) => format!("{} to {to}", band.from),
            None => format!("{} and later", band.from),
        };
        [Cell::text(name), Cell::text(count(band.operators)), Cell::text(share(&band.x_ray_after_all))]
    };
    let table = Table {
        caption: "Zero-fluoroscopy cases by the operator's experience with it".to_owned(),
        columns: [
            Column::words("The operator's case"),
            Column::numbers("Operators"),
            Column::numbers("X-ray after all, of the cases"),
        ],
        rows: treated.learning.bands.iter().map(row).collect(),
    };
    html! { (table) p { (treated.learning.in_words) } }
}

fn quarters(treated: &WhoWasTreated) -> Table<4> {
    Table {
        caption: "Cases by quarter".to_owned(),
        columns: [
            Column::words("Quarter"),
            arm_column(Arm::ZeroFluoroscopy),
            arm_column(Arm::Conventional),
            Column::numbers("Near-zero"),
        ],
        rows: treated
            .quarters
            .iter()
            .map(|line| {
                [
                    Cell::text(line.quarter.to_string()),
                    Cell::text(count(line.as_intended.zero_fluoroscopy)),
                    Cell::text(count(line.as_intended.conventional)),
                    Cell::text(count(line.near_zero)),
                ]
            })
            .collect(),
    }
}
