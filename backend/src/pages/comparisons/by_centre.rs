//! A planned endpoint centre by centre, as a forest.

use maud::{Markup, html};
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::study::arm::{Arm, ByArm};
use quietbeam_analysis::study::effect::Effect;
use quietbeam_analysis::study::endpoint::Endpoint;
use quietbeam_analysis::study::estimate::{Estimate, reason_in_words};
use quietbeam_analysis::study::numerals::{count, level, percent};
use quietbeam_analysis::study::report::Forest as Counted;
use quietbeam_analysis::study::tally::Tally;
use quietbeam_schema::vocabulary::MarginScale;

use super::found::effect_heading;
use crate::pages::components::{Cell, Column, Table, arm_column};
use crate::pages::figures::{Drawings, Figure, Forest, ForestMark, ForestRow, Side};

/// The figure.
pub(super) fn forest(counted: &Counted, confidence: Confidence, number: usize) -> Markup {
    let forest = drawing(counted);
    let harm = counted.endpoint.is_harm();
    let (what, side) = match counted.margin.scale() {
        MarginScale::RiskDifference if harm => {
            ("zero-fluoroscopy minus conventional", "zero-fluoroscopy is not more frequent")
        }
        MarginScale::RiskDifference => {
            ("zero-fluoroscopy minus conventional", "zero-fluoroscopy is not worse")
        }
        MarginScale::RiskRatio if harm => {
            ("zero-fluoroscopy over conventional", "they are not more frequent")
        }
        MarginScale::RiskRatio => {
            ("failures with zero-fluoroscopy over those with conventional", "failures are not more frequent")
        }
    };
    let figure = Figure {
        id: match counted.endpoint {
            Endpoint::AcuteSuccess => "centres-success",
            Endpoint::MajorWithin30Days => "centres-harm",
            Endpoint::MajorBeforeDischarge => "centres-harm-in-hospital",
        },
        lead: format!("Figure {number}."),
        caption: format!(
            "{} by centre: {what}, as intended. Dot size follows weight; lines are {} score intervals. Shading marks the side on which {side} by the margin. The filled diamond is what the plan decides by.",
            counted.endpoint.label(),
            level(confidence.level()),
        ),
        drawings: Drawings::of(|size| forest.draw(size)),
        in_words: counted.in_words.clone(),
        numbers: numbers(&forest, counted),
    };
    html! { (figure) }
}

fn said(effect: &Effect) -> String {
    effect.in_numbers().unwrap_or("not estimable".to_owned())
}

fn tallies(arms: &ByArm<Tally>) -> [String; 2] {
    let of = |tally: &Tally| format!("{} / {}", count(tally.events), count(tally.known));
    [of(&arms.zero_fluoroscopy), of(&arms.conventional)]
}

fn drawing(counted: &Counted) -> Forest {
    let blank = || [String::new(), String::new()];
    let centres = counted.centres.iter().map(|centre| ForestRow {
        name: centre.centre.to_string(),
        counts: tallies(&centre.arms),
        mark: ForestMark::Dot(centre.weight.unwrap_or(0.0)),
        effect: centre.effect.drawn(),
        told: said(&centre.effect),
        weight: centre.weight.map_or(String::new(), |weight| percent(weight, 1)),
    });
    let mut together: Vec<ForestRow> = counted
        .summaries
        .iter()
        .map(|row| ForestRow {
            name: if row.planned {
                format!("{} (planned)", row.row.label())
            } else {
                row.row.label().to_owned()
            },
            counts: blank(),
            mark: if row.planned { ForestMark::Filled } else { ForestMark::Hollow },
            effect: row.effect.drawn(),
            told: said(&row.effect),
            weight: String::new(),
        })
        .collect();
    if let Some(pooled) = counted.pooled.estimated() {
        together.push(ForestRow {
            name: "Mean of the centres' own".to_owned(),
            counts: blank(),
            mark: ForestMark::Hollow,
            effect: pooled.effect.drawn(),
            told: said(&pooled.effect),
            weight: String::new(),
        });
    }
    if let Some(prediction) = counted.prediction.drawn() {
        together.push(ForestRow {
            name: "Where a new centre would lie".to_owned(),
            counts: blank(),
            mark: ForestMark::Prediction,
            effect: Some(prediction),
            told: said(&counted.prediction),
            weight: String::new(),
        });
    }
    Forest {
        counted: if counted.endpoint.is_harm() { "events / known" } else { "success / known" },
        side: Side(counted.margin),
        centres: centres.collect(),
        together,
    }
}

fn numbers(forest: &Forest, counted: &Counted) -> Table<5> {
    let row = |row: &ForestRow| {
        [
            Cell::text(&row.name),
            Cell::text(&row.counts[0]),
            Cell::text(&row.counts[1]),
            Cell::text(&row.told),
            Cell::text(&row.weight),
        ]
    };
    Table {
        caption: format!("{} by centre", counted.endpoint.label()),
        columns: [
            Column::words("Centre or method"),
            arm_column(Arm::ZeroFluoroscopy),
            arm_column(Arm::Conventional),
            Column::numbers(effect_heading(counted.margin.scale())),
            Column::numbers("Weight"),
        ],
        rows: forest.centres.iter().chain(&forest.together).map(row).collect(),
    }
}

/// Why the centres cannot be pooled, where they cannot.
pub(super) fn not_pooled(counted: &Counted) -> Option<String> {
    match &counted.pooled {
        Estimate::Estimated(_) => None,
        Estimate::CannotBeEstimated(why) => {
            Some(format!("The centres' own effects cannot be pooled: {}.", reason_in_words(*why)))
        }
    }
}
