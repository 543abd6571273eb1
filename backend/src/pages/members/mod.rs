//! Members, for administrators: who belongs to the network, in which role, and who may sign
//! in. Nothing clinical stands here.

mod one;

pub(super) use self::one::{change, open_member};

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::CentreCode;

use super::components::{
    Cell, Choices, Column, Control, FieldId, FieldRow, Mark, Pick, Picker, Secret, Table, Text, Word,
    error_summary, role_word,
};
use super::form::Posted;
use super::frame::{Frame, Page, Visit, see_other};
use super::trouble::{Trouble, Troubles};
use super::words::{capital, counted, sentence};
use crate::access::Permit;
use crate::access::action::ManageMembers;
use crate::access::member::{NewMember, SignInName};
use crate::access::password::Password;
use crate::access::session::{SignInDesk, SignInError};
use crate::api::Problem;
use crate::registry::members::{self, Shown};
use crate::registry::{RegistryError, words};
use crate::store::{Conflict, Refused, Store, StoreError};

#[get("/members")]
pub(super) async fn list(
    permit: Permit<ManageMembers>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let all = store.read(permit, |session| session.list_members()).await?;
    let all: Vec<Shown> = all.into_iter().map(Shown::from).collect();
    let content = html! {
        div.title {
            h1 { (capital(&counted(all.len(), "member", "members"))) }
            a.button href="/members/new" { "Add a member" }
        }
        (table(&all))
    };
    Ok(visit.frame(&store).await?.show(&page("Members", content)))
}

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::Members), content }
}

fn table(all: &[Shown]) -> Table<5> {
    let row = |member: &Shown| {
        let state = if member.enabled {
            html! {}
        } else {
            Mark::Locked.with("closed")
        };
        [
            Cell::shown(html! { a href={ "/members/" (member.id) } { (member.printed_name) } }),
            Cell::text(&member.sign_in_name),
            Cell::text(role_word(member.role)),
            Cell::text(joined(&member.centres)),
            Cell::shown(state),
        ]
    };
    Table {
        caption: "In the order in which they joined".to_owned(),
        columns: ["Name", "Signs in as", "Role", "Centres", "Account"].map(Column::words),
        rows: all.iter().map(row).collect(),
    }
}

