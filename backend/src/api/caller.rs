//! Who asks: a program by its access token, a browser by its cookie, each on its own
//! addresses. A handler names the permit it needs as its first argument; there is no other
//! way to the store.

use actix_web::http::header::{AUTHORIZATION, HeaderMap};
use actix_web::{FromRequest, HttpMessage, HttpRequest, dev::Payload};
use quietbeam_schema::ids::CentreCode;
use std::future::{Ready, ready};
use std::rc::Rc;

use super::cookie::CookieRule;
use super::problem::{BAD_QUERY, NOT_ALLOWED, Problem};
use crate::access::permit::NotAllowed;
use crate::access::session::{Caller, SignInDesk, SignInError};
use crate::access::{Permit, Policed};

/// What the outermost layer found out about a request.
#[derive(Clone)]
pub(crate) struct Asked(Rc<AskedInner>);

struct AskedInner {
    request_id: String,
    presented: Presented,
}

enum Presented {
    Nothing,
    Refused,
    Unknown(Problem),
    Known(Box<Caller>),
}

impl Asked {
    /// For what is the same whoever asks.
    pub(super) fn by_nobody(request_id: String) -> Self {
        Self(Rc::new(AskedInner { request_id, presented: Presented::Nothing }))
    }

    /// Reads the cookie of a browser that asks for a page, and the member's authority as
    /// the database says it now.
    pub(super) async fn read_page(
        headers: &HeaderMap,
        cookies: CookieRule,
        desk: &SignInDesk,
        request_id: String,
    ) -> Self {
        let presented = match cookies.read(headers) {
            None => Presented::Nothing,
            Some(cookie) => match desk.browser_caller(&cookie, &request_id).await {
                Ok(caller) => Presented::Known(Box::new(caller)),
                Err(SignInError::Refused) => Presented::Refused,
                Err(error) => Presented::Unknown(error.into()),
            },
        };
        Self(Rc::new(AskedInner { request_id, presented }))
    }

    /// Reads the access token of a program that asks the API, if there is one, and the
    /// member's authority as the database says it now. A cookie is nothing to the API: it
    /// would come along with forms of other sites.
    pub(super) async fn read(headers: &HeaderMap, desk: &SignInDesk, request_id: String) -> Self {
        let presented = match bearer(headers) {
            Bearer::Absent => Presented::Nothing,
            Bearer::Foreign => Presented::Refused,
            Bearer::Token(token) => match desk.caller(token, &request_id).await {
                Ok(caller) => Presented::Known(Box::new(caller)),
                Err(SignInError::Refused) => Presented::Refused,
                Err(error) => Presented::Unknown(error.into()),
            },
        };
        Self(Rc::new(AskedInner { request_id, presented }))
    }

    pub(crate) fn request_id(&self) -> &str {
        &self.0.request_id
    }

    /// Whether the answer may hold what only the caller may see.
    pub(super) fn is_signed_in(&self) -> bool {
        matches!(self.0.presented, Presented::Known(_))
    }

    /// Whether a sign-in was presented that is over or was never ours.
    pub(crate) fn is_refused(&self) -> bool {
        matches!(self.0.presented, Presented::Refused)
    }

    /// Who asks, if the sign-in holds.
    pub(crate) fn caller(&self) -> Result<&Caller, Problem> {
        match &self.0.presented {
            Presented::Known(caller) => Ok(caller),
            Presented::Nothing | Presented::Refused => Err(Problem::signed_out()),
            Presented::Unknown(problem) => Err(problem.clone()),
        }
    }
}

enum Bearer<'a> {
    Absent,
    Foreign,
    Token(&'a str),
}

fn bearer(headers: &HeaderMap) -> Bearer<'_> {
    let mut sent = headers.get_all(AUTHORIZATION);
    let Some(first) = sent.next() else { return Bearer::Absent };
    // Two headers could be read differently here and in a proxy.
    if sent.next().is_some() {
        return Bearer::Foreign;
    }
    let text = first.to_str().unwrap_or_default();
    match text.split_once(' ') {
        Some((scheme, token)) if scheme.eq_ignore_ascii_case("bearer") && !token.is_empty() => {
            Bearer::Token(token)
        }
        _ => Bearer::Foreign,
    }
}

/// What the outermost layer left in the request.
pub(crate) fn asked(request: &HttpRequest) -> Result<Asked, Problem> {
    request.extensions().get::<Asked>().cloned().ok_or_else(Problem::broken)
}

/// The centre named, or the only one of the member.
pub(crate) fn one_centre(caller: &Caller, named: Option<CentreCode>) -> Result<CentreCode, Problem> {
    let own = caller.member().membership.centres();
    match (named, own.len(), own.first()) {
        // Another centre answers like one that does not exist.
        (Some(centre), ..) => own.contains(&centre).then_some(centre).ok_or_else(Problem::absent),
        (None, 1, Some(only)) => Ok(*only),
        (None, ..) => Err(Problem::new(&BAD_QUERY, "centre: name the centre; you belong to several.")),
    }
}

/// The caller itself, for what concerns its own sign-in.
pub(crate) struct Signed(Asked);

impl Signed {
    pub(crate) fn caller(&self) -> Result<&Caller, Problem> {
        self.0.caller()
    }

    pub(crate) fn request_id(&self) -> &str {
        self.0.request_id()
    }
}

impl FromRequest for Signed {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(asked(request).and_then(|asked| asked.caller().map(|_| ()).map(|()| Self(asked.clone()))))
    }
}

impl<A: Policed> FromRequest for Permit<A> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(asked(request).and_then(|asked| Ok(asked.caller()?.permit::<A>()?)))
    }
}

impl From<NotAllowed> for Problem {
    fn from(refused: NotAllowed) -> Self {
        let role = refused.role.name().replace('_', " ");
        Problem::new(
            &NOT_ALLOWED,
            format!("This needs the right \"{}\"; a {role} does not have it.", refused.action),
        )
    }
}
