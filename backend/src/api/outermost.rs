//! The outermost layer of the server: names each request, finds out who asks,
//! turns every failure into a problem, and puts the guarding headers on all.

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{
    ACCEPT, CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderMap, HeaderName, HeaderValue,
    LOCATION, REFERRER_POLICY, STRICT_TRANSPORT_SECURITY, X_CONTENT_TYPE_OPTIONS,
};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, HttpRequest, HttpResponse, web};

use super::caller::Asked;
use super::cookie::CookieRule;
use super::origin::check_form;
use super::problem::{NOT_ACCEPTABLE, Problem, SIGNED_OUT};
use crate::access::session::SignInDesk;
use crate::clock::{Clock, Randomness};

/// Runs around every request.
pub(crate) async fn around(
    desk: web::Data<SignInDesk>,
    randomness: web::Data<Randomness>,
    (clock, cookies): (web::Data<Clock>, web::Data<CookieRule>),
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let began = clock.now();
    // The server leaves the body out of an answer to HEAD by itself.
    if request.method() == Method::HEAD {
        request.head_mut().method = Method::GET;
    }
    let Some(request_id) = new_request_id(&randomness) else {
        return Ok(request.into_response(Problem::broken().answer("00000000-0000-0000-0000-000000000000")));
    };
    // What has its version in its address is the same for everyone.
    let asked = if request.path().starts_with("/assets/") {
        Asked::by_nobody(request_id)
    } else if is_page(request.path()) {
        Asked::read_page(request.headers(), **cookies, &desk, request_id).await
    } else {
        Asked::read(request.headers(), &desk, request_id).await
    };
    request.extensions_mut().insert(asked.clone());
    let response = match refused_at_the_door(&mut request, &asked).await {
        None => next.call(request).await?.map_into_boxed_body(),
        Some(problem) => {
            let told = told(request.request(), &problem, &asked);
            request.into_response(told)
        }
    };
    let mut response = as_problem(response, &asked);
    guard(&mut response, &asked, **cookies);
    let route = response.request().match_pattern().unwrap_or_else(|| "unknown".to_owned());
    let ms = clock.now().unix_milliseconds() - began.unix_milliseconds();
    let method = response.request().method().as_str();
    let (status, request_id) = (response.status().as_u16(), asked.request_id());
    tracing::info!(method, route, status, ms, request_id, "answered");
    Ok(response)
}

/// Whether an address is a page's and not the API's.
fn is_page(path: &str) -> bool {
    !path.starts_with("/api/")
}

/// What is refused whatever the address.
async fn refused_at_the_door(request: &mut ServiceRequest, asked: &Asked) -> Option<Problem> {
    if !accepts(request.path(), request.headers()) {
        return Some(Problem::new(&NOT_ACCEPTABLE, "This address answers in JSON; let Accept allow it."));
    }
    if is_page(request.path()) { check_form(request, asked).await.err() } else { None }
}

/// A version 4 identifier (RFC 9562): it must not tell the time of a request.
fn new_request_id(randomness: &Randomness) -> Option<String> {
    let bytes = randomness.bytes::<16>().ok()?;
    Some(uuid::Builder::from_random_bytes(bytes).into_uuid().to_string())
}

/// Whether the request takes JSON, where JSON is all there is.
fn accepts(path: &str, headers: &HeaderMap) -> bool {
    let page = is_page(path) || path == "/api/v1/";
    let mut ranges = headers
        .get_all(ACCEPT)
        .flat_map(|value| value.to_str().unwrap_or_default().split(','))
        .map(|range| {
            let (kind, parameters) = range.split_once(';').unwrap_or((range, ""));
            (kind.trim().to_ascii_lowercase(), parameters.replace(' ', "").to_ascii_lowercase())
        })
        .filter(|(kind, _)| !kind.is_empty())
        .peekable();
    if page || ranges.peek().is_none() {
        return true;
    }
    ranges.any(|(kind, parameters)| {
        let json = matches!(
            kind.as_str(),
            "*/*" | "application/*" | "application/json" | "application/problem+json"
        );
        let excluded = parameters.split(';').any(|one| matches!(one, "q=0" | "q=0.0" | "q=0.00" | "q=0.000"));
        json && !excluded
    })
}

