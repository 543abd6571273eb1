//! A centre's own picture: what it says in words first, then the figures behind it, each with
//! its numbers. Nothing is compared with a named centre, and nobody is judged.

mod alarms;
mod completeness;
mod detection;
mod digits;
mod dose;
mod learning;
pub(super) mod published;
mod x_ray;

use actix_web::{HttpResponse, get, web};
use maud::{Markup, Render, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_analysis::study::own_picture::FEW;
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::CentreCode;
use serde::Deserialize;

use super::components::{Cell, Pick, Table, Word, caution};
use super::figures::{Drawings, Figure, Size, Svg};
use super::frame::{Page, Visit};
use super::words::counted;
use crate::access::Permit;
use crate::access::action::ReadOwnPicture;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::registry::RegistryError;
use crate::registry::own_picture::{Drawn, draw};
use crate::store::{Store, StoreError};
use quietbeam_analysis::study::numerals::in_words;

/// Which centre; a blank asks for the first within reach.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Asked {
    centre: String,
}

#[get("/our-picture")]
pub(super) async fn our_picture(
    permit: Permit<ReadOwnPicture>,
    visit: Visit,
    asked: Query<Asked>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let wanted = asked.0.centre.trim().to_owned();
    let (centres, drawn) = store
        .read(permit, move |session| {
            let centres = session.list_centres()?;
            let drawn = chosen(&wanted, &centres)?.map(|code| draw(session, code)).transpose()?;
            Ok::<_, RegistryError>((centres, drawn))
        })
        .await?;
    let content = html! {
        div.title {
            div {
                h1 { "Our picture" }
                p.quiet { "A picture of what was entered, not a judgement on a person." }
            }
            a href="/our-picture/published" { "Published, and ours beside" }
        }
        @if centres.len() > 1 { (chooser(&centres, drawn.as_ref())) }
        @match &drawn {
            Some(drawn) => (picture(drawn)),
            None => p { "There is no centre yet." },
        }
    };
    Ok(frame.show(&Page { title: "Our picture".to_owned(), word: Some(Word::OurPicture), content }))
}

/// The centre that was named, or the first of those within reach.
fn chosen(named: &str, centres: &[Centre]) -> Result<Option<CentreCode>, StoreError> {
    match named.trim() {
        "" => Ok(centres.first().map(|centre| centre.code)),
        // No centre has such a code, which is answered like one out of reach.
        code => code.parse().map(Some).map_err(|_| StoreError::Absent("centre")),
    }
}

fn chooser(centres: &[Centre], drawn: Option<&Drawn>) -> Markup {
    let codes: Vec<String> = centres.iter().map(|centre| centre.code.to_string()).collect();
    let labels: Vec<String> =
        centres.iter().map(|centre| format!("{}, {}", centre.code, centre.name)).collect();
    let picks = codes.iter().zip(&labels).map(|(value, label)| Pick::plain(value, label));
    let chosen = drawn.map(|drawn| drawn.centre.code.to_string());
    html! {
        form.filters method="get" action="/our-picture" {
            div {
                label.label for="filter-centre" { "Centre" }
                select.select id="filter-centre" name="centre" {
                    @for pick in picks {
                        option value=(pick.value) selected[Some(pick.value) == chosen.as_deref()] { (pick.label) }
                    }
                }
            }
            div { button.button type="submit" { "Show" } }
        }
    }
}

/// What one figure says, in a sentence, and the figure.
struct Told {
    id: &'static str,
    sentence: String,
    figure: Markup,
}

impl Told {
    /// A figure whose words begin with its sentence.
    fn new<const N: usize>(id: &'static str, sentence: String, parts: Parts<N>) -> Self {
        let sentence = unbroken(&sentence);
        let figure = Figure {
            id,
            lead: parts.lead.to_owned(),
            caption: unbroken(&parts.caption),
            drawings: Drawings::of(parts.draw),
            in_words: format!("{sentence} {}", unbroken(&parts.more)).trim_end().to_owned(),
            numbers: parts.numbers,
        };
        Self { id, sentence, figure: figure.render() }
    }
}

/// Keeps a number and its unit on one line.
fn unbroken(text: &str) -> String {
    [" %", " mGy", " Gy·cm²"]
        .into_iter()
        .fold(text.to_owned(), |text, unit| text.replace(unit, &unit.replace(' ', "\u{a0}")))
}

/// What a figure is made of.
struct Parts<'a, const N: usize> {
    lead: &'static str,
    caption: String,
    draw: Box<dyn Fn(Size) -> Svg + 'a>,
    more: String,
    numbers: Table<N>,
}

fn picture(drawn: &Drawn) -> Markup {
    let Drawn { centre, picture, network, left_out } = drawn;
    let span = match (picture.quarters.first(), picture.quarters.last()) {
        (Some(first), Some(last)) if first.quarter != last.quarter => {
            format!(", {} to {}", first.quarter, last.quarter)
        }
        (Some(only), _) => format!(", {}", only.quarter),
        _ => String::new(),
    };
    let told = [
        completeness::fields(&picture.completeness, picture.cases),
        completeness::denominators(&picture.quarters),
        x_ray::over_time(&picture.quarters, network),
        dose::two_part(&picture.dose, network),
        dose::levels(&picture.dose, network),
        digits::last_digits(&picture.digits),
        x_ray::cross_overs(&picture.cross_overs),
        detection::routes(&picture.detection),
        learning::operators(&picture.learning),
    ];
    html! {
        p.lead { "Centre " (centre.code) ": " (counted_cases(picture.cases)) (span) "." }
        @if *left_out > 0 {
            p { (counted(*left_out, "case is", "cases are")) " left out: the present rules no longer accept what stands there." }
        }
        p.quiet {
            "Where fewer than " (in_words(FEW as usize)) " cases stand behind a share, a median or a pattern, it is not shown: "
            "it would say nothing."
        }
        section.said-first aria-label="What it says" {
            ol { @for one in &told { li { a href={ "#" (one.id) } { (one.sentence) } } } }
        }
        (alarms::groups(picture, centre.code))
        @for one in &told { (one.figure) }
        (caution(
            "A centre's own numbers are small and swing by chance. Operators stand by code and mean something at this \
             centre alone. The local medical physicist decides what a dose calls for."
        ))
    }
}

fn counted_cases(cases: u32) -> String {
    format!("{} {}", count(cases), if cases == 1 { "case" } else { "cases" })
}

/// A cell that is not shown without its text.
fn cell(text: Option<String>) -> Cell {
    text.map_or(Cell::NotShown, Cell::text)
}
