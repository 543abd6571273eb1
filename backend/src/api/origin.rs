//! Where a page's form comes from. Whatever changes something must have been sent by a page
//! of this registry, and within a sign-in it must carry that sign-in's form token. Both are
//! asked here, before any handler, so that no page can forget it.

use actix_web::dev::ServiceRequest;
use actix_web::http::Method;
use actix_web::http::header::{CONTENT_TYPE, HOST, HeaderMap, ORIGIN};
use actix_web::{HttpMessage, web};

use super::caller::Asked;
use super::problem::{FOREIGN_FORM, Problem, TOO_LARGE};
use crate::pages::form::{FORM_TOKEN, Posted, unreadable};

/// The one form that is sent before a sign-in, or over an old one.
const SIGN_IN: &str = "/sign-in";

/// Checks an unsafe request outside the API, and reads the form it brings.
pub(super) async fn check_form(request: &mut ServiceRequest, asked: &Asked) -> Result<(), Problem> {
    if matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS) {
        return Ok(());
    }
    let foreign = || Problem::new(&FOREIGN_FORM, "Open the page again and send its form from there.");
    if !is_of_this_site(request.headers()) {
        return Err(foreign());
    }
    let sent = match kind(request.headers()) {
        Sent::Form => {
            let bytes = request.extract::<web::Bytes>().await.map_err(|error| {
                match error.as_response_error().status_code().as_u16() {
                    413 => Problem::new(&TOO_LARGE, "The form holds more than is taken here."),
                    _ => unreadable(),
                }
            })?;
            let (posted, token) = Posted::read(&bytes).ok_or_else(unreadable)?;
            request.extensions_mut().insert(posted);
            token
        }
        // A file is a stream that nobody reads before this; its form names the token in its
        // address.
        Sent::Files => of_address(request.query_string()),
        Sent::Other => header(request.headers(), "x-form-token").map(str::to_owned),
    };
    // Without a sign-in there is nothing to protect but the sign-in form itself, and
    // whatever needs a permit will be refused for want of one.
    let Ok(caller) = asked.caller() else { return Ok(()) };
    if request.path() == SIGN_IN || (sent.is_some() && sent.as_deref() == caller.form_token()) {
        return Ok(());
    }
    Err(foreign())
}

enum Sent {
    Form,
    Files,
    Other,
}

fn kind(headers: &HeaderMap) -> Sent {
    let kind = headers.get(CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    match kind.split(';').next().unwrap_or_default().trim().to_ascii_lowercase().as_str() {
        "application/x-www-form-urlencoded" => Sent::Form,
        "multipart/form-data" => Sent::Files,
        _ => Sent::Other,
    }
}

fn of_address(query: &str) -> Option<String> {
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(query).ok()?;
    pairs.into_iter().find(|(name, _)| name == FORM_TOKEN).map(|(_, value)| value)
}

fn header<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

/// Browsers say themselves where a request comes from. Older ones say the origin; what says
/// neither is no browser, and nobody can make it send somebody else's cookie.
fn is_of_this_site(headers: &HeaderMap) -> bool {
    if let Some(site) = header(headers, "sec-fetch-site") {
        return site == "same-origin";
    }
    match header(headers, ORIGIN.as_str()) {
        None => !headers.contains_key(ORIGIN),
        Some(origin) => {
            let host = origin.split_once("://").map(|(_, host)| host);
            host.is_some() && host == header(headers, HOST.as_str())
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use actix_web::http::header::{HeaderName, HeaderValue};

    use super::*;

    #[test]
    fn only_this_site_sends_its_forms() {
        let check = |pairs: &[(&'static str, &str)], expected: bool| {
            let mut headers = HeaderMap::new();
            for (name, value) in pairs {
                headers.insert(HeaderName::from_static(name), HeaderValue::from_str(value).unwrap());
            }
            assert_eq!(is_of_this_site(&headers), expected, "{pairs:?}");
        };
        check(&[], true);
        check(&[("sec-fetch-site", "same-origin")], true);
        // The origin is "null" under a strict referrer policy, so the first word decides.
        check(&[("sec-fetch-site", "same-origin"), ("origin", "null")], true);
        check(&[("sec-fetch-site", "same-site")], false);
        check(&[("sec-fetch-site", "cross-site"), ("origin", "http://here"), ("host", "here")], false);
        check(&[("sec-fetch-site", "none")], false);
        check(&[("origin", "https://here:8443"), ("host", "here:8443")], true);
        check(&[("origin", "https://there"), ("host", "here")], false);
        check(&[("origin", "null"), ("host", "null")], false);
    }
}
