//! Before a plan is written: how many cases it takes, how wide the interval will be, and by when
//! this network has them.

mod by_when;
mod power;
mod precision;
mod ticks;

use actix_web::{HttpRequest, HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::endpoint::Endpoint;
use quietbeam_analysis::study::outlook::{Assumed, AssumedForm, Curves};
use quietbeam_analysis::study::plan::PlanRefusal;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};
use serde::Deserialize;

use super::typed::{margin, scale, share, troubles};
use super::{margin as margin_fields, page};
use crate::access::Permit;
use crate::access::action::RegisterPlan;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::pages::components::{Control, FieldRow, Pick, Picker, Text, caution, error_summary};
use crate::pages::frame::Visit;
use crate::pages::trouble::Troubles;
use crate::registry::outlook;
use crate::store::Store;

/// What is asked, as typed: shares in per cent, the margin in points or as a ratio.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(in crate::pages) struct Asked {
    endpoint: String,
    scale: String,
    margin: String,
    expected: String,
    level: String,
    group: String,
}

impl Asked {
    fn assumed(&self) -> Result<Assumed, PlanRefusal> {
        let scale = scale(&self.scale);
        Assumed::try_from(&AssumedForm {
            endpoint: self.endpoint.clone(),
            scale,
            margin: margin(scale, &self.margin),
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
        Ok::<_, crate::registry::RegistryError>((Curves::new(assumed), outlook))
    };
    let (curves, found) = web::block(work).await.map_err(|_| Problem::busy())??;
    let drawn = html! {
        (power::section(assumed, &curves))
        (precision::section(assumed, &curves.precision))
        (by_when::section(assumed, &found))
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
    let per_cent = |name, (label, second), value, note: Option<&str>| {
        let control = Control::Text(Text { name, value, number_in: Some("%") });
        let row = FieldRow::of_form(name, label, Some(second), control, troubles);
        html! { (FieldRow { note: note.map(|note| html! { (note) }), ..row }) }
    };
    let endpoints = Endpoint::ALL.iter().map(|one| Pick::plain(one.code(), one.label())).collect();
    let groups = ProcedureGroup::LIST.codes.iter().map(|code| Pick::plain(code.code, code.label)).collect();
    html! {
        div.fields {
            (picker("endpoint", endpoints, &asked.endpoint))
            (margin_fields::rows(("scale", &asked.scale), ("margin", &asked.margin), troubles))
            (per_cent("expected", ("Expected", "in the conventional arm"), &asked.expected, Some("Of the endpoint itself, also where the margin is a ratio of failures: 95 for acute success.")))
            (per_cent("level", ("Level", "of the interval, two-sided"), &asked.level, None))
            (picker("group", groups, &asked.group))
        }
    }
}
