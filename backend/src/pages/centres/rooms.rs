//! The X-ray rooms of a centre, with what their consoles show: the unit that a dose is read
//! in is a property of the room, and a wrong one makes every dose from there wrong.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::centre::{AreaUnit, Room};
use quietbeam_schema::ids::{CentreCode, RoomCode};
use quietbeam_schema::quantity::{KermaAreaMeasure, Measure};
use quietbeam_schema::value::decimal_point;

use super::{Before, mendable, page, read};
use crate::access::Permit;
use crate::access::action::ManageCentres;
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::pages::components::{
    Cell, Choice, Column, Control, FieldId, FieldRow, Mark, Pick, Picker, Table, Text, error_summary,
};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Visit, see_other};
use crate::pages::trouble::{Trouble, Troubles};
use crate::registry::{IfMatch, Version, centres};
use crate::store::Store;

/// The rooms on the centre's page.
pub(super) fn table(centre: CentreCode, rooms: &[Room]) -> Markup {
    let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let row = |room: &Room| {
        [
            Cell::shown(html! { a href={ "/centres/" (centre) "/rooms/" (room.code) } { (room.code) } }),
            Cell::text(room.kap_unit.unit().label),
            Cell::text(if room.air_kerma_shown { "shown" } else { "not shown" }),
            Cell::text(number(room.dose_correction)),
            Cell::text(number(room.pulse_rate)),
        ]
    };
    let table = Table {
        caption: "What the consoles show".to_owned(),
        columns: [
            Column::words("Room"),
            Column::words("Kerma-area product in"),
            Column::words("Air kerma"),
            Column::numbers("Measured by displayed"),
            Column::numbers("Pulses a second"),
        ],
        rows: rooms.iter().map(row).collect(),
    };
    html! {
        section id="rooms" {
            h2 { "X-ray rooms" }
            @if rooms.is_empty() { p { "No room is entered yet. Without one nobody is offered the unit that the console shows." } }
            @else { (table) }
            p { a.button href={ "/centres/" (centre) "/new-room" } { "Add a room" } }
        }
    }
}

/// A room as typed.
#[derive(Default, Clone)]
struct Typed {
    code: String,
    kap_unit: String,
    air_kerma: String,
    correction: String,
    pulse_rate: String,
}

impl Typed {
    fn of(posted: &Posted) -> Self {
        let one = |name: &str| posted.one(name).trim().to_owned();
        Self {
            code: one("code"),
            kap_unit: one("kap_unit"),
            air_kerma: one("air_kerma_shown"),
            correction: one("dose_correction"),
            pulse_rate: one("pulse_rate"),
        }
    }

    fn from(room: &Room) -> Self {
        let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
        Self {
            code: room.code.to_string(),
            kap_unit: room.kap_unit.to_string(),
            air_kerma: if room.air_kerma_shown { "yes" } else { "no" }.to_owned(),
            correction: number(room.dose_correction),
            pulse_rate: number(room.pulse_rate),
        }
    }

    /// The room, as far as the types can tell; the registry checks the limits.
    fn room(&self) -> Result<Room, Troubles> {
        let mut troubles = Vec::new();
        let mut note = |field: &str, sentence: &str| {
            troubles.push(Trouble { field: FieldId::of(field), sentence: sentence.to_owned() });
        };
        let code = self.code.parse::<RoomCode>();
        if code.is_err() {
            note("code", "Write R and a number from 1 to 99, such as R1.");
        }
        let kap_unit = self.kap_unit.parse::<AreaUnit>();
        if kap_unit.is_err() {
            note("kap_unit", "Choose the unit that the console shows.");
        }
        if !["yes", "no"].contains(&self.air_kerma.as_str()) {
            note("air_kerma_shown", "Choose yes or no.");
        }
        let mut number = |field: &str, text: &str| match decimal_point(text)
            .ok()
            .and_then(|text| text.parse::<f64>().ok())
        {
            Some(value) => Some(value),
            None if text.is_empty() => None,
            None => {
                note(field, "Write a number, or leave it empty.");
                None
            }
        };
        let dose_correction = number("dose_correction", &self.correction);
        let pulse_rate = number("pulse_rate", &self.pulse_rate);
        match (code, kap_unit, Troubles::of_rows(troubles)) {
            (Ok(code), Ok(kap_unit), None) => Ok(Room {
                code,
                kap_unit,
                air_kerma_shown: self.air_kerma == "yes",
                dose_correction,
                pulse_rate,
            }),
            (.., troubles) => Err(troubles.unwrap_or_else(|| Troubles::with("code", "Type it again."))),
        }
    }

