//! Changing a submitted case: the same form as on entering it, with a reason. Nothing is
//! overwritten: the change is a new revision.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::finding::Finding;
use quietbeam_schema::ids::{CaseCode, CentreCode};

use crate::access::Permit;
use crate::access::action::ChangeCase;
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{
    Control, FieldId, FieldRow, FormFoot, Mark, State, Text, Word, case_code, error_summary,
};
use crate::pages::entry::posted::filled_in;
use crate::pages::entry::report::Report;
use crate::pages::entry::sections::Sections;
use crate::pages::entry::{at_fields, rearranged, rooms};
use crate::pages::frame::{Page, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::pages::upload::Brought;
use crate::registry::cases::{self, NewRecord};
use crate::registry::{IfMatch, RegistryError, Version};
use crate::store::{CaseRow, Store};

#[get("/cases/{code}/change")]
pub(in crate::pages) async fn change_page(
    permit: Permit<ChangeCase>,
    visit: Visit,
    code: Part<CaseCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let row = current(permit, code.0, &store).await?;
    let form = cases::form_of(&row)?;
    draw(&visit, Changing::of(&row, form), &store).await
}

async fn current(permit: Permit<ChangeCase>, code: CaseCode, store: &Store) -> Result<CaseRow, Problem> {
    Ok(store.read(permit, move |session| Ok::<_, RegistryError>(cases::read(session, code)?.row)).await?)
}

/// A change that is being made.
struct Changing {
    code: CaseCode,
    centre: CentreCode,
    revision: i64,
    form: CaseForm,
    reason: String,
    report: Option<Report>,
    refused: Option<Refused>,
}

/// Why it was not taken.
enum Refused {
    Must(Vec<Finding>),
    Reason(Troubles),
    Stale,
}

impl Changing {
    fn of(row: &CaseRow, form: CaseForm) -> Self {
        Self {
            code: row.code,
            centre: row.centre,
            revision: row.revision,
            form,
            reason: String::new(),
            report: None,
            refused: None,
        }
    }
}

#[post("/cases/{code}/change")]
pub(in crate::pages) async fn change(
    permit: Permit<ChangeCase>,
    visit: Visit,
    code: Part<CaseCode>,
    brought: Brought,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (code, Brought { posted, file }) = (code.0, brought);
    let row = current(visit.signed()?.permit::<ChangeCase>()?, code, &store).await?;
    let mut changing =
        Changing { reason: posted.one("reason").to_owned(), ..Changing::of(&row, filled_in(&posted)) };
    changing.revision = posted.one("revision").parse().unwrap_or(0);
    changing.report = Report::of(file).await?;
    rearranged(&mut changing.form, posted.one("do"));
    if posted.one("do") != "change" {
        return draw(&visit, changing, &store).await;
    }
    let if_match =
        IfMatch::parse(&Version::of_revision(changing.revision).etag()).ok_or_else(Problem::absent)?;
    let (form, reason) = (changing.form.clone(), changing.reason.clone());
    let changed = store
        .write(permit, move |session| {
            cases::change(session, code, &if_match, NewRecord { form: &form, reason: &reason })
        })
        .await;
    changing.refused = Some(match changed {
        Ok(_) => return Ok(see_other(&format!("/cases/{code}"))),
        Err(RegistryError::Findings(findings)) => Refused::Must(at_fields(findings)),
        Err(RegistryError::Stale(_)) => Refused::Stale,
        Err(error) => Refused::Reason(Troubles::of(error)?),
    });
    draw(&visit, changing, &store).await
}

async fn draw(visit: &Visit, changing: Changing, store: &Store) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(store).await?;
    let address = format!("/cases/{}/change", changing.code);
    let Changing { code, centre, revision, form, reason, report, refused } = changing;
    let is_refused = refused.is_some() || matches!(report, Some(Report::Refused(_)));
    let findings = match &refused {
        Some(Refused::Must(findings)) => findings.clone(),
        _ => Vec::new(),
    };
    let sections = Sections {
        form,
        findings,
        because: None,
        declared: None,
        rooms: rooms(visit, centre, store).await?,
        report,
        report_to: frame.with_token(&address),
    };
    let content = html! {
        div.title {
            h1 { "Change case " (case_code(&code)) }
            a href={ "/cases/" (code) } { "Leave it as it is" }
        }
        p.quiet { "Revision " (revision) " stays as it was written; the change is kept beside it with its reason." }
        (summary(refused.as_ref(), &sections, code))
        form.entry method="post" action=(address) {
            (frame.token())
            // Enter in a box must never send the change.
            button type="submit" name="do" value="look" hidden {}
            input type="hidden" name="revision" value=(revision);
            (sections)
            div.fields { (reason_row(&reason, refused.as_ref())) }
            (FormFoot {
                next: None,
                send: "Keep the change",
                does: Some("change"),
                further: Markup::default(),
                aside: html! { "Give the reason last; it is read with the history of the case." },
            })
        }
    };
    let page = Page { title: format!("Change case {code}"), word: Some(Word::Cases), content };
    Ok(if is_refused { frame.refuse(&page) } else { frame.show(&page) })
}

fn summary(refused: Option<&Refused>, sections: &Sections, code: CaseCode) -> Markup {
    const BEFORE: &str = "the change is kept";
    html! {
        @match refused {
            None => {},
            Some(Refused::Must(_)) => {
                @if let Some(troubles) = Troubles::of_findings(&sections.findings) { (error_summary(&troubles, BEFORE)) }
            },
            Some(Refused::Reason(troubles)) => (error_summary(troubles, BEFORE)),
            Some(Refused::Stale) => {
                section.error-summary role="alert" tabindex="-1" autofocus {
                    (Mark::MustBeMended.shape())
                    h2 { "Somebody else changed this case since you read it" }
                    p {
                        "What you typed stands below and was not kept. Look at "
                        a href={ "/cases/" (code) } { "the case as it is now" } ", then "
                        a href={ "/cases/" (code) "/change" } { "make your change in that" } "."
                    }
                }
            },
        }
    }
}

fn reason_row(reason: &str, refused: Option<&Refused>) -> Markup {
    let id = FieldId::of("/reason");
    let state = match refused {
        Some(Refused::Reason(troubles)) => troubles.state(&id),
        _ => State::Quiet,
    };
    let row = FieldRow {
        id,
        label: "Why it is changed",
        second: None,
        control: Control::Text(Text { name: "reason", value: reason, number_in: None }),
        state,
        note: Some(html! { "For example: copied again from the dose sheet. No name, number, or date." }),
        help: None,
    };
    html! { (row) }
}
