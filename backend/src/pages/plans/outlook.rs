//! Before a plan is written: how many cases it takes, how wide the interval will be, and by when
//! this network has them.

use actix_web::{HttpRequest, HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::endpoint::Endpoint;
use quietbeam_analysis::study::numerals::{count, percent};
use quietbeam_analysis::study::outlook::{
    Ahead, Assumed, AssumedForm, Curves as Counted, Needed, Outlook, PowerPoint,
};
use quietbeam_analysis::study::plan::PlanRefusal;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};
use serde::Deserialize;

use super::page;
use super::typed::{share, troubles};
use crate::access::Permit;
use crate::access::action::RegisterPlan;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::pages::components::{
    Cell, Column, Control, FieldRow, Pick, Picker, Table, Text, caution, error_summary,
};
use crate::pages::figures::{Curve, Curves, Drawings, Figure, Tick, round_steps};
use crate::pages::frame::Visit;
use crate::pages::trouble::Troubles;
use crate::registry::outlook;
use crate::store::Store;

/// What is asked, as typed: shares in per cent, the margin in points.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(in crate::pages) struct Asked {
    endpoint: String,
    margin: String,
    expected: String,
    level: String,
    group: String,
}

impl Asked {
    fn assumed(&self) -> Result<Assumed, PlanRefusal> {
        Assumed::try_from(&AssumedForm {
            endpoint: self.endpoint.clone(),
            margin: share(&self.margin),
            expected: share(&self.expected),
            level: share(&self.level),
        })
    }
}

#[get("/plans/outlook")]
pub(in crate::pages) async fn show(
    permit: Permit<RegisterPlan>,
    visit: Visit,
    (request, asked): (HttpRequest, Query<Asked>),
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (asked, title) = (asked.0, "How many cases, and by when");
    let assumed = asked.assumed();
    let frame = visit.frame(&store).await?;
    // Sent blank it says what to fill in; opened it only asks.
    if request.query_string().is_empty() {
        return Ok(frame.show(&page(title, draw(&asked, None, &Markup::default()))));
    }
    let assumed = match assumed {
        Ok(assumed) => assumed,
        Err(refusal) => {
            let troubles = troubles(&refusal);
            let content = draw(&asked, troubles.as_ref(), &Markup::default());
            return Ok(frame.refuse(&page(&format!("Must be mended: {}", title.to_lowercase()), content)));
        }
    };
    let groups: Vec<ProcedureGroup> = ProcedureGroup::from_code(&asked.group).into_iter().collect();
    let reader = store.get_ref().clone();
    let work = move || {
        let outlook = outlook::outlook(&reader, permit, assumed, groups)?;
        Ok::<_, crate::registry::RegistryError>((Counted::new(assumed), outlook))
    };
    let (curves, found) = web::block(work).await.map_err(|_| Problem::busy())??;
    let drawn = html! {
        (power(assumed, &curves))
        (precision(assumed, &curves))
        (by_when(&found))
        (caution("Chances hold if the assumptions do: cases as if independent within a centre, every outcome learnt, and no difference between the patients of the arms. A plan is still a decision of people, with their ethics board."))
    };
    Ok(frame.show(&page(title, draw(&asked, None, &drawn))))
}

fn draw(asked: &Asked, troubles: Option<&Troubles>, drawn: &Markup) -> Markup {
    html! {
        div.title {
            div {
                h1 { "How many cases, and by when" }
                p.quiet { "Before a plan is written. Cases are counted by intended strategy and outcomes over both arms together only, so reading this is no look at the outcome." }
            }
            a href="/plans" { "All plans" }
        }
        @if let Some(troubles) = troubles { (error_summary(troubles, "anything can be drawn")) }
        form method="get" action="/plans/outlook" {
            (fields(asked, troubles))
            div.mends { button.button.main type="submit" { "Draw" } }
        }
        (drawn)
    }
}

