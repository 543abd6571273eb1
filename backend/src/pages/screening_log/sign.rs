//! Signing a quarter: what is signed, what the signature says, and the password again.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::centre::SIGNATURE_MEANING;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};

use super::lines::{table, warnings};
use super::{Log, begun};
use crate::access::Permit;
use crate::access::action::{ReadScreeningLog, SignScreeningLog};
use crate::access::session::{SignInDesk, SignInError};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{FieldId, State, Word, error_summary};
use crate::pages::form::{Posted, unreadable};
use crate::pages::frame::{Frame, Page, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::{IfMatch, RegistryError, Version, screening};
use crate::store::{Conflict, Refused, ScreeningRow, Store, StoreError};

const PASSWORD: &str = "password";

#[get("/screening-log/{centre}/{period}/signature")]
pub(in crate::pages) async fn signature(
    _permit: Permit<SignScreeningLog>,
    visit: Visit,
    place: Part<(CentreCode, String)>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let signing = Signing::read(&visit, place.0, &store).await?;
    Ok(frame.show(&signing.page(&frame, None)))
}

#[post("/screening-log/{centre}/{period}/signature")]
pub(in crate::pages) async fn sign(
    permit: Permit<SignScreeningLog>,
    visit: Visit,
    place: Part<(CentreCode, String)>,
    posted: Posted,
    (desk, store): (web::Data<SignInDesk>, web::Data<Store>),
) -> Result<HttpResponse, Problem> {
    let signing = Signing::read(&visit, place.0, &store).await?;
    let (centre, quarter) = (signing.centre, signing.quarter);
    let read = lines_read(&posted)?;
    let refused = match desk.confirm(visit.signed()?, posted.one(PASSWORD).to_owned()).await {
        Err(SignInError::Refused) => {
            "This is not your password; nothing was signed. Type it again.".to_owned()
        }
        Err(error) => return Err(error.into()),
        Ok(()) if read.is_empty() => "There is no line to sign; nothing was signed.".to_owned(),
        Ok(()) => {
            let work =
                store.write(permit, move |session| screening::sign_quarter(session, centre, quarter, &read));
            match work.await {
                Ok(()) => return Ok(see_other(&format!("/screening-log#{quarter}"))),
                Err(error) => sentence(error)?,
            }
        }
    };
    let frame = visit.frame(&store).await?;
    Ok(frame.refuse(&signing.page(&frame, Some(&Troubles::with(PASSWORD, refused)))))
}

/// The lines that were looked at, each with its revision.
fn lines_read(posted: &Posted) -> Result<Vec<(ProcedureGroup, IfMatch)>, Problem> {
    let lines = posted.fields().iter().filter_map(|(name, read)| Some((name.strip_prefix("read-")?, read)));
    lines
        .map(|(group, read)| {
            let group = ProcedureGroup::from_code(group).ok_or_else(unreadable)?;
            Ok((group, IfMatch::parse(read).ok_or_else(unreadable)?))
        })
        .collect()
}

fn sentence(error: RegistryError) -> Result<String, Problem> {
    match error {
        RegistryError::Stale(_)
        | RegistryError::Store(
            StoreError::Conflict(Conflict::StaleRevision { .. } | Conflict::Race)
            | StoreError::Refused(Refused::AlreadySigned),
        ) => Ok("A line was changed or signed after you opened the page; nothing was signed. Look at the counts again.".to_owned()),
        RegistryError::Field { sentence, .. } => Ok(sentence),
        other => Err(other.into()),
    }
}

/// A quarter that is about to be signed.
struct Signing {
    log: Log,
    centre: CentreCode,
    quarter: Quarter,
}

impl Signing {
    async fn read(
        visit: &Visit,
        (centre, period): (CentreCode, String),
        store: &Store,
    ) -> Result<Self, Problem> {
        let caller = visit.signed()?;
        let log = Log::read(caller.permit::<ReadScreeningLog>()?, caller, store).await?;
        let quarter = begun(&period, log.now)?;
        if log.own.contains(&centre) { Ok(Self { log, centre, quarter }) } else { Err(Problem::absent()) }
    }

    fn rows(&self) -> Vec<&ScreeningRow> {
        let of = |row: &&ScreeningRow| row.line.period == self.quarter && row.line.centre == self.centre;
        self.log.rows.values().filter(of).collect()
    }

    fn page(&self, frame: &Frame, troubles: Option<&Troubles>) -> Page {
        let rows = self.rows();
        let unsigned: Vec<&&ScreeningRow> = rows.iter().filter(|row| row.signed_by.is_none()).collect();
        let content = html! {
            @if let Some(troubles) = troubles { (error_summary(troubles, "the quarter is signed")) }
            div.title {
                h1 { "Sign " (self.quarter) }
                a href=(Log::address(self.centre, self.quarter, "")) { "Correct a line first" }
            }
            (table(&self.log, &rows, self.quarter, self.centre))
            (warnings(&self.log, self.quarter, self.centre))
            @if self.quarter >= self.log.now.quarter() { p { "The quarter still runs; it is signed once it is over." } }
            @else if unsigned.is_empty() { p { "No line waits for a signature." } }
            @else { (self.form(frame, &unsigned, troubles)) }
        };
        Page { title: format!("Sign {}", self.quarter), word: Some(Word::ScreeningLog), content }
    }

    fn form(&self, frame: &Frame, unsigned: &[&&ScreeningRow], troubles: Option<&Troubles>) -> Markup {
        let id = FieldId::of(PASSWORD);
        let said = match troubles.map(|troubles| troubles.state(&id)) {
            Some(State::MustBeMended { sentence, .. }) => Some(sentence),
            _ => None,
        };
        html! {
            form.sheet.sign method="post" action=(Log::address(self.centre, self.quarter, "/signature")) {
                (frame.token())
                @for row in unsigned {
                    input type="hidden" name={ "read-" (row.line.group.code()) } value=(Version::of_revision(row.revision).etag());
                }
                p.lead { (SIGNATURE_MEANING) }
                label.label for=(id) { "Your password, as your signature" }
                input.input.wide id=(id) name=(id) type="password" required autocomplete="current-password"
                    aria-invalid=[said.as_ref().map(|_| "true")] aria-describedby=[said.as_ref().map(|_| "password-message")];
                @if let Some(sentence) = &said {
                    p.message.hard id="password-message" { b { "Must be mended." } " " (sentence) }
                }
                p.small { "A later correction makes the signature void, and the log shows it." }
                button.button.main type="submit" { "Sign " (self.quarter) }
            }
        }
    }
}
