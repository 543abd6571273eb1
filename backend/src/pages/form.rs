//! What a form of a page sends. The outermost layer has read it already, and has refused it
//! unless it came from a page of this registry in this very sign-in.

use actix_web::{FromRequest, HttpMessage, HttpRequest, dev::Payload};
use serde::de::DeserializeOwned;
use std::future::{Ready, ready};
use std::rc::Rc;

use crate::api::Problem;
use crate::api::problem::BROKEN_BODY;
use crate::api::strict;

/// The name of the field that proves where a form came from.
pub(crate) const FORM_TOKEN: &str = "form_token";

/// The fields of a form in the order of the page; the form token is not among them.
#[derive(Clone, Default)]
pub(crate) struct Posted(pub(super) Rc<Vec<(String, String)>>);

impl Posted {
    /// Reads the body of a form and takes the token out of it.
    pub(crate) fn read(body: &[u8]) -> Option<(Self, Option<String>)> {
        let mut fields: Vec<(String, String)> = serde_urlencoded::from_bytes(body).ok()?;
        let token = fields.iter().position(|(name, _)| name == FORM_TOKEN).map(|at| fields.remove(at).1);
        Some((Self(Rc::new(fields)), token))
    }

    /// A form as if it had been sent with these fields.
    pub(crate) fn of(fields: Vec<(String, String)>) -> Self {
        Self(Rc::new(fields))
    }

    /// The fields.
    pub(crate) fn fields(&self) -> &[(String, String)] {
        &self.0
    }

    /// Every value sent under a name: several for boxes of which several were ticked.
    pub(crate) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0.iter().filter(move |(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// The value sent under a name; a blank where none was.
    pub(crate) fn one(&self, name: &str) -> &str {
        self.0.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value)
    }
}

impl FromRequest for Posted {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(request.extensions().get::<Posted>().cloned().ok_or_else(unreadable))
    }
}

/// A small form read into its type: unknown fields are refused.
pub(crate) struct Form<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest for Form<T> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let posted = Posted::from_request(request, payload).into_inner();
        ready(posted.and_then(|posted| {
            let encoded = serde_urlencoded::to_string(posted.fields()).map_err(|_| unreadable())?;
            strict::read_query(&encoded).map(Self).map_err(Problem::from)
        }))
    }
}

/// The answer to what no form of ours sends.
pub(crate) fn unreadable() -> Problem {
    Problem::new(&BROKEN_BODY, "The form cannot be read; go back and send it again.")
}