fn joined(centres: &[CentreCode]) -> String {
    centres.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// A member as typed; a password never comes back.
#[derive(Default)]
struct Typed {
    sign_in_name: String,
    printed_name: String,
    role: String,
    centres: Vec<String>,
}

impl Typed {
    fn of(posted: &Posted) -> Self {
        Self {
            sign_in_name: posted.one("sign_in_name").to_owned(),
            printed_name: posted.one("printed_name").to_owned(),
            role: posted.one("role").to_owned(),
            centres: posted.all("centres").map(str::to_owned).collect(),
        }
    }

    fn from(shown: &Shown) -> Self {
        Self {
            sign_in_name: shown.sign_in_name.clone(),
            printed_name: shown.printed_name.clone(),
            role: shown.role.name().to_owned(),
            centres: shown.centres.iter().map(ToString::to_string).collect(),
        }
    }

    fn membership(&self) -> Result<Membership, Trouble> {
        let role: Role = self.role.parse().map_err(|_| trouble("role", "Choose the role."))?;
        let centres = self.centres.iter().map(|code| code.parse()).collect::<Result<_, _>>();
        let centres = centres.map_err(|_| trouble("centres", "Choose from the list."))?;
        Membership::new(role, centres).map_err(|error| trouble("centres", &sentence(error)))
    }

    /// Role and centres, each with what is wrong with it.
    fn place(&self, centres: &[Centre], troubles: Option<&Troubles>) -> Markup {
        let roles: Vec<Pick<'_>> =
            Role::ALL.iter().map(|role| Pick::plain(role.name(), role_word(*role))).collect();
        let codes: Vec<(String, String)> = centres
            .iter()
            .map(|centre| (centre.code.to_string(), format!("{} {}", centre.code, centre.name)))
            .collect();
        let boxes = codes.iter().map(|(value, label)| Pick::plain(value, label)).collect();
        let chosen = self.centres.iter().map(String::as_str).collect();
        let role = Picker {
            name: "role",
            picks: roles,
            chosen: Some(&self.role).filter(|role| !role.is_empty()).map(String::as_str),
        };
        let rule = "for coordinators and centre leads; every other role belongs to none";
        html! {
            (FieldRow::of_form("role", "Role", None, Control::Picker(role), troubles))
            (FieldRow::of_form("centres", "Centres", Some(rule), Control::Choices(Choices { name: "centres", picks: boxes, chosen }), troubles))
        }
    }
}

fn trouble(field: &str, sentence: &str) -> Trouble {
    Trouble { field: FieldId::of(field), sentence: sentence.to_owned() }
}

#[get("/members/new")]
pub(super) async fn new_member(
    permit: Permit<ManageMembers>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let centres = store.read(permit, |session| session.list_centres()).await?;
    let frame = visit.frame(&store).await?;
    let content = new_form(&frame, &Typed::default(), &centres, None);
    Ok(frame.show(&page("Add a member", content)))
}

#[post("/members/new")]
pub(super) async fn add(
    permit: Permit<ManageMembers>,
    visit: Visit,
    posted: Posted,
    desk: web::Data<SignInDesk>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let typed = Typed::of(&posted);
    let troubles = match entered(&typed, posted.one("password")) {
        Ok(entered) => match create(permit, entered, &desk, &store).await {
            Ok(shown) => return Ok(see_other(&format!("/members/{}?done=saved", shown.id))),
            Err(error) => mendable(error)?,
        },
        Err(troubles) => troubles,
    };
    let reading = visit.signed()?.permit::<ManageMembers>()?;
    let centres = store.read(reading, |session| session.list_centres()).await?;
    let frame = visit.frame(&store).await?;
    let content = new_form(&frame, &typed, &centres, Some(&troubles));
    Ok(frame.refuse(&page("Must be mended: add a member", content)))
}

/// What was typed, once it is in order.
struct Entered {
    sign_in_name: SignInName,
    printed_name: String,
    membership: Membership,
    password: Password,
}

fn entered(typed: &Typed, password: &str) -> Result<Entered, Troubles> {
    let name = typed.sign_in_name.parse::<SignInName>();
    let name = name.map_err(|error| trouble("sign_in_name", &sentence(error)));
    let printed = words::line(&typed.printed_name, 120);
    let printed = printed.map_err(|error| trouble("printed_name", &sentence(error)));
    let password = Password::new(password, &typed.sign_in_name);
    let password = password.map_err(|error| trouble("password", &sentence(error)));
    match (name, printed, typed.membership(), password) {
        (Ok(sign_in_name), Ok(printed_name), Ok(membership), Ok(password)) => {
            Ok(Entered { sign_in_name, printed_name, membership, password })
        }
        (name, printed, membership, password) => {
            let all = [name.err(), printed.err(), membership.err(), password.err()];
            Err(Troubles::of_rows(all.into_iter().flatten().collect())
                .unwrap_or_else(|| Troubles::with("sign_in_name", "Type it again.")))
        }
    }
}

async fn create(
    permit: Permit<ManageMembers>,
    entered: Entered,
    desk: &SignInDesk,
    store: &Store,
) -> Result<Shown, RegistryError> {
    let Entered { sign_in_name, printed_name, membership, password } = entered;
    let password = desk.passwords().hash(password).await.map_err(SignInError::from)?;
    let new = NewMember { sign_in_name, printed_name, membership, password };
    store.write(permit, move |session| members::create(session, new)).await
}

/// What the administrator can mend; anything else goes on as it is.
fn mendable(error: RegistryError) -> Result<Troubles, Problem> {
    match error {
        RegistryError::Stale(_) => Ok(Troubles::with(
            "role",
            "Somebody else changed this member since you read it. What stands now is said above; choose again.",
        )),
        RegistryError::Store(StoreError::Conflict(Conflict::Taken(_))) => {
            Ok(Troubles::with("sign_in_name", "Another member signs in with this name; choose another."))
        }
        RegistryError::Store(StoreError::Refused(
            refused @ (Refused::LastAdministrator | Refused::OwnMembership),
        )) => Ok(Troubles::with("role", capital(&format!("{refused}.")))),
        other => Ok(Troubles::of(other)?),
    }
}

fn new_form(frame: &Frame, typed: &Typed, centres: &[Centre], troubles: Option<&Troubles>) -> Markup {
    let text = |name, value| Control::Text(Text { name, value, number_in: None });
    let printed = "as it stands beside what the member signs";
    let secret = Control::Secret(Secret { name: "password", purpose: "new-password" });
    let rule = "at least 15 characters; hand it over yourself, and the member changes it on the account page";
    html! {
        div.title { h1 { "Add a member" } a href="/members" { "All members" } }
        @if let Some(troubles) = troubles { (error_summary(troubles, "the member can be added")) }
        form method="post" action="/members/new" {
            (frame.token())
            div.fields {
                (FieldRow::of_form("printed_name", "Name", Some(printed), text("printed_name", &typed.printed_name), troubles))
                (FieldRow::of_form("sign_in_name", "Signs in as", Some("letters, digits and . _ - @ +"), text("sign_in_name", &typed.sign_in_name), troubles))
                (typed.place(centres, troubles))
                (FieldRow::of_form("password", "First password", Some(rule), secret, troubles))
            }
            div.mends { button.button.main type="submit" { "Add the member" } }
        }
    }
}