fn fields(asked: &Asked, troubles: Option<&Troubles>) -> Markup {
    let picker = |name, picks, chosen: &'_ str| -> Markup {
        let chosen = Some(chosen).filter(|chosen| !chosen.is_empty());
        let (label, second) = match name {
            "endpoint" => ("Endpoint", None),
            _ => ("Procedures", Some("none chosen: all of them")),
        };
        html! { (FieldRow::of_form(name, label, second, Control::Picker(Picker { name, picks, chosen }), troubles)) }
    };
    let number = |name, (label, second), (value, unit)| {
        let control = Control::Text(Text { name, value, number_in: Some(unit) });
        html! { (FieldRow::of_form(name, label, Some(second), control, troubles)) }
    };
    let endpoints = Endpoint::ALL.iter().map(|one| Pick::plain(one.code(), one.label())).collect();
    let groups = ProcedureGroup::LIST.codes.iter().map(|code| Pick::plain(code.code, code.label)).collect();
    html! {
        div.fields {
            (picker("endpoint", endpoints, &asked.endpoint))
            (number("margin", ("Margin", "how much worse is still acceptable"), (&asked.margin, "points")))
            (number("expected", ("Expected", "in the conventional arm"), (&asked.expected, "%")))
            (number("level", ("Level", "of the interval, two-sided"), (&asked.level, "%")))
            (picker("group", groups, &asked.group))
        }
    }
}

/// Chances from 0 to 100 per cent.
fn chances() -> Vec<Tick> {
    [0_u8, 20, 40, 60, 80, 100].map(|percent| (f64::from(percent) / 100.0, percent.to_string())).into()
}

/// Round ticks up to the last number of cases.
fn case_ticks(last: u32) -> Vec<Tick> {
    round_steps(f64::from(last)).into_iter().map(|cases| (cases, count(cases as u64))).collect()
}

fn power(assumed: Assumed, counted: &Counted) -> Markup {
    let last = counted.power.last().map_or(1, |point| point.each_arm);
    let curve = |name: &str, dashed, of: fn(&PowerPoint) -> Option<f64>| Curve {
        name: name.to_owned(),
        dashed,
        points: counted
            .power
            .iter()
            .filter_map(|point| Some((f64::from(point.each_arm), of(point)?)))
            .collect(),
    };
    let curves = Curves {
        curves: vec![
            curve("the arms are alike", false, |point| Some(point.alike)),
            curve("zero-fluoroscopy is worse by a third of the margin", true, |point| point.worse),
        ],
        across: ("cases in each arm", (0.0, f64::from(last)), case_ticks(last)),
        up: ("chance of showing it, %", 1.0, chances()),
        level: Some((0.8, "80 %")),
    };
    let cases = |cases: Option<u32>| cases.map_or("none is enough".to_owned(), count);
    let row = |one: &Needed| {
        [Cell::text(percent(one.chance, 0)), Cell::text(cases(one.alike)), Cell::text(cases(one.worse))]
    };
    let figure = Figure {
        id: "power",
        lead: "Figure 1.".to_owned(),
        caption: format!(
            "The chance that {} is shown not to be worse by the margin, by the number of cases, after Farrington and Manning.",
            assumed.endpoint().label().to_lowercase()
        ),
        drawings: Drawings::of(|size| curves.draw(size)),
        in_words: counted.power_in_words(assumed),
        numbers: Table {
            caption: "Cases of each arm for a chance".to_owned(),
            columns: [
                Column::words("Chance"),
                Column::numbers("The arms are alike"),
                Column::numbers("Worse by a third of the margin"),
            ],
            rows: counted.needed.iter().map(row).collect(),
        },
    };
    html! { section { h2 { "How many cases it takes" } (figure) } }
}

