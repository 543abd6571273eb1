//! The report of a comparison: what was asked, what was shown and what not, and everything
//! that a hostile reader would ask for.

use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::comparison::Comparison as Unplanned;
use quietbeam_analysis::study::report::Report;
use quietbeam_analysis::study::words::words;
use quietbeam_schema::ids::ComparisonId;

use super::{
    adjudicated, banner, beside, by_centre, checklist, driving, found, harms, later, page, questions,
    treated, who, writing,
};
use crate::access::Permit;
use crate::access::action::{ExportDeidentified, ReadComparisons, WriteReport};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::api::comparisons::{opened, recheck_kit};
use crate::pages::frame::{Visit, may};
#[cfg(feature = "pdf")]
use crate::pages::on_paper::Document;
use crate::pages::words::moment;
use crate::registry::RegistryError;
use crate::registry::comparisons::Registered;
use crate::registry::reports::{Found, Opened, Reports};
use crate::store::Store;

/// The report as a file; without a plan, what was kept.
#[get("/comparisons/{id}/report.json")]
pub(in crate::pages) async fn as_json(
    permit: Permit<ReadComparisons>,
    visit: Visit,
    id: Part<ComparisonId>,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    let opened = opened(permit, visit.signed()?, id.0, (&store, reports)).await?;
    let text = match &opened.found {
        Found::Planned(_, report) => serde_json::to_string(report).map_err(RegistryError::NotWritten)?,
        Found::Unplanned(_) => opened.kept.content.result.clone(),
    };
    let as_file = (CONTENT_DISPOSITION, "attachment; filename=\"comparison-report.json\"");
    Ok(HttpResponse::Ok().insert_header((CONTENT_TYPE, "application/json")).insert_header(as_file).body(text))
}

/// The kit to compute it again in base R.
#[get("/comparisons/{id}/recheck.zip")]
pub(in crate::pages) async fn recheck(
    look: Permit<ExportDeidentified>,
    visit: Visit,
    id: Part<ComparisonId>,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    recheck_kit(look, visit.signed()?, id.0, (store.get_ref().clone(), reports)).await
}

#[get("/comparisons/{id}")]
pub(in crate::pages) async fn open(
    permit: Permit<ReadComparisons>,
    visit: Visit,
    id: Part<ComparisonId>,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    let opened = opened(permit, visit.signed()?, id.0, (&store, reports)).await?;
    let frame = visit.frame(&store).await?;
    let caller = visit.signed()?;
    let form = match may::<WriteReport>(caller) {
        true => writing::form(&frame, &opened, (None, None)),
        false => Markup::default(),
    };
    let extras = Extras { rows: may::<ExportDeidentified>(caller), form, before: Markup::default() };
    let (title, content) = said(&opened, extras);
    Ok(frame.show(&page(title, content)))
}

/// The report as a typeset document: what the page says, laid out for paper.
#[cfg(feature = "pdf")]
#[get("/comparisons/{id}/report.pdf")]
pub(in crate::pages) async fn as_pdf(
    permit: Permit<ReadComparisons>,
    visit: Visit,
    id: Part<ComparisonId>,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    let opened = opened(permit, visit.signed()?, id.0, (&store, reports)).await?;
    let (title, content) = said(&opened, Extras::default());
    let foot = format!(
        "Quietbeam · pseudonymous research data · comparison {} · cut {}",
        &opened.kept.result_hash[..12],
        &opened.cut.content_hash[..12]
    );
    let file = "comparison-report.pdf".to_owned();
    Document { title: title.to_owned(), foot, content, file }.answer().await
}

/// What stands in the report for some readers and not for others.
#[derive(Default)]
pub(super) struct Extras {
    /// The reader may take rows out and is led to them.
    pub(super) rows: bool,
    /// What the reader may write, under the checklist.
    pub(super) form: Markup,
    /// What must be mended in what was written.
    pub(super) before: Markup,
}

/// What the report is called and says.
pub(super) fn said(opened: &Opened, extras: Extras) -> (&str, Markup) {
    match &opened.found {
        Found::Planned(registered, report) => {
            (report.first_lines.title.as_str(), planned(opened, registered, report, &extras))
        }
        Found::Unplanned(found) => ("Exploratory comparison", unplanned(opened, found)),
    }
}

