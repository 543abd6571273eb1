//! Centres and their X-ray rooms, for administrators.

pub(super) mod approvals;
mod rooms;

pub(super) use self::approvals::{stands, stands_shown};
pub(super) use self::rooms::{new_room, open_room, record_new_room, record_room};

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::centre::{Centre, Room};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{AnnualVolume, CentreType, Coded};
use serde::Deserialize;

use super::components::{
    Cell, Choice, Column, Control, FieldId, FieldRow, Mark, Pick, Table, Text, Word, error_summary,
};
use super::form::{Posted, unreadable};
use super::frame::{Frame, Page, Visit, see_other};
use super::trouble::{Trouble, Troubles};
use super::words::{capital, counted};
use crate::access::Permit;
use crate::access::action::ManageCentres;
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::registry::{IfMatch, RegistryError, Version, centres};
use crate::store::{Store, StoreError};

/// What was done a moment ago.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Before {
    done: String,
}

#[get("/centres")]
pub(super) async fn list(
    permit: Permit<ManageCentres>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let all = store.read(permit, |session| session.list_centres()).await?;
    let row = |centre: &Centre| {
        [
            Cell::shown(html! { a href={ "/centres/" (centre.code) } { (centre.code) } }),
            Cell::text(&centre.name),
            Cell::text(centre.region.as_deref().unwrap_or_default()),
            Cell::text(centre.kind.label()),
            Cell::text(centre.annual_volume.label()),
        ]
    };
    let table = Table {
        caption: "The codes are random, so that they do not show who joined when".to_owned(),
        columns: ["Centre", "Name", "Region", "Kind", "Ablations a year"].map(Column::words),
        rows: all.iter().map(row).collect(),
    };
    let content = html! {
        div.title {
            h1 { (capital(&counted(all.len(), "centre", "centres"))) }
            a.button href="/centres/new" { "Add a centre" }
        }
        @if all.is_empty() { p { "No centre has joined yet." } } @else { (table) }
    };
    Ok(visit.frame(&store).await?.show(&page("Centres", content)))
}

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::Centres), content }
}

/// A centre as typed.
#[derive(Default, Clone)]
struct Typed {
    name: String,
    region: String,
    kind: String,
    annual_volume: String,
    since: String,
}

impl Typed {
    fn of(posted: &Posted) -> Self {
        let one = |name: &str| posted.one(name).trim().to_owned();
        Self {
            name: one("name"),
            region: one("region"),
            kind: one("kind"),
            annual_volume: one("annual_volume"),
            since: one("zero_fluoroscopy_since"),
        }
    }

    fn from(centre: &Centre) -> Self {
        Self {
            name: centre.name.clone(),
            region: centre.region.clone().unwrap_or_default(),
            kind: centre.kind.code().to_owned(),
            annual_volume: centre.annual_volume.code().to_owned(),
            since: centre.zero_fluoroscopy_since.map(|quarter| quarter.to_string()).unwrap_or_default(),
        }
    }

    /// The centre with this code, as far as the types can tell; the registry checks the rest.
    fn centre(&self, code: CentreCode) -> Result<Centre, Troubles> {
        let kind = CentreType::from_code(&self.kind).ok_or("Choose the kind.");
        let volume = AnnualVolume::from_code(&self.annual_volume).ok_or("Choose the band.");
        let since = match self.since.as_str() {
            "" => Ok(None),
            text => Quarter::parse(text).map(Some).map_err(|problem| capital(&format!("this {problem}"))),
        };
        match (kind, volume, since) {
            (Ok(kind), Ok(annual_volume), Ok(zero_fluoroscopy_since)) => {
                let region = Some(self.region.clone()).filter(|region| !region.is_empty());
                Ok(Centre {
                    code,
                    name: self.name.clone(),
                    region,
                    kind,
                    annual_volume,
                    zero_fluoroscopy_since,
                })
            }
            (kind, volume, since) => {
                let trouble = |field: &str, sentence: Option<String>| {
                    sentence.map(|sentence| Trouble { field: FieldId::of(field), sentence })
                };
                let all = [
                    trouble("kind", kind.err().map(str::to_owned)),
                    trouble("annual_volume", volume.err().map(str::to_owned)),
                    trouble("zero_fluoroscopy_since", since.err()),
                ];
                Err(Troubles::of_rows(all.into_iter().flatten().collect())
                    .unwrap_or_else(|| Troubles::with("name", "Type it again.")))
            }
        }
    }

    fn fields(&self, troubles: Option<&Troubles>) -> Markup {
        let text = |name, value| Control::Text(Text { name, value, number_in: None });
        let pick = |name, picks, chosen| Control::Choice(Choice { name, picks, chosen: Some(chosen) });
        html! {
            div.fields {
                (FieldRow::of_form("name", "Name", Some("seen by members alone"), text("name", &self.name), troubles))
                (FieldRow::of_form("region", "Region", Some("country group or state, never a city; a summary by region shows it to everyone"), text("region", &self.region), troubles))
                (FieldRow::of_form("kind", "Kind", None, pick("kind", picks::<CentreType>(), &self.kind), troubles))
                (FieldRow::of_form("annual_volume", "Ablations a year", Some("as a band, which names nobody"), pick("annual_volume", picks::<AnnualVolume>(), &self.annual_volume), troubles))
                (FieldRow::of_form("zero_fluoroscopy_since", "First case without X-ray", Some("its quarter, such as 2024Q2; empty when not known"), text("zero_fluoroscopy_since", &self.since), troubles))
            }
        }
    }
}