fn precision(assumed: Assumed, counted: &Counted) -> Markup {
    let last = counted.precision.last().map_or(1, |point| point.each_arm);
    let widest = counted.precision.first().map_or(0.01, |point| point.half_width);
    // A whole number of points, or of tenths where the widest is below one.
    let step = if widest > 0.04 {
        0.02
    } else if widest > 0.01 {
        0.01
    } else {
        0.002
    };
    let steps = (widest / step).ceil().max(1.0);
    let ticks = (0..=(steps as u32)).map(|at| {
        let value = f64::from(at) * step;
        (value, format!("{:.*}", usize::from(step < 0.01), 100.0 * value))
    });
    let curves = Curves {
        curves: vec![Curve {
            name: "half the width on average".to_owned(),
            dashed: false,
            points: counted
                .precision
                .iter()
                .map(|point| (f64::from(point.each_arm), point.half_width))
                .collect(),
        }],
        across: ("cases in each arm", (0.0, f64::from(last)), case_ticks(last)),
        up: ("points to either side of the difference", steps * step, ticks.collect()),
        level: Some((assumed.margin_size(), "the margin")).filter(|(margin, _)| *margin <= steps * step),
    };
    let row = |point: &quietbeam_analysis::study::outlook::PrecisionPoint| {
        [Cell::text(count(point.each_arm)), Cell::text(format!("{:.2}", 100.0 * point.half_width))]
    };
    let figure = Figure {
        id: "precision",
        lead: "Figure 2.".to_owned(),
        caption: "How far the interval of the difference reaches on average, by Newcombe's method, if the arms are alike.".to_owned(),
        drawings: Drawings::of(|size| curves.draw(size)),
        in_words: counted.precision_in_words(),
        numbers: Table {
            caption: "Half the width of the interval".to_owned(),
            columns: [Column::words("Cases in each arm"), Column::numbers("Points")],
            rows: counted.precision.iter().step_by(2).map(row).collect(),
        },
    };
    html! { section { h2 { "How wide the interval will be" } (figure) } }
}

fn by_when(found: &Outlook) -> Markup {
    let points = |of: fn(&Ahead) -> f64| {
        found.ahead.iter().zip(0_u32..).map(|(end, at)| (f64::from(at), of(end))).collect::<Vec<_>>()
    };
    let quarters = found.ahead.iter().zip(0_u32..).filter(|(_, at)| at % 4 == 0);
    let last = f64::from(u32::try_from(found.ahead.len().saturating_sub(1)).unwrap_or(0));
    let curves = Curves {
        curves: vec![
            Curve { name: "all cases".to_owned(), dashed: false, points: points(|end| end.chance) },
            Curve {
                name: "cases of later quarters alone".to_owned(),
                dashed: true,
                points: points(|end| end.fresh_chance),
            },
        ],
        across: (
            "at the end of the quarter",
            (0.0, last),
            quarters.map(|(end, at)| (f64::from(at), end.quarter.to_string())).collect(),
        ),
        up: ("chance of showing it, %", 1.0, chances()),
        level: Some((0.8, "80 %")),
    };
    let figure = Figure {
        id: "by-when",
        lead: "Figure 3.".to_owned(),
        caption: "What this network could show by when at today's pace, if the arms are alike. Cases that are there already cannot be planned any more: whoever wants a plan that nobody can doubt counts the later ones alone.".to_owned(),
        drawings: Drawings::of(|size| curves.draw(size)),
        in_words: found.in_words(),
        numbers: quarters_of(found),
    };
    html! {
        section {
            h2 { "By when this network could show it" }
            @if found.pace_of > 0 {
                p {
                    "In scope now: " (count(found.held.zero_fluoroscopy)) " zero-fluoroscopy and " (count(found.held.conventional))
                    " conventional. In the last " (found.pace_of) " whole quarters "
                    (format!("{:.0}", found.pace.zero_fluoroscopy)) " and " (format!("{:.0}", found.pace.conventional))
                    " came in a quarter; cases are often entered late, so the pace may be higher."
                }
            }
            (figure)
        }
    }
}

/// The cases and the chance by the end of each quarter.
fn quarters_of(found: &Outlook) -> Table<6> {
    let row = |end: &Ahead| {
        let (zero, conventional) = end.rounded();
        [
            Cell::text(end.quarter.to_string()),
            Cell::text(count(zero)),
            Cell::text(count(conventional)),
            Cell::text(count(end.worth_each_arm as u64)),
            Cell::text(percent(end.chance, 0)),
            Cell::text(percent(end.fresh_chance, 0)),
        ]
    };
    Table {
        caption: "By the end of each quarter".to_owned(),
        columns: [
            Column::words("Quarter"),
            Column::numbers("Zero-fluoroscopy"),
            Column::numbers("Conventional"),
            Column::numbers("Worth, within centres, in each arm"),
            Column::numbers("Chance, all cases"),
            Column::numbers("Chance, later quarters"),
        ],
        rows: found.ahead.iter().map(row).collect(),
    }
}