fn planned(opened: &Opened, registered: &Registered, report: &Report, extras: &Extras) -> Markup {
    let (first, found) = (&report.first_lines, &report.planned);
    html! {
        p.small.kicker {
            "Comparison report · plan " a href={ "/plans/" (registered.id) } { (registered.name) }
            ", registered " (&registered.registered_at[..10]) " · " (cut(opened))
        }
        h1 { (first.title) }
        (extras.before)
        p.lead { (first.design) }
        (checklist::standing(&report.checklist))
        (banner::of(report))
        section.caution {
            h2 { "Read with care" }
            div {
                p { (first.registered) }
                p { (first.look) }
                p { @for caution in &first.cautions { (caution) " " } }
            }
        }
        (found::table(found))
        @for (at, forest) in report.by_centre.iter().enumerate() {
            (by_centre::forest(forest, found.level(), at + 1))
            @if let Some(why) = by_centre::not_pooled(forest) { p.small { (why) } }
        }
        @let figures = report.by_centre.len();
        (who::flow(&report.flow, figures + 1))
        (treated::section(&report.who_was_treated, figures + 2))
        (found::populations(found, &report.echo_held_alike))
        (driving::section(report))
        @let figures = figures + treated::figures(&report.who_was_treated);
        (questions::section(report, figures + 2))
        (later::section(&report.recurrence, &report.procedure_time, figures + 3))
        (beside::effusion(&found.exploratory.effusion, figures + 4))
        (beside::dose(&found.exploratory.dose, &report.dose_in_two_parts, figures + 5))
        (harms::section(&report.harms))
        (harms::by_centre(&report.centre_charts, figures + 6))
        (adjudicated::section(&report.adjudication))
        (checklist::section(&report.checklist, &opened.texts))
        (extras.form)
        (foot(opened, Some(registered), extras.rows))
    }
}

fn cut(opened: &Opened) -> Markup {
    let cut = &opened.cut;
    html! { "data cut " a href={ "/data-cuts/" (cut.id) } { (cut.name) } ", " (&cut.at.to_string()[..10]) }
}

fn unplanned(opened: &Opened, found: &Unplanned) -> Markup {
    html! {
        p.small.kicker { "Exploratory comparison · " (cut(opened)) }
        h1 { "Zero-fluoroscopy against conventional, without a plan" }
        p.lead { "Nothing was fixed before the data were looked at, so nothing here is a claim, whatever the intervals say." }
        section.caution { h2 { "Read with care" } div { @for caution in found.cautions { p { (caution) } } } }
        div.scroll tabindex="0" role="region" aria-label="The comparison as text" { pre.as-text { (words(found)) } }
        (foot(opened, None, false))
    }
}

/// `rows` for those who may take rows of the cut out.
fn foot(opened: &Opened, registered: Option<&Registered>, rows: bool) -> Markup {
    let kept = &opened.kept;
    html! {
        section.provenance {
            h2 { "Where it comes from" }
            dl.terms {
                @if let Some(registered) = registered { dt { "Plan" } dd { code { (registered.plan_hash) } } }
                dt { "Data cut" } dd { code { (opened.cut.content_hash) } }
                dt { "Result" } dd {
                    code { (kept.result_hash) }
                    p.small {
                        "Computed " (moment(kept.at)) " by " (kept.content.software_version) ". "
                        @if opened.as_kept { "Computed again now, to the letter the same." }
                        @else { "This version of the software computes it differently." }
                    }
                }
                @if rows { dt { "To compute again" } dd {
                    a href={ "/comparisons/" (kept.id) "/recheck.zip" } { "comparison-recheck.zip" }
                    p.small { "Tables and a script in base R. As good as rows: keep it as you keep them." }
                } }
                dt { "To take away" } dd {
                    @if cfg!(feature = "pdf") { a href={ "/comparisons/" (kept.id) "/report.pdf" } { "comparison-report.pdf" } " · " }
                    a href={ "/comparisons/" (kept.id) "/report.json" } { "comparison-report.json" }
                }
            }
            p.small { "Pseudonymous research data. Counts by centre are not for publication." }
        }
    }
}
