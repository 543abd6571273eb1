//! What stands beside the verdicts: effusion by how it was found, and dose.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::{Arm, ByArm};
use quietbeam_analysis::study::cohort::Looked;
use quietbeam_analysis::study::dose::{DoseComparison, Spread};
use quietbeam_analysis::study::effusion::{EffusionComparison, RouteLine};
use quietbeam_analysis::study::estimate::{Estimate, reason_in_words};
use quietbeam_analysis::study::numerals::{count, measured};
use quietbeam_analysis::study::report::DoseInTwoParts;
use quietbeam_schema::vocabulary::{Coded, Strategy};

use super::found::share;
use crate::pages::components::{Cell, Column, Table, arm_column};
use crate::pages::figures::{DoseRow, Drawings, Figure, PairRow, PairRows, TwoPart};

/// Effusion by what showed it and by whether anyone looked: always both.
pub(super) fn effusion(found: &EffusionComparison, number: usize) -> Markup {
    let routes = found.by_route.iter().map(|line| {
        let route = line.detected_by.map_or("Not stated", |route| route.label());
        [
            Cell::text(route),
            Cell::text(count(line.cases.zero_fluoroscopy)),
            Cell::text(count(line.cases.conventional)),
        ]
    });
    let by_route = Table {
        caption: "Cases with an effusion, by what showed it first".to_owned(),
        columns: [Column::words("Shown by"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows: routes.collect(),
    };
    let routes = Figure {
        id: "routes",
        lead: format!("Figure {number}."),
        caption: "Pericardial effusion by what showed it first, in 100 cases of each arm as intended. Bars follow looking as well as bleeding.".to_owned(),
        drawings: Drawings::of(|size| pairs(found).draw(size)),
        in_words: in_words(found),
        numbers: by_route,
    };
    let mut looks = vec![[
        Cell::text("Looked with echo, unprompted"),
        Cell::text(share(&found.looked_with_echo.zero_fluoroscopy)),
        Cell::text(share(&found.looked_with_echo.conventional)),
    ]];
    looks.extend(found.by_look.iter().map(|line| {
        [
            Cell::text(format!("Effusion where {}", looked(line.looked))),
            Cell::text(share(&line.effusions.zero_fluoroscopy)),
            Cell::text(share(&line.effusions.conventional)),
        ]
    }));
    let by_look = Table {
        caption: "How often anyone looked, and what was found then".to_owned(),
        columns: [Column::words("What"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows: looks,
    };
    html! {
        section id="effusion" {
            h2 { "Does echo see it, or does it happen more often?" }
            p { (found.why_it_differs) }
            @if !found.by_route.is_empty() { (routes) }
            (by_look)
        }
    }
}

/// The routes in a sentence.
fn in_words(found: &EffusionComparison) -> String {
    let route = |line: &RouteLine| {
        let shown = line.detected_by.map_or("not stated", |route| route.label());
        let ByArm { zero_fluoroscopy, conventional } = line.cases;
        format!("{shown} {} and {}", count(zero_fluoroscopy), count(conventional))
    };
    let routes: Vec<String> = found.by_route.iter().map(route).collect();
    format!("What showed it first, in zero-fluoroscopy and in conventional cases: {}.", routes.join("; "))
}

/// The routes as bars, by cases of 100 in each arm.
fn pairs(found: &EffusionComparison) -> PairRows {
    let of_hundred =
        |cases: u32, of: u32| if of == 0 { 0.0 } else { 100.0 * f64::from(cases) / f64::from(of) };
    let row = |line: &RouteLine| {
        let ByArm { zero_fluoroscopy, conventional } = line.cases;
        PairRow {
            label: line.detected_by.map_or("Not stated", |route| route.label()).to_owned(),
            lengths: [
                of_hundred(zero_fluoroscopy, found.any.zero_fluoroscopy.of),
                of_hundred(conventional, found.any.conventional.of),
            ],
            value: format!("{} against {}", count(zero_fluoroscopy), count(conventional)),
        }
    };
    PairRows(found.by_route.iter().map(row).collect())
}

fn looked(looked: Looked) -> &'static str {
    match looked {
        Looked::WithEcho => "echo looked",
        Looked::NotWithEcho => "no echo looked",
        Looked::NotStated => "nobody stated it",
    }
}

/// Dose in two parts, fluoroscopy time apart.
pub(super) fn dose(found: &DoseComparison, parts: &DoseInTwoParts, number: usize) -> Markup {
    let spread = |spread: &Spread| match &spread.quartiles {
        Some(quartiles) => format!(
            "{} ({} to {})",
            measured(quartiles.median),
            measured(quartiles.lower),
            measured(quartiles.upper)
        ),
        None => "none reported".to_owned(),
    };
    let row = |name: &str, arms: &ByArm<Spread>| {
        [Cell::text(name), Cell::text(spread(&arms.zero_fluoroscopy)), Cell::text(spread(&arms.conventional))]
    };
    let rows = vec![
        [
            Cell::text("No X-ray at all"),
            Cell::text(share(&found.no_x_ray.zero_fluoroscopy)),
            Cell::text(share(&found.no_x_ray.conventional)),
        ],
        row("Air kerma at the reference point, mGy", &found.air_kerma_mgy.arms),
        row("Kerma-area product, Gy·cm²", &found.kap_gy_cm2.arms),
        row("Fluoroscopy time, seconds: no dose", &found.fluoro_time_s),
    ];
    let table = Table {
        caption: "Dose, as intended: median and quartiles of the cases with X-ray".to_owned(),
        columns: [Column::words(""), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows,
    };
    let ratio = match &found.air_kerma_mgy.ratio_of_geometric_means {
        Estimate::Estimated(interval) => format!(
            "Where X-ray was used, mean air kerma (geometric) was {} times that of the conventional arm ({} to {}).",
            measured(interval.estimate),
            measured(interval.lower),
            measured(interval.upper)
        ),
        Estimate::CannotBeEstimated(why) => {
            format!("The doses of the exposed cannot be compared: {}.", reason_in_words(*why))
        }
    };
    let drawn = TwoPart(
        [(Strategy::Zero, Arm::ZeroFluoroscopy), (Strategy::Conventional, Arm::Conventional)]
            .map(|(strategy, arm)| {
                let spread = parts.arms.of(arm);
                let name = format!("{}, {} cases", strategy.label(), count(spread.cases));
                DoseRow { strategy, name, spread }
            })
            .into(),
    );
    let figure = Figure {
        id: "dose-in-two-parts",
        lead: format!("Figure {number}."),
        caption: "Dose in two parts, as intended. Left: the share of cases without X-ray, who never stand on the scale. Right: air kerma of the others; bars are cases, the line is their median. What lies beyond 0.1 or 1,000 mGy stands in the bar at that end.".to_owned(),
        drawings: Drawings::of(|size| drawn.draw(size)),
        in_words: parts.in_words.clone(),
        numbers: table,
    };
    html! { section id="dose" { h2 { "How much radiation" } (figure) p { (ratio) } } }
}
