//! What is recorded: every field with its meaning, its codes and its limits, made of the
//! dictionary so that it cannot differ from what is checked.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_schema::case::{CASE_GROUPS, complication_variables, follow_up_variables};
use quietbeam_schema::dictionary::{Need, Variable};

use super::components::caution;
use super::frame::{Visit, answer};
use crate::api::Problem;
use crate::store::Store;

#[get("/help")]
pub(super) async fn help(visit: Visit, store: web::Data<Store>) -> Result<HttpResponse, Problem> {
    let named = ("What is recorded", "Research registry");
    Ok(answer(StatusCode::OK, visit.draw_open(&store, named, content()).await?))
}

fn content() -> Markup {
    let complications = complication_variables();
    let follow_up = follow_up_variables();
    let own =
        CASE_GROUPS.iter().map(|group| (group.key, group.label, group.variables.iter().collect::<Vec<_>>()));
    let groups: Vec<(&str, &str, Vec<&Variable>)> = own
        .chain([("complications", "Complications", complications), ("follow_up", "Follow-up", follow_up)])
        .collect();
    html! {
        div.title { div {
            h1 { "What is recorded" }
            p.quiet { "A quarter, and days and minutes from the procedure; never a date, a name or a number of a person." }
        } }
        p { @for (key, label, _) in &groups { a href={ "#" (key) } { (label) } " · " } a href="/api/v1/" { "For programs" } }
        @for (key, label, variables) in &groups {
            h2 id=(key) { (label) }
            dl.help-fields { @for variable in variables { (field(variable)) } }
        }
        (caution("Ask your own team what fits you."))
    }
}

fn field(variable: &Variable) -> Markup {
    html! {
        div id={ "field-" (variable.key) } {
            dt { (variable.label) }
            dd {
                p { (variable.help.trim()) }
                p.small {
                    @match variable.need {
                        Need::Always => "Always asked.",
                        Need::When(condition) => { "Asked when " (condition.words()) "." },
                        Need::Optional => "Optional.",
                    }
                    @if !variable.unit.is_empty() { " In " (super::shown::unit_sign(variable.unit)) "." }
                    @if let Some((low, high)) = variable.query { " Outside " (low) " to " (high) " it is asked about." }
                    " In files: " code { (variable.key) } "."
                }
                @if let Some(list) = variable.codes() {
                    details {
                        summary { (list.codes.len()) " codes" }
                        dl { @for code in list.codes { dt { (code.label) " " code { (code.code) } } dd { (code.definition) } } }
                    }
                }
            }
        }
    }
}