/// Every answer of 400 and above is a problem, also those that the server's own
/// parts gave.
fn as_problem(response: ServiceResponse<BoxBody>, asked: &Asked) -> ServiceResponse<BoxBody> {
    let status = response.status();
    let kind = response.response().headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    let is_told =
        kind.is_some_and(|kind| kind == "application/problem+json" || kind.starts_with("text/html"));
    if is_told || !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    let problem = match response.response().error().and_then(|error| error.as_error::<Problem>()) {
        Some(problem) => problem.clone(),
        None => Problem::for_status(status),
    };
    let answer = told(response.request(), &problem, asked);
    let (request, _) = response.into_parts();
    ServiceResponse::new(request, answer)
}

/// A problem as whoever asks can read it; a page that wants a sign-in leads to it.
fn told(request: &HttpRequest, problem: &Problem, asked: &Asked) -> HttpResponse {
    if is_page(request.path()) && problem.is(&SIGNED_OUT) && !wants_json(request) {
        to_sign_in(request)
    } else if wants_page(request) {
        problem.page(asked.caller().ok())
    } else {
        problem.answer(asked.request_id())
    }
}

/// Whether a person's browser asks, outside the API.
fn wants_page(request: &HttpRequest) -> bool {
    let accept = request.headers().get(ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    is_page(request.path()) && accept.contains("text/html")
}

/// Whether the script of a page asks: it says itself what is to be done.
fn wants_json(request: &HttpRequest) -> bool {
    request.headers().get(ACCEPT).is_some_and(|accept| accept.as_bytes() == b"application/json")
}

/// To the sign-in page, and from there back to the same place.
fn to_sign_in(request: &HttpRequest) -> HttpResponse {
    let address = crate::pages::sign_in_address(request.uri().path_and_query().map_or("/", |to| to.as_str()));
    HttpResponse::SeeOther().insert_header((LOCATION, address)).finish()
}

/// Marks a page that may stand inside a page of somebody else's: public, and with nothing to click
/// but a link out.
pub(crate) struct Embeddable;

const NOTHING: &str = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// Everything a page loads is the registry's own, and nothing stands inline.
const OWN: &str = "default-src 'none'; style-src 'self'; font-src 'self'; img-src 'self'; script-src 'self'; \
    connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The same for a page that stands inside another.
const EMBEDDED: &str =
    "default-src 'none'; style-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'";

fn guard(response: &mut ServiceResponse<BoxBody>, asked: &Asked, cookies: CookieRule) {
    let embedded = response.response().extensions().get::<Embeddable>().is_some();
    let headers = response.headers_mut();
    let page = headers.get(CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    let (policy, resource) = match (embedded, page) {
        (true, _) => (EMBEDDED, "cross-origin"),
        (false, true) => (OWN, "same-origin"),
        (false, false) => (NOTHING, "same-origin"),
    };
    for (name, value) in [
        (CONTENT_SECURITY_POLICY, policy),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), resource),
        (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if cookies.is_https() {
        let one_year = HeaderValue::from_static("max-age=31536000; includeSubDomains");
        headers.insert(STRICT_TRANSPORT_SECURITY, one_year);
    }
    if asked.is_signed_in() || !headers.contains_key(CACHE_CONTROL) {
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    if let Ok(value) = HeaderValue::from_str(asked.request_id()) {
        headers.insert(HeaderName::from_static("x-request-id"), value);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn json_must_be_allowed_where_json_is_all_there_is() {
        let check = |path: &str, accept: &str, expected: bool| {
            let mut headers = HeaderMap::new();
            headers.insert(ACCEPT, HeaderValue::from_str(accept).unwrap());
            assert_eq!(accepts(path, &headers), expected, "{path} {accept}");
        };
        check("/api/v1/cases", "application/xml", false);
        check("/api/v1/cases", "text/html, */*;q=0.8", true);
        check("/api/v1/cases", "application/json; q=0", false);
        check("/api/v1/cases", "application/problem+json", true);
        check("/api/v1/cases", "", true);
        check("/summaries", "text/html", true);
        check("/api/v1/", "text/html", true);
        assert!(accepts("/api/v1/cases", &HeaderMap::new()));
    }
}