    fn fields(&self, is_new: bool, troubles: Option<&Troubles>) -> Markup {
        let text = |name, value, number_in| Control::Text(Text { name, value, number_in });
        let chosen = |text: &'_ str| (!text.is_empty()).then_some(text.to_owned());
        let (unit, shown) = (chosen(&self.kap_unit), chosen(&self.air_kerma));
        let units = KermaAreaMeasure::DIMENSION.units.iter();
        let units = units.map(|unit| Pick::plain(unit.ucum, unit.label)).collect();
        let unit = Picker { name: "kap_unit", picks: units, chosen: unit.as_deref() };
        let yes_no = vec![Pick::plain("yes", "yes"), Pick::plain("no", "no")];
        let shown = Choice { name: "air_kerma_shown", picks: yes_no, chosen: shown.as_deref() };
        let look = "look at the console: 1 Gy·cm² is 100 µGy·m²";
        let factor = "measured dose divided by displayed dose, 0.5 to 2; empty when not measured";
        html! {
            div.fields {
                @if is_new { (FieldRow::of_form("code", "Room", Some("R and a number"), text("code", &self.code, None), troubles)) }
                (FieldRow::of_form("kap_unit", "Kerma-area product in", Some(look), Control::Picker(unit), troubles))
                (FieldRow::of_form("air_kerma_shown", "Air kerma is shown", Some("older consoles do not"), Control::Choice(shown), troubles))
                (FieldRow::of_form("dose_correction", "Correction", Some(factor), text("dose_correction", &self.correction, Some("")), troubles))
                (FieldRow::of_form("pulse_rate", "Usual pulse rate", Some("0.5 to 60; empty when not known"), text("pulse_rate", &self.pulse_rate, Some("per second")), troubles))
            }
        }
    }
}

#[get("/centres/{centre}/new-room")]
pub(in crate::pages) async fn new_room(
    permit: Permit<ManageCentres>,
    visit: Visit,
    centre: Part<CentreCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let centre = store.read(permit, move |session| session.find_centre(centre.0)).await?.code;
    let frame = visit.frame(&store).await?;
    let view = RoomView { frame: &frame, centre, present: None, saved: false, refused: None };
    Ok(frame.show(&page("Add a room", view.draw())))
}

#[post("/centres/{centre}/new-room")]
pub(in crate::pages) async fn record_new_room(
    permit: Permit<ManageCentres>,
    visit: Visit,
    centre: Part<CentreCode>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (centre, typed) = (centre.0, Typed::of(&posted));
    let refused = match record(permit, centre, None, &typed, &store).await? {
        Ok(code) => return Ok(see_other(&format!("/centres/{centre}/rooms/{code}?done=saved"))),
        Err(troubles) => Some((typed, troubles)),
    };
    let frame = visit.frame(&store).await?;
    let view = RoomView { frame: &frame, centre, present: None, saved: false, refused };
    Ok(frame.refuse(&page("Must be mended: add a room", view.draw())))
}

#[get("/centres/{centre}/rooms/{room}")]
pub(in crate::pages) async fn open_room(
    permit: Permit<ManageCentres>,
    visit: Visit,
    place: Part<(CentreCode, RoomCode)>,
    before: Query<Before>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (centre, code) = place.0;
    let present = Some(find(permit, centre, code, &store).await?);
    let frame = visit.frame(&store).await?;
    let view = RoomView { frame: &frame, centre, present, saved: before.0.done == "saved", refused: None };
    Ok(frame.show(&page(&format!("Room {code} of {centre}"), view.draw())))
}

