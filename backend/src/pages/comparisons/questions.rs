//! The questions that the field argues about, each with its table or figure; none has a
//! verdict.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::{Arm, ByArm};
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::numerals::{count, measured};
use quietbeam_analysis::study::report::{
    Axis, BadgeReadings, DoseAndMinutes, EchoFirst, Feasibility, Rate, Report, RoleDose, RouteLead, Tried,
    WhoIsProtected,
};
use quietbeam_analysis::study::staff::Limit;
use quietbeam_schema::vocabulary::Coded;

use super::found::share;
use crate::pages::components::{Cell, Column, Table, arm_column, as_blocks};
use crate::pages::figures::{Drawings, Figure, GridMark, LogGrid};

/// The four questions.
pub(super) fn section(report: &Report, number: usize) -> Markup {
    html! {
        (feasible(&report.feasibility))
        (echo(&report.echo_first))
        (minutes(&report.dose_and_minutes, number))
        (protected(&report.who_is_protected))
    }
}

fn feasible(found: &Feasibility) -> Markup {
    let row = |tried: &Tried| {
        [
            Cell::text(&tried.label),
            Cell::text(share(&tried.intended)),
            Cell::text(share(&tried.completed)),
            Cell::text(share(&tried.without_x_ray)),
        ]
    };
    let table = |caption: &str, rows: &[Tried]| Table {
        caption: caption.to_owned(),
        columns: [
            Column::words("Ablations"),
            Column::numbers("Intended without X-ray, of all"),
            Column::numbers("Carried through, of those"),
            Column::numbers("Without X-ray, of all"),
        ],
        rows: rows.iter().map(row).collect(),
    };
    let parts = [
        ("By procedure group", &found.by_group),
        ("The usual exceptions", &found.exceptions),
        ("By quarter", &found.by_quarter),
        ("By the operator's earlier cases without X-ray", &found.by_earlier_cases),
        ("By the operator's years of practice", &found.by_experience),
    ];
    html! {
        section id="feasibility" {
            h2 { "Can it be done?" }
            p { (found.in_words) }
            (as_blocks(&table("All ablations of the cut", std::slice::from_ref(&found.all))))
            @for (caption, rows) in parts {
                @if !rows.is_empty() { details.fold { summary { (caption) } (as_blocks(&table(caption, rows))) } }
            }
        }
    }
}

fn echo(found: &EchoFirst) -> Markup {
    let lead = |route: &RouteLead| match (&route.lead_min, route.median_min) {
        (Estimate::Estimated(lead), _) => {
            format!("{} ({} to {})", measured(lead.estimate), measured(lead.lower), measured(lead.upper))
        }
        (_, Some(median)) => format!("{}, too few for limits", measured(median)),
        _ => "not timed".to_owned(),
    };
    let row = |route: &RouteLead| {
        [
            Cell::text(route.shown_by.map_or("Not stated", |route| route.label())),
            Cell::text(count(route.cases)),
            Cell::text(count(route.never_felt)),
            Cell::text(format!("{} of {}", count(route.seen_earlier), count(route.timed))),
            Cell::text(count(route.seen_later)),
            Cell::text(lead(route)),
        ]
    };
    let table = Table {
        caption: "Pericardial fluid, by what showed it first".to_owned(),
        columns: [
            Column::words("Shown by"),
            Column::numbers("Cases"),
            Column::numbers("Never felt"),
            Column::numbers("Seen before felt, of the timed"),
            Column::numbers("Felt first"),
            Column::numbers("Minutes of lead, median"),
        ],
        rows: found.routes.iter().map(row).collect(),
    };
    html! {
        section id="echo-first" {
            h2 { "Does echo see it first?" }
            p { (found.in_words) }
            (as_blocks(&table))
            p.small { (found.caution) }
        }
    }
}

/// The middle of a class on its logarithmic axis.
fn middle(axis: &Axis, class: u8) -> f64 {
    let step = (axis.to / axis.from).log10() / f64::from(axis.classes);
    axis.from * 10_f64.powf(step * (f64::from(class) + 0.5))
}

