//! The first page.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get};
use maud::html;

use super::components::caution;
use super::frame::{Visit, answer, public_page, see_other};

#[get("/")]
pub(super) async fn start(visit: Visit) -> HttpResponse {
    if visit.caller().is_some() {
        return see_other("/desk");
    }
    answer(
        StatusCode::OK,
        public_page(
            "Research registry",
            "Research registry",
            &html! {
                div.title { h1 { "With the beam, or without it" } }
                p.lead {
                    "Several centres send de-identified cases of catheter ablation, with X-ray and without. "
                    "This registry compares the two on data that were frozen first, with margins that were "
                    "fixed first, and publishes what can be shown without disclosing anyone."
                }
                ul.can-do {
                    li { a href="/summaries" { "Published safety summaries" } span { "Open to everyone." } }
                    li { a href="/sign-in" { "Sign in" } span { "For members of the network." } }
                    li { a href="/help" { "What is recorded" } span { "Every field with its meaning, its codes and its limits." } }
                    li { a href="/api/v1/" { "The API" } span { "For programs." } }
                }
                (caution("Ask your own team what fits you."))
            },
        ),
    )
}
