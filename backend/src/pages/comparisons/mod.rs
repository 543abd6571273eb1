//! Comparisons: what was run, carrying out a plan on a data cut, and the report of one.

mod adjudicated;
mod banner;
mod beside;
mod by_centre;
mod checklist;
mod driving;
mod found;
mod harms;
mod later;
mod questions;
pub(super) mod report;
mod treated;
mod who;
pub(super) mod writing;

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::ids::{DataCutId, PlanId};
use serde::Deserialize;
use std::collections::BTreeMap;

use super::components::{Cell, Column, Control, FieldRow, Pick, Picker, Table, Word, error_summary};
use super::form::Posted;
use super::frame::{Frame, Page, Visit, may, see_other};
use super::plans::name;
use super::trouble::{Trouble, Troubles};
use super::words::moment;
use crate::access::Permit;
use crate::access::action::{ReadComparisons, RunComparison};
use crate::api::Problem;
use crate::api::brought::Query;
use crate::pages::components::FieldId;
use crate::registry::comparisons::{self, KeptQuestion, Question};
use crate::store::{ComparisonRun, DataCut, Plan, Store, StoreError};

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::Comparisons), content }
}

/// What another page has chosen already.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Chosen {
    plan: String,
    cut: String,
}

/// What there is to choose from, and what was run.
struct Known {
    plans: Vec<Plan>,
    cuts: Vec<DataCut>,
    runs: Vec<ComparisonRun>,
}

impl Known {
    async fn read(permit: Permit<ReadComparisons>, store: &Store) -> Result<Self, Problem> {
        let known = store.read(permit, |session| {
            let (plans, cuts) = (session.list_plans()?, session.list_cuts()?);
            Ok::<_, StoreError>(Self { plans, cuts, runs: session.list_comparison_runs()? })
        });
        Ok(known.await?)
    }
}

#[get("/comparisons")]
pub(super) async fn list(
    permit: Permit<ReadComparisons>,
    visit: Visit,
    chosen: Query<Chosen>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let known = Known::read(permit, &store).await?;
    let frame = visit.frame(&store).await?;
    let runs = may::<RunComparison>(visit.signed()?);
    Ok(frame.show(&page("Comparisons", known.draw(&frame, runs.then_some((&chosen.0, None))))))
}

#[post("/comparisons")]
pub(super) async fn compare(
    permit: Permit<RunComparison>,
    visit: Visit,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let chosen = Chosen { plan: posted.one("plan").to_owned(), cut: posted.one("cut").to_owned() };
    let troubles = match named(&chosen) {
        Ok((plan, cut)) => {
            let keep = visit.signed()?.permit::<RunComparison>()?;
            let reader = store.get_ref().clone();
            let work = move || comparisons::compute(&reader, permit, cut, Question::Plan(plan));
            let computed = web::block(work).await.map_err(|_| Problem::busy())??;
            let kept = store.write(keep, move |session| {
                // The same question to the same data has the same answer: one look, not two.
                match computed.same(session)? {
                    Some(before) => Ok::<_, StoreError>(before),
                    None => computed.keep(session),
                }
            });
            return Ok(see_other(&format!("/comparisons/{}", kept.await?.id)));
        }
        Err(troubles) => troubles,
    };
    let known = Known::read(visit.signed()?.permit()?, &store).await?;
    let frame = visit.frame(&store).await?;
    let content = known.draw(&frame, Some((&chosen, Some(&troubles))));
    Ok(frame.refuse(&page("Must be mended: comparisons", content)))
}

fn named(chosen: &Chosen) -> Result<(PlanId, DataCutId), Troubles> {
    let trouble =
        |field: &str, sentence: &str| Trouble { field: FieldId::of(field), sentence: sentence.to_owned() };
    match (chosen.plan.parse(), chosen.cut.parse()) {
        (Ok(plan), Ok(cut)) => Ok((plan, cut)),
        (plan, cut) => {
            let plan = plan.is_err().then(|| trouble("plan", "Choose the plan to carry out."));
            let cut = cut.is_err().then(|| trouble("cut", "Choose the data cut."));
            let rows = [plan, cut].into_iter().flatten().collect();
            Err(Troubles::of_rows(rows)
                .unwrap_or_else(|| Troubles::with("plan", "Choose the plan to carry out.")))
        }
    }
}

