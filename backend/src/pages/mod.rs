//! Pages for people: what is public, rendered by the server, without script.

mod start;
mod summary;

use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use actix_web::web::ServiceConfig;
use actix_web::{HttpResponse, get};
use maud::{DOCTYPE, Markup, html};

/// Adds the pages.
pub(crate) fn routes(config: &mut ServiceConfig) {
    config
        .service(start::start)
        .service(summary::published_index)
        .service(summary::published)
        .service(stylesheet);
}

/// A page as an answer.
pub(crate) fn answer(page: Markup) -> HttpResponse {
    HttpResponse::Ok().insert_header((CONTENT_TYPE, "text/html; charset=utf-8")).body(page.into_string())
}

#[get("/assets/quietbeam.css")]
async fn stylesheet() -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/css; charset=utf-8"))
        .insert_header((CACHE_CONTROL, "public, max-age=300"))
        .body(include_str!("quietbeam.css"))
}

/// A whole page around its content.
pub(crate) fn page(title: &str, place: &str, content: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · Quietbeam" }
                link rel="stylesheet" href="/assets/quietbeam.css";
            }
            body {
                (head(place))
                main.column { (content) }
            }
        }
    }
}

/// What stands in the place of a page that cannot be shown.
pub(crate) fn refusal(title: &str, detail: &str) -> Markup {
    page(
        title,
        "Research registry",
        &html! {
            h1 { (title) }
            p.lead { (detail) }
            p { a href="/summaries" { "Published safety summaries" } }
        },
    )
}

/// The head of every page: the mark is an interval with an open ring as its estimate.
fn head(place: &str) -> Markup {
    html! {
        a.skip href="#work" { "Skip to the work" }
        header {
            div.column {
                a.mark href="/" {
                    svg viewBox="0 0 40 18" width="40" height="18" aria-hidden="true" {
                        path d="M2 3v12M2 9h11M27 9h11M38 3v12" fill="none" stroke="currentColor" stroke-width="2.2" {}
                        circle cx="20" cy="9" r="6" fill="none" stroke="currentColor" stroke-width="2.4" {}
                    }
                    "Quietbeam"
                }
                span.place { (place) }
            }
        }
        span id="work" {}
    }
}

/// The caution that stands on every public page.
fn caution() -> Markup {
    html! {
        section.caution {
            h2 { "Read with care" }
            p {
                "This describes groups, not a person. Patients were not assigned to a strategy by chance. "
                "Fluoroscopy stays available in every room. For research: not for the care of an individual "
                "patient. Ask your own team what fits you."
            }
        }
    }
}
