//! The first page.

use actix_web::{HttpResponse, get};
use maud::html;

use super::{answer, caution, page};

#[get("/")]
pub(super) async fn start() -> HttpResponse {
    answer(page(
        "Research registry",
        "Research registry",
        &html! {
            h1 { "With the beam, or without it" }
            p.lead {
                "Several centres send de-identified cases of catheter ablation, with X-ray and without. "
                "This registry compares the two on data that were frozen first, with margins that were "
                "fixed first, and publishes what can be shown without disclosing anyone."
            }
            p { a href="/summaries" { "Published safety summaries" } }
            p { a href="/api/v1/" { "For programs: the API" } }
            (caution())
        },
    ))
}