impl Known {
    fn draw(&self, frame: &Frame, runs: Option<(&Chosen, Option<&Troubles>)>) -> Markup {
        html! {
            div.title {
                div {
                    h1 { "Comparisons" }
                    p.quiet { "Zero-fluoroscopy against conventional, as a plan orders, on frozen data. Every look is kept and counted." }
                }
            }
            @if let Some((_, Some(troubles))) = runs { (error_summary(troubles, "the plan can be carried out")) }
            @if self.runs.is_empty() { p { "Nothing was compared yet." } } @else { (self.table()) }
            @if let Some((chosen, troubles)) = runs { (self.form(frame, chosen, troubles)) }
        }
    }

    fn table(&self) -> Table<4> {
        let plans: BTreeMap<String, &Plan> =
            self.plans.iter().map(|plan| (plan.id.to_string(), plan)).collect();
        let cuts: BTreeMap<String, &DataCut> =
            self.cuts.iter().map(|cut| (cut.id.to_string(), cut)).collect();
        let row = |run: &ComparisonRun| {
            let (asked, title) = match serde_json::from_str(&run.request) {
                Ok(KeptQuestion::Plan { plan, .. }) => match plans.get(&plan.to_string()) {
                    Some(plan) => (format!("Plan {}", name(plan)), plan.new.title.clone()),
                    None => ("A plan".to_owned(), String::new()),
                },
                _ => ("No plan".to_owned(), "exploratory: nothing was fixed beforehand".to_owned()),
            };
            let cut = cuts.get(&run.cut.to_string()).map_or("", |cut| cut.name.as_str());
            [
                Cell::shown(html! { a href={ "/comparisons/" (run.id) } { (asked) } }),
                Cell::text(title),
                Cell::text(cut),
                Cell::text(moment(run.at)),
            ]
        };
        Table {
            caption: "The newest first".to_owned(),
            columns: ["Asked", "Title", "Data cut", "Computed"].map(Column::words),
            rows: self.runs.iter().map(row).collect(),
        }
    }

    fn form(&self, frame: &Frame, chosen: &Chosen, troubles: Option<&Troubles>) -> Markup {
        if self.plans.is_empty() || self.cuts.is_empty() {
            return html! {
                p {
                    "To compare, "
                    @if self.plans.is_empty() { a href="/plans/new" { "write a plan" } " first" }
                    @if self.plans.is_empty() && self.cuts.is_empty() { ", then " }
                    @if self.cuts.is_empty() { a href="/data-cuts" { "freeze the data" } }
                    "."
                }
            };
        }
        let labels = |id: String, label: String| (id, label);
        let plans: Vec<(String, String)> = self
            .plans
            .iter()
            .map(|plan| labels(plan.id.to_string(), format!("{} {}", name(plan), plan.new.title)))
            .collect();
        let cuts: Vec<(String, String)> = self
            .cuts
            .iter()
            .map(|cut| labels(cut.id.to_string(), format!("{}, {}", cut.name, moment(cut.at))))
            .collect();
        let picker = |name, picks: &'_ [(String, String)], chosen: &'_ str| -> Markup {
            let label = if name == "plan" { "Plan" } else { "Data cut" };
            let picks = picks.iter().map(|(value, label)| Pick::plain(value, label)).collect();
            let chosen = Some(chosen).filter(|chosen| !chosen.is_empty());
            let row = FieldRow::of_form(
                name,
                label,
                None,
                Control::Picker(Picker { name, picks, chosen }),
                troubles,
            );
            html! { (row) }
        };
        html! {
            form method="post" action="/comparisons" {
                (frame.token())
                h2 { "Carry out a plan" }
                div.fields {
                    (picker("plan", &plans, &chosen.plan))
                    (picker("cut", &cuts, &chosen.cut))
                }
                div.mends { button.button.main type="submit" { "Compare" } }
                p.small { "Whoever has seen the arms can no longer plan as if not: a plan registered later says how often anyone had looked." }
            }
        }
    }
}
