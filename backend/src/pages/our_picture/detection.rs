//! What showed complications first, and beside it how often anyone looked.

use quietbeam_analysis::study::numerals::{count, limits, percent};
use quietbeam_analysis::study::own_picture::{Detection, Looks, RouteCount};
use quietbeam_schema::vocabulary::Coded;

use super::{Parts, Told, cell};
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{CountRow, CountRows, ShareRow, ShareRows, Svg};

/// Complications by detection route, over how often anyone looked.
pub(super) fn routes(found: &Detection) -> Told {
    let all = found.routes.as_ref().map(|routes| routes.iter().map(|one| one.complications).sum::<u32>());
    let during = found.looks[0].share.and_then(|share| share.proportion);
    let looked = during.map(|share| format!("; echo looked during {} of cases", percent(share.estimate, 0)));
    let sentence = match (all, found.routes.as_ref().and_then(|routes| routes.first())) {
        (None, _) => "Too few cases to say what showed complications first.".to_owned(),
        (Some(_), None) => format!(
            "No complication within 30 days was entered in {} cases{}.",
            count(found.cases),
            looked.unwrap_or_default()
        ),
        (Some(all), Some(first)) => format!(
            "{} within 30 days in {} cases, most often shown first by {}{}.",
            if all == 1 { "One complication".to_owned() } else { format!("{} complications", count(all)) },
            count(found.cases),
            route(first).to_lowercase(),
            looked.unwrap_or_default()
        ),
    };
    let routes = found.routes.clone();
    let per_100 = |number: u32| 100.0 * f64::from(number) / f64::from(found.cases.max(1));
    let bars = routes.as_ref().map(|routes| {
        let row = |one: &RouteCount| CountRow {
            label: route(one).to_owned(),
            count: one.complications,
            value: format!("{} ({:.1} per 100)", count(one.complications), per_100(one.complications)),
        };
        CountRows(routes.iter().map(row).collect())
    });
    let looks = ShareRows(found.looks.iter().map(look_row).collect());
    Told::new("detection", sentence, Parts {
        lead: "Detection routes.",
        caption: "Above: complications within 30 days by what showed them first. Below: how often echo looked for fluid \
                  when nothing prompted it, of the cases that say so. Where more is looked, more is found."
            .to_owned(),
        draw: Box::new(move |size| {
            let above = match &bars {
                Some(bars) => bars.draw(size),
                None => CountRows::not_shown(size),
            };
            Svg::stack(vec![("Complications, by what showed them first", above), ("How often anyone looked", looks.draw(size))])
        }),
        more: String::new(),
        numbers: table(found),
    })
}

fn route(one: &RouteCount) -> &'static str {
    one.route.map_or("Not stated", Coded::label)
}

fn look_row(looks: &Looks) -> ShareRow {
    let share = looks.share.and_then(|share| share.proportion);
    ShareRow {
        label: looks.look.label().to_owned(),
        share,
        value: share.map_or_else(String::new, |share| percent(share.estimate, 0)),
    }
}

fn table(found: &Detection) -> Table<4> {
    let of_route = |one: &RouteCount| {
        let numbers =
            [one.complications, one.major, one.imaging_only].map(|number| Cell::text(count(number)));
        let [all, major, imaging] = numbers;
        [Cell::text(route(one)), all, major, imaging]
    };
    let of_look = |looks: &Looks| {
        let share = looks.share.and_then(|share| share.proportion);
        let text = share.map(|share| format!("{} ({})", percent(share.estimate, 0), limits(&share, 0)));
        let not_stated = format!("{} not stated", count(looks.not_stated));
        [Cell::text(looks.look.label()), cell(text), Cell::text(not_stated), Cell::text("")]
    };
    let routes = match &found.routes {
        Some(routes) => routes.iter().map(of_route).collect(),
        None => vec![[Cell::text("All routes"), Cell::NotShown, Cell::NotShown, Cell::NotShown]],
    };
    Table {
        caption: "Complications by what showed them first; below, how often echo looked (95 % limits)"
            .to_owned(),
        columns: [
            Column::words("Route, or look"),
            Column::numbers("Complications, or share"),
            Column::numbers("Major"),
            Column::numbers("Seen by imaging only"),
        ],
        rows: routes.into_iter().chain(found.looks.iter().map(of_look)).collect(),
    }
}