#[post("/centres/{centre}/rooms/{room}")]
pub(in crate::pages) async fn record_room(
    permit: Permit<ManageCentres>,
    visit: Visit,
    place: Part<(CentreCode, RoomCode)>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (centre, code) = place.0;
    let read = IfMatch::parse(posted.one("read")).ok_or_else(crate::pages::form::unreadable)?;
    let typed = Typed { code: code.to_string(), ..Typed::of(&posted) };
    let refused = match record(permit, centre, Some(read), &typed, &store).await? {
        Ok(_) => return Ok(see_other(&format!("/centres/{centre}/rooms/{code}?done=saved"))),
        Err(troubles) => Some((typed, troubles)),
    };
    let present = Some(find(visit.signed()?.permit()?, centre, code, &store).await?);
    let frame = visit.frame(&store).await?;
    let view = RoomView { frame: &frame, centre, present, saved: false, refused };
    Ok(frame.refuse(&page(&format!("Must be mended: room {code} of {centre}"), view.draw())))
}

async fn find(
    permit: Permit<ManageCentres>,
    centre: CentreCode,
    code: RoomCode,
    store: &Store,
) -> Result<Room, Problem> {
    let (_, rooms) = read(permit, centre, store).await?;
    rooms.into_iter().find(|room| room.code == code).ok_or_else(Problem::absent)
}

/// The code of the room, or what must be mended in it.
async fn record(
    permit: Permit<ManageCentres>,
    centre: CentreCode,
    read: Option<IfMatch>,
    typed: &Typed,
    store: &Store,
) -> Result<Result<RoomCode, Troubles>, Problem> {
    let room = match typed.room() {
        Ok(room) => room,
        Err(troubles) => {
            // Whoever may not, or asks for a centre that is not there, learns that first.
            store.read(permit, move |session| session.find_centre(centre)).await?;
            return Ok(Err(troubles));
        }
    };
    let code = room.code;
    let is_new = read.is_none();
    let kept =
        store.write(permit, move |session| centres::record_room(session, centre, read.as_ref(), &room)).await;
    match kept {
        Ok(()) => Ok(Ok(code)),
        Err(crate::registry::RegistryError::VersionNotNamed) if is_new => Ok(Err(Troubles::with(
            "code",
            format!("{code} is entered already; open it from the centre's page."),
        ))),
        Err(error) => mendable(error, "kap_unit").map(Err),
    }
}

struct RoomView<'f> {
    frame: &'f Frame,
    centre: CentreCode,
    present: Option<Room>,
    saved: bool,
    refused: Option<(Typed, Troubles)>,
}

impl RoomView<'_> {
    fn draw(&self) -> Markup {
        let (address, heading) = match &self.present {
            Some(room) => {
                (format!("/centres/{}/rooms/{}", self.centre, room.code), format!("Room {}", room.code))
            }
            None => (format!("/centres/{}/new-room", self.centre), "Add a room".to_owned()),
        };
        let present = self.present.as_ref().map(Typed::from).unwrap_or_default();
        let typed = self.refused.as_ref().map_or(&present, |(typed, _)| typed);
        let troubles = self.refused.as_ref().map(|(_, troubles)| troubles);
        html! {
            div.title {
                div {
                    h1 { (heading) }
                    @if let Some(room) = &self.present {
                        p.quiet { "Kerma-area product in " (room.kap_unit.unit().label) ", air kerma " (if room.air_kerma_shown { "shown" } else { "not shown" }) }
                    }
                }
                a href={ "/centres/" (self.centre) } { "Centre " (self.centre) }
            }
            @if self.saved { p role="status" { (Mark::Saved.with("Saved")) } }
            @if let Some(troubles) = troubles { (error_summary(troubles, "the room can be kept")) }
            form method="post" action=(address) {
                (self.frame.token())
                @if let Some(room) = &self.present { input type="hidden" name="read" value=(Version::of(room).etag()); }
                (typed.fields(self.present.is_none(), troubles))
                div.mends { button.button.main[self.present.is_none()] type="submit" { "Save the room" } }
            }
            p.small { "Cases that were sent in keep the unit they were sent with. A local medical physicist knows the correction." }
        }
    }
}
