//! Case codes issued ahead: a sheet to keep beside the centre's own list.

use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::ids::CentreCode;
use serde::Deserialize;
use std::collections::BTreeMap;

use super::components::{
    Cell, Column, Control, FieldId, FieldRow, FormFoot, Pick, Picker, State, Table, Text, Word, case_code,
    error_summary,
};
use super::form::Form;
use super::frame::{Frame, Page, Visit, see_other};
use super::trouble::Troubles;
use super::words::{capital, counted, moment};
use crate::access::Permit;
use crate::access::action::{IssueCaseCodes, ReadCentres};
use crate::api::Problem;
use crate::registry::RegistryError;
use crate::registry::codes;
use crate::store::{Store, UnusedCode};

/// Codes of one centre that the page shows; all of them are in the file.
const SHOWN: usize = 400;

/// What the form asks for.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Wanted {
    number: String,
    #[serde(default)]
    centre: String,
}

#[get("/case-codes")]
pub(super) async fn case_codes(
    permit: Permit<IssueCaseCodes>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let unused = store.read(permit, |session| session.unused_codes()).await?;
    let frame = visit.frame(&store).await?;
    let centres = centres(&visit, &store).await?;
    Ok(frame.show(&page(content(&frame, &unused, &centres, None))))
}

#[post("/case-codes")]
pub(super) async fn issue(
    permit: Permit<IssueCaseCodes>,
    visit: Visit,
    form: Form<Wanted>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let Wanted { number, centre } = form.0;
    let named = (!centre.is_empty()).then(|| centre.parse::<CentreCode>());
    let named = named.transpose().map_err(|_| Problem::absent())?;
    let number = number.trim().parse::<usize>().unwrap_or(0);
    let issued = store.write(permit, move |session| codes::issue(session, named, number)).await;
    let troubles = match issued {
        Ok(_) => return Ok(see_other("/case-codes#sheet")),
        Err(error) => Troubles::of(error)?,
    };
    let again = visit.signed()?.permit::<IssueCaseCodes>()?;
    let unused = store.read(again, |session| session.unused_codes()).await?;
    let frame = visit.frame(&store).await?;
    let centres = centres(&visit, &store).await?;
    Ok(frame.refuse(&page(content(&frame, &unused, &centres, Some(&troubles)))))
}

fn page(content: Markup) -> Page {
    Page { title: "Case codes".to_owned(), word: Some(Word::Cases), content }
}

async fn centres(visit: &Visit, store: &Store) -> Result<Vec<(String, String)>, Problem> {
    let permit = visit.signed()?.permit::<ReadCentres>()?;
    let centres = store.read(permit, |session| session.list_centres()).await?;
    Ok(centres.into_iter().map(|centre| (centre.code.to_string(), centre.name)).collect())
}

fn content(
    frame: &Frame,
    unused: &[UnusedCode],
    centres: &[(String, String)],
    troubles: Option<&Troubles>,
) -> Markup {
    let mut by_centre: BTreeMap<CentreCode, Vec<&UnusedCode>> = BTreeMap::new();
    for code in unused {
        by_centre.entry(code.centre).or_default().push(code);
    }
    let left = counted(unused.len(), "case code is not used yet", "case codes are not used yet");
    html! {
        @if let Some(troubles) = troubles { (error_summary(troubles, "codes are issued")) }
        div.title { div {
            h1 { (capital(&left)) }
            p.quiet { "Write your own number beside a code. The list stays with you; the registry never sees it." }
        } }
        (form(frame, centres, troubles))
        @for (centre, codes) in &by_centre { (sheet(*centre, codes)) }
        @if !unused.is_empty() { p.no-print { a href="/case-codes.csv" { "Download them as delimited text" } } }
    }
}

fn form(frame: &Frame, centres: &[(String, String)], troubles: Option<&Troubles>) -> Markup {
    let id = FieldId::of("number");
    let number = FieldRow {
        state: troubles.map_or(State::Quiet, |troubles| troubles.state(&id)),
        id,
        label: "Codes wanted",
        second: None,
        control: Control::Text(Text { name: "number", value: "50", number_in: Some("") }),
        note: Some(
            html! { "A sheet of 50 prints on one page. A code serves one case and is never issued again." },
        ),
        help: None,
    };
    let centre = (centres.len() > 1).then(|| FieldRow {
        id: FieldId::of("centre"),
        label: "Centre",
        second: None,
        control: Control::Picker(Picker {
            name: "centre",
            picks: centres.iter().map(|(code, name)| Pick::plain(code, name)).collect(),
            chosen: centres.first().map(|(code, _)| code.as_str()),
        }),
        state: State::Quiet,
        note: None,
        help: None,
    });
    html! {
        form.no-print method="post" action="/case-codes" {
            (frame.token())
            div.fields { @if let Some(centre) = &centre { (centre) } (number) }
            (FormFoot {
                next: None,
                send: "Issue codes",
                does: None,
                further: Markup::default(),
                aside: html! { "Without a code of your own a case gets one when it is sent in." },
            })
        }
    }
}

fn sheet(centre: CentreCode, codes: &[&UnusedCode]) -> Markup {
    let row = |code: &&UnusedCode| {
        [Cell::shown(case_code(&code.code)), Cell::text(""), Cell::text(moment(code.issued_at))]
    };
    let table = Table {
        caption: format!("Centre {centre}"),
        columns: [Column::words("Case code"), Column::words("Your own number"), Column::words("Issued")],
        rows: codes.iter().take(SHOWN).map(row).collect(),
    };
    let further = codes.len().saturating_sub(SHOWN);
    html! {
        section.code-sheet id="sheet" {
            (table)
            @if further > 0 { p.quiet { "And " (further) " more in the download." } }
        }
    }
}

/// The unused codes as delimited text, with a column for the centre's own number.
#[get("/case-codes.csv")]
pub(super) async fn as_text(
    permit: Permit<IssueCaseCodes>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let unused = store.read(permit, |session| session.unused_codes()).await.map_err(RegistryError::from)?;
    let rows = unused.iter().map(|code| format!("{},{},\r\n", code.centre, code.code));
    let text = format!("centre,case_code,own_number\r\n{}", rows.collect::<String>());
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"case-codes.csv\""))
        .body(text))
}