fn picks<C: Coded>() -> Vec<Pick<'static>> {
    C::LIST.codes.iter().map(Pick::of).collect()
}

#[get("/centres/new")]
pub(super) async fn new_centre(
    _permit: Permit<ManageCentres>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    Ok(frame.show(&page("Add a centre", new_form(&frame, &Typed::default(), None))))
}

#[post("/centres/new")]
pub(super) async fn add(
    permit: Permit<ManageCentres>,
    visit: Visit,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let typed = Typed::of(&posted);
    let sent = typed.clone();
    let joining = store.write(permit, move |session| {
        let code = centres::free_code(session)?;
        match sent.centre(code) {
            Ok(centre) => centres::create(session, &centre).map(|()| Ok(code)),
            Err(troubles) => Ok::<_, RegistryError>(Err(troubles)),
        }
    });
    let troubles = match joining.await {
        Ok(Ok(code)) => return Ok(see_other(&format!("/centres/{code}?done=saved"))),
        Ok(Err(troubles)) => troubles,
        Err(error) => mendable(error, "name")?,
    };
    let frame = visit.frame(&store).await?;
    Ok(frame.refuse(&page("Must be mended: add a centre", new_form(&frame, &typed, Some(&troubles)))))
}

fn new_form(frame: &Frame, typed: &Typed, troubles: Option<&Troubles>) -> Markup {
    html! {
        div.title { h1 { "Add a centre" } a href="/centres" { "All centres" } }
        @if let Some(troubles) = troubles { (error_summary(troubles, "the centre can be added")) }
        form method="post" action="/centres/new" {
            (frame.token())
            (typed.fields(troubles))
            div.mends { button.button.main type="submit" { "Add the centre" } }
        }
    }
}

/// What the administrator can mend; anything else goes on as it is.
fn mendable(error: RegistryError, first: &str) -> Result<Troubles, Problem> {
    match error {
        RegistryError::Stale(_) | RegistryError::VersionNotNamed => Ok(Troubles::with(
            first,
            "Somebody else changed this since you read it. What you typed stands below; what stands there now is said above. Save again, and yours goes before theirs.",
        )),
        other => Ok(Troubles::of(other)?),
    }
}

#[get("/centres/{centre}")]
pub(super) async fn open_centre(
    permit: Permit<ManageCentres>,
    visit: Visit,
    code: Part<CentreCode>,
    before: Query<Before>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let read = read(permit, code.0, &store).await?;
    let frame = visit.frame(&store).await?;
    let content = content(&frame, &read, before.0.done == "saved", None);
    Ok(frame.show(&page(&format!("Centre {}", code.0), content)))
}

type Read = (Centre, Vec<Room>);

async fn read(permit: Permit<ManageCentres>, code: CentreCode, store: &Store) -> Result<Read, Problem> {
    let look = store.read(permit, move |session| {
        Ok::<_, StoreError>((session.find_centre(code)?, session.list_rooms(code)?))
    });
    Ok(look.await?)
}

#[post("/centres/{centre}")]
pub(super) async fn change(
    permit: Permit<ManageCentres>,
    visit: Visit,
    code: Part<CentreCode>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let code = code.0;
    let if_match = IfMatch::parse(posted.one("read")).ok_or_else(unreadable)?;
    let typed = Typed::of(&posted);
    let troubles = match typed.centre(code) {
        Ok(new) => {
            match store.write(permit, move |session| centres::change(session, &if_match, &new)).await {
                Ok(()) => return Ok(see_other(&format!("/centres/{code}?done=saved"))),
                Err(error) => mendable(error, "name")?,
            }
        }
        Err(troubles) => troubles,
    };
    let read = read(visit.signed()?.permit()?, code, &store).await?;
    let frame = visit.frame(&store).await?;
    let content = content(&frame, &read, false, Some((&typed, &troubles)));
    Ok(frame.refuse(&page(&format!("Must be mended: centre {code}"), content)))
}

fn content(
    frame: &Frame,
    (centre, rooms): &Read,
    saved: bool,
    refused: Option<(&Typed, &Troubles)>,
) -> Markup {
    let present = Typed::from(centre);
    let troubles = refused.map(|(_, troubles)| troubles);
    html! {
        div.title {
            div {
                h1 { "Centre " (centre.code) }
                p.quiet { (centre.name) " · " (centre.kind.label()) " · " (centre.annual_volume.label()) " ablations a year" }
            }
            a href="/centres" { "All centres" }
        }
        @if saved { p role="status" { (Mark::Saved.with("Saved")) } }
        @if let Some(troubles) = troubles { (error_summary(troubles, "this can be kept")) }
        form method="post" action={ "/centres/" (centre.code) } {
            (frame.token())
            input type="hidden" name="read" value=(Version::of(centre).etag());
            (refused.map_or(&present, |(typed, _)| typed).fields(troubles))
            div.mends { button.button type="submit" { "Save" } }
        }
        section {
            h2 { "Approvals" }
            p { a href={ "/centres/" (centre.code) "/approvals" } { "Ethics approval and data agreement" } }
        }
        (rooms::table(centre.code, rooms))
    }
}
