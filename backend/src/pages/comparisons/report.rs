//! The report of a comparison: what was asked, what was shown and what not, and everything
//! that a hostile reader would ask for.

use std::sync::Arc;

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::comparison::Comparison as Unplanned;
use quietbeam_analysis::study::numerals::count;
use quietbeam_analysis::study::planned::PlannedComparison;
use quietbeam_analysis::study::words::words;
use quietbeam_schema::ids::ComparisonId;

use super::{banner, beside, found, page, who};
use crate::access::Permit;
use crate::access::action::ReadComparisons;
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::frame::Visit;
use crate::pages::words::moment;
use crate::registry::comparisons::{Outcome, Registered};
use crate::registry::reports::{Report, Reports};
use crate::store::Store;

#[get("/comparisons/{id}")]
pub(in crate::pages) async fn open(
    permit: Permit<ReadComparisons>,
    visit: Visit,
    id: Part<ComparisonId>,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    let opened = store.write(permit, move |session| session.open_comparison(id.0)).await?;
    let again = visit.signed()?.permit::<ReadComparisons>()?;
    let (reader, known) = (store.get_ref().clone(), reports.into_inner());
    let work = move || known.of(&reader, again, opened);
    let report = web::block(work).await.map_err(|_| Problem::busy())??;
    let frame = visit.frame(&store).await?;
    let (title, content) = match &report.outcome {
        Outcome::Planned(registered, found) => {
            (found.plan.title().to_owned(), planned(&report, registered, found))
        }
        Outcome::Unplanned(found) => ("Exploratory comparison".to_owned(), unplanned(&report, found)),
    };
    Ok(frame.show(&page(&title, content)))
}

fn planned(report: &Arc<Report>, registered: &Registered, found: &PlannedComparison) -> Markup {
    html! {
        p.small {
            "Comparison report · plan " a href={ "/plans/" (registered.id) } { (registered.name) }
            ", registered " (&registered.registered_at[..10])
            " · data cut " a href={ "/data-cuts/" (report.cut.id) } { (report.cut.name) } ", " (&report.cut.at.to_string()[..10])
        }
        h1 { (found.plan.title()) }
        p.lead { "A non-inferiority comparison in a registry. Patients were not randomised." }
        (banner::of(found))
        (care(registered, found))
        (found::table(found))
        (found::populations(found))
        (who::flow(report, found))
        (beside::sensitivity(found))
        (beside::effusion(&found.exploratory.effusion))
        (beside::dose(&found.exploratory.dose))
        (beside::centres(&found.exploratory.by_centre))
        (foot(report, Some(registered)))
    }
}

/// What weakens the comparison; it stands under every verdict.
fn care(registered: &Registered, found: &PlannedComparison) -> Markup {
    html! {
        section.caution {
            h2 { "Read with care" }
            div {
                p { @for caution in found.cautions { (caution) " " } }
                p { "No adjustment answers for what was not recorded, such as how hard a case looked beforehand." }
                p { (known(registered)) }
                @for warning in &found.warnings { p { (warning.to_string()) } }
            }
        }
    }
}

/// How much anybody can have known when the plan was fixed.
fn known(registered: &Registered) -> String {
    if registered.is_fully_prespecified() && registered.opened_before == 0 {
        return "The plan was registered before the first case in its scope was entered and before anything was compared.".to_owned();
    }
    let frozen = if registered.cut_taken_before { " The data had been frozen before." } else { "" };
    format!(
        "When the plan was registered, {} cases in its scope had been entered, {} comparisons computed, and one opened {} times.{frozen}",
        count(registered.cases_before.unsigned_abs()),
        count(registered.comparisons_before.unsigned_abs()),
        count(registered.opened_before.unsigned_abs()),
    )
}

fn unplanned(report: &Arc<Report>, found: &Unplanned) -> Markup {
    html! {
        p.small {
            "Exploratory comparison · data cut " a href={ "/data-cuts/" (report.cut.id) } { (report.cut.name) } ", " (&report.cut.at.to_string()[..10])
        }
        h1 { "Zero-fluoroscopy against conventional, without a plan" }
        p.lead { "Nothing was fixed before the data were looked at, so nothing here is a claim, whatever the intervals say." }
        section.caution { h2 { "Read with care" } div { @for caution in found.cautions { p { (caution) } } } }
        div.scroll tabindex="0" role="region" aria-label="The comparison as text" { pre.as-text { (words(found)) } }
        (foot(report, None))
    }
}

fn foot(report: &Arc<Report>, registered: Option<&Registered>) -> Markup {
    html! {
        section.provenance {
            h2 { "Where it comes from" }
            dl.terms {
                @if let Some(registered) = registered { dt { "Plan" } dd { code { (registered.plan_hash) } } }
                dt { "Data cut" } dd { code { (report.cut.content_hash) } }
                dt { "Result" } dd {
                    code { (report.kept.result_hash) }
                    p.small {
                        "Computed " (moment(report.kept.at)) " by " (report.kept.content.software_version) ". "
                        @if report.as_kept { "Computed again now, to the letter the same." }
                        @else { "This version of the software computes it differently; what was kept stands in the JSON." }
                    }
                }
                dt { "As JSON" } dd { a href={ "/api/v1/comparisons/" (report.kept.id) } { "what was kept" } }
            }
            p.small { "Pseudonymous research data. Counts by centre are not for publication." }
        }
    }
}
