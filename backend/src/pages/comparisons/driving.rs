//! Whether one thing drives a planned result: parts of the cases, kinds of patients, outcomes
//! that nobody learnt, and causes that nobody recorded. No verdict hangs on any of it.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::Arm;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::numerals::{count, p_value};
use quietbeam_analysis::study::planned::PlannedResult;
use quietbeam_analysis::study::report::{Driving, Report, Subgroup};
use quietbeam_analysis::study::sensitivity::SensitivityLine;
use quietbeam_analysis::study::tally::Tally;
use quietbeam_schema::vocabulary::{Coded, MarginScale, Sensitivity};

use super::found::{effect_heading, effect_said};
use crate::pages::assets;
use crate::pages::components::{Cell, Column, Table, arm_column, as_blocks};

/// The section.
pub(super) fn section(report: &Report) -> Markup {
    let results = report.planned.endpoints.iter().zip(&report.driving);
    html! {
        section id="sensitivity" {
            h2 { "Does one thing drive it?" }
            p { "The planned estimate again on parts of the cases, as intended, and with operators as the units that vary. No verdict hangs on these." }
            @for (result, driving) in results {
                (as_blocks(&parts(result, driving)))
                p { (driving.tipping.in_words) }
                p { (driving.unrecorded.in_words) }
                @if let Some(found) = &driving.recovered {
                    p { (found.in_words) " " a href=(assets::address(assets::RECOVERY)) { "The whole table" } "." }
                }
                @if !driving.subgroups.is_empty() {
                    details.fold { summary { (result.endpoint.label()) " by kind of patient" }
                        @for subgroup in &driving.subgroups { (as_blocks(&kinds(subgroup, result.margin.scale()))) }
                    }
                }
            }
        }
    }
}

fn parts(result: &PlannedResult, driving: &Driving) -> Table<3> {
    let ordered = |line: &SensitivityLine| {
        let part = match (line.analysis, &line.part) {
            (Sensitivity::LeaveOneCentreOut, Some(centre)) => format!("Without {centre}"),
            (Sensitivity::ByProcedureGroup, Some(group)) => format!("Only {group}"),
            (analysis, _) => analysis.label().to_owned(),
        };
        [Cell::text(part), Cell::text(count(line.cases)), Cell::shown(effect_said(&line.effect))]
    };
    let adjusted = &result.as_intended.adjusted.cases;
    let always = driving.without.iter().map(|line| {
        [
            Cell::text(line.suspicion.label()),
            Cell::text(count(line.cases)),
            Cell::shown(effect_said(&line.effect)),
        ]
    });
    let by_operator = driving.by_operator.iter().map(|line| {
        [
            Cell::text(format!(
                "All, clustered by {} operators instead of by centre",
                count(line.operators as u64)
            )),
            Cell::text(count(adjusted.zero_fluoroscopy + adjusted.conventional)),
            Cell::shown(effect_said(&line.effect)),
        ]
    });
    Table {
        caption: format!("{} again, on parts of the cases", result.endpoint.label()),
        columns: [
            Column::words("Part"),
            Column::numbers("Cases"),
            Column::numbers(effect_heading(result.margin.scale())),
        ],
        rows: result.sensitivity.iter().map(ordered).chain(always).chain(by_operator).collect(),
    }
}

fn kinds(subgroup: &Subgroup, scale: MarginScale) -> Table<4> {
    let of = |tally: &Tally| format!("{}/{}", count(tally.events), count(tally.known));
    let interaction = match &subgroup.interaction {
        Estimate::Estimated(test) => format!("interaction p {}", p_value(test.p)),
        Estimate::CannotBeEstimated(_) => "interaction not estimable".to_owned(),
    };
    let rows = subgroup.lines.iter().map(|line| {
        [
            Cell::text(line.label),
            Cell::text(of(&line.arms.zero_fluoroscopy)),
            Cell::text(of(&line.arms.conventional)),
            Cell::shown(effect_said(&line.effect)),
        ]
    });
    Table {
        caption: format!(
            "{}, {}; crude, {interaction}",
            subgroup.by,
            if subgroup.planned { "planned" } else { "exploratory" }
        ),
        columns: [
            Column::words("Patients"),
            arm_column(Arm::ZeroFluoroscopy),
            arm_column(Arm::Conventional),
            Column::numbers(effect_heading(scale)),
        ],
        rows: rows.collect(),
    }
}
