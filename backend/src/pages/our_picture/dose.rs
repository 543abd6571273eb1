//! The dose of a centre: in two parts, and its median beside levels that apply to medians.

use quietbeam_analysis::study::numerals::{count, measured, percent};
use quietbeam_analysis::study::own_picture::{
    DosePicture, DoseSpread, Interval, KAP_REFERENCE_LEVEL_GY_CM2, NetworkValues,
};
use quietbeam_schema::vocabulary::{Coded, Strategy};

use super::{Parts, Told, cell};
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{DoseRow, LevelScale, TwoPart};

/// Share without X-ray, and air kerma of the others.
pub(super) fn two_part<'a>(dose: &'a DosePicture, network: &NetworkValues) -> Told {
    let (all, median) = (&dose.all, dose.all.air_kerma_mgy.as_ref().map(|doses| doses.median));
    let none = all.no_x_ray.and_then(|share| share.proportion).map(|share| percent(share.estimate, 0));
    let sentence = match (none, median) {
        (Some(none), Some(median)) => format!(
            "{none} of cases had no X-ray; when the beam was on, half stayed below {} mGy.",
            measured(median.estimate)
        ),
        (Some(none), None) => {
            format!("{none} of cases had no X-ray; too few others report air kerma for a median.")
        }
        (None, _) => "Too few cases to say how many had no X-ray, or how much the others had.".to_owned(),
    };
    let mut more = Vec::new();
    if let Some(median) = &median {
        more.push(format!("The limits of that median are {} mGy.", between(median)));
    }
    if let Some(network) = network.air_kerma_mgy {
        more.push(format!("In the whole network it is about {} mGy.", measured(network)));
    }
    let name = |strategy: Strategy, spread: &DoseSpread| {
        let arm = match strategy {
            Strategy::Zero => "Zero-fluoroscopy",
            Strategy::NearZero => "Near-zero",
            Strategy::Conventional => "Conventional",
        };
        format!("{arm} intended, {}", super::counted_cases(spread.cases))
    };
    let rows = dose.by_strategy.iter().filter(|(_, spread)| spread.cases > 0);
    let rows =
        rows.map(|(strategy, spread)| DoseRow { strategy: *strategy, name: name(*strategy, spread), spread });
    let drawn = TwoPart(rows.collect::<Vec<DoseRow<'a>>>());
    Told::new(
        "dose",
        sentence,
        Parts {
            lead: "Dose, in two parts.",
            caption: "Left: the share of cases without X-ray. Right: air kerma of the others; bars are cases, the line is their \
             median. Air kerma below 0.1 or above 1,000 mGy stands in the last bar at that end."
            .to_owned(),
            draw: Box::new(move |size| drawn.draw(size)),
            more: more.join(" "),
            numbers: table_of_doses(dose),
        },
    )
}

/// 1.2 to 3.4.
fn between(interval: &Interval) -> String {
    format!("{} to {}", measured(interval.lower), measured(interval.upper))
}

fn table_of_doses(dose: &DosePicture) -> Table<6> {
    let median = |median: Option<Interval>| {
        cell(median.map(|median| format!("{} ({})", measured(median.estimate), between(&median))))
    };
    let row = |name: &str, spread: &DoseSpread| {
        let none = spread.no_x_ray.and_then(|share| share.proportion);
        [
            Cell::text(name),
            Cell::text(count(spread.cases)),
            cell(none.map(|share| percent(share.estimate, 1))),
            Cell::text(count(spread.exposed)),
            median(spread.air_kerma_mgy.as_ref().map(|doses| doses.median)),
            median(spread.kap_median_gy_cm2),
        ]
    };
    let strategies = dose.by_strategy.iter().filter(|(_, spread)| spread.cases > 0);
    let rows = strategies.map(|(strategy, spread)| row(strategy.label(), spread));
    Table {
        caption: "By intended strategy; medians of the cases with X-ray, with 95 % limits".to_owned(),
        columns: [
            Column::words("Intended"),
            Column::numbers("Cases"),
            Column::numbers("Without X-ray"),
            Column::numbers("With X-ray"),
            Column::numbers("Air kerma, mGy"),
            Column::numbers("Kerma-area product, Gy·cm²"),
        ],
        rows: rows.chain([row("All", &dose.all)]).collect(),
    }
}

/// The median kerma-area product beside the reference level and the network.
pub(super) fn levels(dose: &DosePicture, network: &NetworkValues) -> Told {
    let reference = KAP_REFERENCE_LEVEL_GY_CM2;
    let own = dose.all.kap_median_gy_cm2;
    let sentence = match own {
        None => {
            "Too few cases report kerma-area product to lay their median beside a reference level.".to_owned()
        }
        Some(own) => {
            let place = if own.upper < reference {
                "lies below the reference level of"
            } else if own.lower > reference {
                "lies above the reference level of"
            } else {
                "cannot be told from the reference level of"
            };
            format!("The median kerma-area product, {} Gy·cm², {place} 12 Gy·cm².", measured(own.estimate))
        }
    };
    let more = match network.kap_gy_cm2 {
        Some(value) => format!("In the whole network it is about {} Gy·cm².", measured(value)),
        None => "The network's median is not shown.".to_owned(),
    };
    let scale = LevelScale {
        own,
        network: network.kap_gy_cm2,
        reference,
        axis: "median kerma-area product of cases with X-ray, Gy·cm²",
    };
    let row = |name: &str, value: Option<String>| [Cell::text(name), cell(value)];
    let own_text = own.map(|own| format!("{} ({})", measured(own.estimate), between(&own)));
    Told::new("levels", sentence, Parts {
        lead: "Reference level.",
        caption: "A reference level applies to the median of a centre, never to a patient: above it, a centre looks for \
                  the reason. 12 Gy·cm² is the European level of electrophysiological procedures, all kinds together \
                  (Siiskonen and others, Physica Medica 2018;54:42\u{2013}48). The network's median is of all its cases \
                  with X-ray, to two digits, shown only if at least five centres contribute and none holds more than half."
            .to_owned(),
        draw: Box::new(move |size| scale.draw(size)),
        more,
        numbers: Table {
            caption: "Medians of kerma-area product, Gy·cm²".to_owned(),
            columns: [Column::words("Of what"), Column::numbers("Median (95 % limits)")],
            rows: vec![
                row("This centre", own_text),
                row("The network, rounded", network.kap_gy_cm2.map(measured)),
                row("European reference level", Some(measured(reference))),
            ],
        },
    })
}
