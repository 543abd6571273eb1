//! Analysis plans: the list, one plan as it was registered, and writing one.

mod cost;
mod margin;
pub(super) mod outlook;
mod said;
mod typed;
pub(super) mod write;

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::plan::{AnalysisPlan, Change, costs};
use quietbeam_schema::ids::PlanId;
use serde_json::Value;

use super::components::{Cell, Column, Table, Word, as_blocks, caution};
use super::frame::{Page, Visit, may};
use super::words::moment;
use crate::access::Permit;
use crate::access::action::{ReadPlans, RegisterPlan, RunComparison};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::registry::{RegistryError, plans};
use crate::store::{Plan, Store};

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::Plans), content }
}

/// Number and version of a plan, as people say it.
pub(super) fn name(plan: &Plan) -> String {
    format!("{}.{}", plan.number, plan.version)
}

#[get("/plans")]
pub(super) async fn list(
    permit: Permit<ReadPlans>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let all = store.read(permit, |session| session.list_plans()).await?;
    let frame = visit.frame(&store).await?;
    let content = html! {
        div.title {
            div {
                h1 { "Analysis plans" }
                p.quiet { "What will be compared, by which method and against which margin, before anyone looks." }
            }
        }
        @if all.is_empty() { p { "No plan is registered yet. Without one every comparison is exploratory." } }
        @else { (as_blocks(&table(&all))) }
        @if may::<RegisterPlan>(visit.signed()?) {
            div.mends {
                a.button.main href="/plans/new" { "Write a plan" }
                a.button href="/plans/outlook" { "How many cases, and by when" }
            }
        }
    };
    Ok(frame.show(&page("Analysis plans", content)))
}

fn table(all: &[Plan]) -> Table<5> {
    let row = |plan: &Plan| {
        [
            Cell::shown(html! { a href={ "/plans/" (plan.id) } { "Plan " (name(plan)) } }),
            Cell::text(&plan.new.title),
            Cell::text(moment(plan.at)),
            Cell::text(plan.new.cases_before),
            Cell::text(plan.comparisons_before),
        ]
    };
    Table {
        caption: "The newest first; a version never changes".to_owned(),
        columns: [
            Column::words("Plan"),
            Column::words("Title"),
            Column::words("Registered"),
            Column::numbers("Cases entered before"),
            Column::numbers("Comparisons before"),
        ],
        rows: all.iter().map(row).collect(),
    }
}

/// A plan with what was changed in it.
struct Shown {
    kept: Plan,
    plan: AnalysisPlan,
    changes: Vec<Change>,
}

#[get("/plans/{id}")]
pub(super) async fn one(
    permit: Permit<ReadPlans>,
    visit: Visit,
    id: Part<PlanId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let shown = store
        .read(permit, move |session| {
            let kept = session.find_plan(id.0)?;
            let (plan, changes) = (plans::read(&kept)?, plans::amended(session, &kept)?);
            Ok::<_, RegistryError>(Shown { kept, plan, changes })
        })
        .await?;
    let frame = visit.frame(&store).await?;
    let caller = visit.signed()?;
    let Shown { kept, plan, changes } = &shown;
    let title = format!("Plan {}", name(kept));
    let content = html! {
        div.title {
            div {
                p.small { (title) " · registered " (moment(kept.at)) }
                h1 { (plan.title()) }
            }
            a href="/plans" { "All plans" }
        }
        div.sides {
            div {
                p.lead { (plan.question()) }
                @if let Some(reason) = &kept.reason { (amendment(reason, changes)) }
                (said::plan(plan))
                (caution("A plan fixed beforehand keeps chance from choosing the question; it does not make groups alike."))
            }
            aside.margin {
                (known(kept))
                (cost::section(&costs(plan), None))
                section {
                    h2 { "From here" }
                    @if may::<RunComparison>(caller) { p { a href={ "/comparisons?plan=" (kept.id) } { "Carry it out on a data cut" } } }
                    @if may::<RegisterPlan>(caller) { p { a href={ "/plans/" (kept.id) "/amend" } { "Amend it" } } }
                    p.small { "SHA-256 of the plan: " code { (kept.content_hash) } }
                }
            }
        }
    };
    Ok(frame.show(&page(&title, content)))
}

/// How much anybody can have known when the plan was fixed.
fn known(kept: &Plan) -> Markup {
    html! {
        section {
            h2 { "When it was registered" }
            dl {
                dt { "cases in scope entered" } dd { (kept.new.cases_before) }
                dt { "comparisons computed" } dd { (kept.comparisons_before) }
                dt { "times one was opened, each reader once" } dd { (kept.opened_before) }
            }
            @if kept.new.cases_before == 0 && kept.comparisons_before == 0 {
                p { "Nobody can have looked." }
            } @else {
                p { "Printed with every result, so that readers can judge." }
            }
        }
    }
}

fn amendment(reason: &str, changes: &[Change]) -> Markup {
    let value = |value: &Option<Value>| match value {
        None => "nothing".to_owned(),
        Some(Value::String(text)) => text.clone(),
        Some(Value::Array(items)) => {
            let name = |item: &Value| item.as_str().map_or_else(|| item.to_string(), str::to_owned);
            items.iter().map(name).collect::<Vec<_>>().join(", ")
        }
        Some(other) => other.to_string(),
    };
    let row = |change: &Change| {
        [
            Cell::text(change.pointer.trim_start_matches('/').replace(['/', '_'], " ")),
            Cell::text(value(&change.before)),
            Cell::text(value(&change.after)),
        ]
    };
    let table = Table {
        caption: "What the amendment changed".to_owned(),
        columns: ["Place", "Before", "Now"].map(Column::words),
        rows: changes.iter().map(row).collect(),
    };
    html! {
        section {
            h2 { "Amended" }
            p { (reason) }
            (table)
        }
    }
}
