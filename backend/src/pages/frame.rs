//! The frame of every page, and who is looking at it.

use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_TYPE, LOCATION};
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev::Payload};
use maud::{DOCTYPE, Markup, Render, html};
use quietbeam_schema::access::Role;
use std::future::{Ready, ready};

use super::assets;
use super::components::{Head, Word, public_head};
use crate::access::Policed;
use crate::access::action::{ListQueries, ReadCentres};
use crate::access::preference::{Preferences, Theme};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::caller::{Asked, asked};
use crate::registry::queries;
use crate::store::Store;

/// What waits for a member, as the head says it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Waiting {
    /// Questions that wait for an answer; for a monitor, answers that wait for a look.
    pub(crate) queries: usize,
}

/// Who looks at a page, signed in or not.
pub(crate) struct Visit(Asked);

impl FromRequest for Visit {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(asked(request).map(Self))
    }
}

impl Visit {
    /// The member, if one is signed in.
    pub(crate) fn caller(&self) -> Option<&Caller> {
        self.0.caller().ok()
    }

    /// The member, whom a page with a permit always has.
    pub(crate) fn signed(&self) -> Result<&Caller, Problem> {
        self.0.caller()
    }

    /// Whether a sign-in came along that is over.
    pub(crate) fn sign_in_is_over(&self) -> bool {
        self.0.is_refused()
    }

    /// What the log calls this request.
    pub(crate) fn request_id(&self) -> &str {
        self.0.request_id()
    }

    /// The frame for the member who looks, with what waits for it.
    pub(crate) async fn frame(&self, store: &Store) -> Result<Frame, Problem> {
        let caller = self.0.caller()?;
        let mut frame = Frame::of(caller);
        frame.place = place(caller, store).await?;
        if let Ok(permit) = caller.permit::<ListQueries>() {
            let answers = frame.role.belongs_to_centres();
            let count = if answers { queries::count_open } else { queries::count_answered };
            frame.waiting.queries = store.read(permit, count).await?;
        }
        Ok(frame)
    }
}

impl Visit {
    /// A page that everyone may see, in the frame of whoever looks.
    pub(crate) async fn draw_open(
        &self,
        store: &Store,
        (title, place): (&str, &str),
        content: Markup,
    ) -> Result<Markup, Problem> {
        if self.caller().is_none() {
            return Ok(public_page(title, place, &content));
        }
        let frame = self.frame(store).await?;
        Ok(frame.draw(&Page { title: title.to_owned(), word: None, content }))
    }
}

/// Whether the member's role reaches an action.
pub(super) fn may<A: Policed>(caller: &Caller) -> bool {
    caller.permit::<A>().is_ok()
}

/// The centre's name, or how many centres there are.
async fn place(caller: &Caller, store: &Store) -> Result<String, Problem> {
    let Ok(permit) = caller.permit::<ReadCentres>() else { return Ok("The network".to_owned()) };
    if !caller.member().membership.role().belongs_to_centres() {
        return Ok("All centres".to_owned());
    }
    let centres = store.read(permit, |session| session.list_centres()).await?;
    Ok(match centres.as_slice() {
        [only] => only.name.clone(),
        several => several.iter().map(|centre| centre.code.to_string()).collect::<Vec<_>>().join(", "),
    })
}

/// What stands around a page.
pub(crate) struct Frame {
    role: Role,
    place: String,
    form_token: String,
    waiting: Waiting,
    preferences: Preferences,
}

/// What a page is called and holds.
pub(crate) struct Page {
    /// Its title in the browser's head.
    pub(crate) title: String,
    /// Its word in the navigation.
    pub(crate) word: Option<Word>,
    /// Its content.
    pub(crate) content: Markup,
}

impl Frame {
    /// The frame for a member, without anything read for it.
    pub(super) fn of(caller: &Caller) -> Self {
        Self {
            role: caller.member().membership.role(),
            place: "Research registry".to_owned(),
            form_token: caller.form_token().unwrap_or_default().to_owned(),
            waiting: Waiting::default(),
            preferences: caller.member().preferences,
        }
    }

    /// The member's role.
    pub(crate) fn role(&self) -> Role {
        self.role
    }

    /// The value that a form with files names in its address.
    pub(crate) fn form_token(&self) -> &str {
        &self.form_token
    }

    /// The hidden field that every form of a signed-in page begins with.
    pub(crate) fn token(&self) -> Markup {
        html! { input type="hidden" name="form_token" value=(self.form_token); }
    }

    /// The address of a form that brings a file, which names the token there.
    pub(crate) fn with_token(&self, address: &str) -> String {
        format!("{address}?form_token={}", self.form_token)
    }

    /// The page.
    pub(crate) fn draw(&self, page: &Page) -> Markup {
        let head = Head {
            role: self.role,
            place: &self.place,
            form_token: &self.form_token,
            waiting: self.waiting,
            current: page.word,
        };
        whole(&page.title, self.preferences, head, &page.content)
    }

    /// The page as an answer.
    pub(crate) fn show(&self, page: &Page) -> HttpResponse {
        answer(StatusCode::OK, self.draw(page))
    }

    /// The page with what must be mended: the same form again.
    pub(crate) fn refuse(&self, page: &Page) -> HttpResponse {
        answer(StatusCode::UNPROCESSABLE_ENTITY, self.draw(page))
    }
}

/// A page as an answer.
pub(crate) fn answer(status: StatusCode, page: Markup) -> HttpResponse {
    HttpResponse::build(status)
        .insert_header((CONTENT_TYPE, "text/html; charset=utf-8"))
        .body(page.into_string())
}

/// After a form was taken: the page to look at next, so that reloading repeats nothing.
pub(crate) fn see_other(address: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((LOCATION, address)).finish()
}

/// A page that needs no sign-in.
pub(crate) fn public_page(title: &str, place: &str, content: &Markup) -> Markup {
    whole(title, Preferences::default(), public_head(place), content)
}

/// A page that stands inside another: nothing around its content.
pub(crate) fn bare_page(title: &str, content: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                link rel="stylesheet" href=(assets::address(assets::STYLESHEET));
            }
            body.bare { main { (content) } }
        }
    }
}

/// What stands in the place of a page that cannot be shown.
pub(crate) fn refusal(caller: Option<&Caller>, title: &str, detail: &str) -> Markup {
    let content = html! {
        h1 { (title) }
        p.lead { (detail) }
        p {
            @if caller.is_some() { a href="/desk" { "Back to the desk" } }
            @else { a href="/summaries" { "Published safety summaries" } }
        }
    };
    match caller {
        Some(caller) => Frame::of(caller).draw(&Page { title: title.to_owned(), word: None, content }),
        None => public_page(title, "Research registry", &content),
    }
}

fn whole(title: &str, preferences: Preferences, head: impl Render, content: &Markup) -> Markup {
    // The stylesheet reads the theme, the scripts whether single keys work.
    let theme = (preferences.theme != Theme::System).then(|| preferences.theme.name());
    html! {
        (DOCTYPE)
        html lang="en" data-theme=[theme] data-single-keys=(preferences.single_keys.name()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · Quietbeam" }
                link rel="icon" type="image/svg+xml" href=(assets::address(assets::ICON));
                link rel="stylesheet" href=(assets::address(assets::STYLESHEET));
            }
            body {
                a.unseen href="#work" { "Skip to the work" }
                (head)
                main.column id="work" tabindex="-1" { (content) }
            }
        }
    }
}