fn minutes(found: &DoseAndMinutes, number: usize) -> Markup {
    let grid = LogGrid {
        marks: found
            .grid
            .iter()
            .map(|cell| GridMark {
                at: (middle(&found.minutes, cell.minutes), middle(&found.mgy, cell.mgy)),
                cases: (cell.cases.zero_fluoroscopy, cell.cases.conventional),
            })
            .collect(),
        across: (found.minutes.from, found.minutes.to),
        up: (found.mgy.from, found.mgy.to),
        names: ("fluoroscopy time, minutes (log scale)", "air kerma, mGy (log scale)"),
    };
    let row = |name: &str, rate: &Rate| {
        let quantile = |at: usize| rate.quantiles.map_or(String::new(), |quantiles| measured(quantiles[at]));
        [
            Cell::text(name),
            Cell::text(count(rate.cases)),
            Cell::text(quantile(0)),
            Cell::text(quantile(2)),
            Cell::text(quantile(4)),
        ]
    };
    let numbers = Table {
        caption: "mGy for a minute of fluoroscopy".to_owned(),
        columns: [
            Column::words("Cases with X-ray"),
            Column::numbers("Cases"),
            Column::numbers("5 in 100 below"),
            Column::numbers("Median"),
            Column::numbers("5 in 100 above"),
        ],
        rows: vec![
            row("All", &found.all),
            row("Without a cine run", &found.without_cine),
            row("With one", &found.with_cine),
        ],
    };
    let figure = Figure {
        id: "dose-and-minutes",
        lead: format!("Figure {number}."),
        caption: "Minutes are no dose: air kerma against fluoroscopy time. Rings are zero-fluoroscopy cases that needed X-ray after all, squares conventional ones; their area follows the number of cases.".to_owned(),
        drawings: Drawings::of(|size| grid.draw(size)),
        in_words: found.in_words.clone(),
        numbers,
    };
    html! { section { h2 { "Do minutes tell the dose?" } (figure) } }
}

fn protected(found: &WhoIsProtected) -> Markup {
    let mut rows = vec![[
        Cell::text("Beam never on"),
        Cell::text(share(&found.never_on.zero_fluoroscopy)),
        Cell::text(share(&found.never_on.conventional)),
    ]];
    rows.extend(found.lead.iter().map(|line| {
        let worn = line.worn.map_or("not stated".to_owned(), |worn| worn.label().to_lowercase());
        [
            Cell::text(format!("Lead worn: {worn}")),
            Cell::text(count(line.cases.zero_fluoroscopy)),
            Cell::text(count(line.cases.conventional)),
        ]
    }));
    rows.extend(found.staff.iter().map(staff));
    let table = Table {
        caption: "The room, as intended; badge readings in µSv a case".to_owned(),
        columns: [Column::words("Cases"), arm_column(Arm::ZeroFluoroscopy), arm_column(Arm::Conventional)],
        rows,
    };
    html! {
        section id="protected" {
            h2 { "Who is protected?" }
            p { (found.in_words) }
            (table)
            (as_blocks(&limits(&found.limits)))
            p.small { (found.no_judgement) }
        }
    }
}

fn staff(role: &RoleDose) -> [Cell; 3] {
    let worn =
        role.position.map_or("badge place not stated".to_owned(), |place| place.label().to_lowercase());
    let readings = |readings: &BadgeReadings| match &readings.usv {
        Some(usv) => format!(
            "{} ({} to {}), {} cases",
            measured(usv.median),
            measured(usv.lower),
            measured(usv.upper),
            count(readings.cases)
        ),
        None => "none read".to_owned(),
    };
    let ByArm { zero_fluoroscopy, conventional } = &role.arms;
    [
        Cell::text(format!("{}, {worn}", role.role.label())),
        Cell::text(readings(zero_fluoroscopy)),
        Cell::text(readings(conventional)),
    ]
}

fn limits(limits: &[Limit]) -> Table<4> {
    let row = |limit: &Limit| {
        [
            Cell::text(limit.who),
            Cell::text(limit.what),
            Cell::text(measured(limit.msv)),
            Cell::text(limit.over),
        ]
    };
    Table {
        caption: "Published limits, for context".to_owned(),
        columns: [Column::words("For"), Column::words("Of"), Column::numbers("mSv"), Column::words("Over")],
        rows: limits.iter().map(row).collect(),
    }
}
