//! The only translator from what went wrong to an HTTP answer: RFC 9457
//! problem details, for every answer that is no success.

use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, HeaderName, HeaderValue, LINK, RETRY_AFTER, WWW_AUTHENTICATE};
use actix_web::{HttpResponse, ResponseError};
use quietbeam_analysis::study::plan::{PlanRefusal, Trouble};
use quietbeam_schema::finding::{Finding, Weight};
use quietbeam_schema::ids::SummaryNumber;
use quietbeam_schema::summary_design::DesignProblem;
use serde::Serialize;
use std::fmt;
use utoipa::ToSchema;

use super::strict::{Misread, NotJson};
use crate::access::session::Caller;

/// A kind of problem, as the API page lists it.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Kind {
    pub(crate) code: &'static str,
    pub(crate) status: u16,
    pub(crate) title: &'static str,
}

macro_rules! kinds {
    ($($name:ident = $status:literal $code:literal $title:literal;)+) => {
        $(pub(crate) const $name: Kind = Kind { code: $code, status: $status, title: $title };)+

        /// Every kind of problem, by status.
        pub(crate) const KINDS: &[Kind] = &[$($name),+];
    };
}

kinds! {
    BROKEN_BODY = 400 "broken_body" "The body cannot be read";
    BAD_QUERY = 400 "bad_query" "A parameter of the address must be mended";
    BAD_CURSOR = 400 "bad_cursor" "This cursor belongs to another list";
    KEY_MISSING = 400 "idempotency_key_required" "Creating needs an Idempotency-Key";
    BAD_HEADER = 400 "bad_header" "A header cannot be read";
    SIGNED_OUT = 401 "signed_out" "Sign in first";
    SIGN_IN_FAILED = 401 "sign_in_failed" "Name and password do not match";
    FOREIGN_FORM = 403 "foreign_form" "This form did not come from here";
    NOT_ALLOWED = 403 "not_allowed" "Your role may not do this";
    APPROVAL_EXPIRED = 403 "approval_expired" "An approval of the centre does not hold";
    NOT_FOUND = 404 "not_found" "Nothing is found here";
    METHOD = 405 "method_not_allowed" "This address does not take that method";
    NOT_ACCEPTABLE = 406 "not_acceptable" "The answer is JSON";
    ILLEGAL_STEP = 409 "illegal_step" "The present stage does not allow this";
    TAKEN = 409 "taken" "It exists already";
    RACE = 409 "race" "Somebody else was faster";
    DISCLOSES = 409 "discloses" "The summary would give a count away";
    SUMMARY_DIFFERS = 409 "summary_differs" "A summary does not say what its cases say";
    WITHDRAWN = 410 "withdrawn" "This summary was withdrawn";
    STALE = 412 "stale" "It was changed meanwhile";
    TOO_LARGE = 413 "too_large" "The body is too large";
    MEDIA_TYPE = 415 "unsupported_media_type" "The body is not of a type that is taken here";
    MUST_BE_MENDED = 422 "must_be_mended" "Something must be mended";
    KEY_REUSED = 422 "idempotency_key_reused" "The Idempotency-Key was used for another request";
    IF_MATCH_MISSING = 428 "if_match_required" "A change needs If-Match";
    BROKEN = 500 "broken" "Something is broken";
    BUSY = 503 "busy" "Try again in a moment";
}

/// An answer that is no success.
#[derive(Debug, Clone)]
pub struct Problem {
    kind: &'static Kind,
    detail: String,
    errors: Vec<ProblemError>,
    headers: Vec<(HeaderName, HeaderValue)>,
}

/// One thing to mend.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct ProblemError {
    /// JSON pointer (RFC 6901) into the body, or the parameter.
    pub pointer: String,
    /// The rule that found it.
    pub rule: String,
    /// `hard` must be mended, `query` may be answered later.
    #[schema(value_type = String)]
    pub weight: Weight,
    /// What is wrong and how to mend it.
    pub sentence: String,
}

/// Problem details (RFC 9457).
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Problem)]
pub(crate) struct ProblemBody<'a> {
    /// The kind of problem: an anchor of the API page.
    pub(crate) r#type: String,
    /// The kind of problem in words.
    pub(crate) title: &'a str,
    /// The status of the answer.
    pub(crate) status: u16,
    /// What happened here, and the mend.
    pub(crate) detail: &'a str,
    /// This very answer; the log knows it by the same name.
    pub(crate) instance: String,
    /// The kind of problem for machines.
    pub(crate) code: &'a str,
    /// What must be mended, field by field.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    pub(crate) errors: &'a [ProblemError],
}

/// A summary that is no longer to be relied on, with the way to the one that says it right.
pub(crate) fn withdrawn(reason: &str, corrected_by: Option<SummaryNumber>) -> Problem {
    let why = format!("This summary was withdrawn: {reason}");
    match corrected_by {
        None => Problem::new(&WITHDRAWN, why),
        Some(SummaryNumber(number)) => {
            Problem::new(&WITHDRAWN, format!("{why} Corrected by safety summary {number}."))
                .with(LINK, &format!("</api/v1/summaries/{number}>; rel=\"successor-version\""))
        }
    }
}

impl Problem {
    /// A problem of a kind.
    pub(crate) fn new(kind: &'static Kind, detail: impl Into<String>) -> Self {
        Self { kind, detail: detail.into(), errors: Vec::new(), headers: Vec::new() }
    }

    /// What does not exist and what belongs to another centre get the very same answer.
    pub(crate) fn absent() -> Self {
        Self::new(&NOT_FOUND, "There is nothing at this address that you can see.")
    }

    /// No valid sign-in came with the request.
    pub(crate) fn signed_out() -> Self {
        Self::new(&SIGNED_OUT, "Sign in and send the access token as \"Authorization: Bearer …\".")
            .with(WWW_AUTHENTICATE, "Bearer")
    }

    /// The address exists, but not for this method.
    pub(crate) fn method(allowed: &str) -> Self {
        Self::new(&METHOD, format!("Use one of: {allowed}.")).with(ALLOW, allowed)
    }

    /// The store or the machine cannot do it now.
    pub(crate) fn busy() -> Self {
        Self::new(&BUSY, "The registry is too busy or cannot reach its store; nothing was changed.")
            .with(RETRY_AFTER, "2")
    }

    /// Something failed that is nobody's fault outside; the log has the cause.
    pub(crate) fn broken() -> Self {
        Self::new(&BROKEN, "The registry could not do this; nothing was changed. The log has the cause.")
    }

    /// One field of the body must be mended.
    pub(crate) fn field(pointer: &str, rule: &'static str, sentence: impl fmt::Display) -> Self {
        let error = ProblemError {
            pointer: pointer.to_owned(),
            rule: rule.to_owned(),
            weight: Weight::Hard,
            sentence: sentence.to_string(),
        };
        Self::mend(vec![error])
    }

    /// What the rules found in a record.
    pub(crate) fn findings(findings: &[Finding]) -> Self {
        Self::mend(findings.iter().map(ProblemError::from).collect())
    }

    /// What must be mended in an analysis plan.
    pub(super) fn plan(refusal: &PlanRefusal) -> Self {
        let error = |(pointer, trouble): &(String, Trouble)| ProblemError {
            pointer: pointer.clone(),
            rule: "plan".to_owned(),
            weight: Weight::Hard,
            sentence: trouble.to_string(),
        };
        Self::mend(refusal.0.iter().map(error).collect())
    }

    /// What must be mended in the design of a summary.
    pub(super) fn design(problems: &[DesignProblem]) -> Self {
        let error = |DesignProblem { field, why }: &DesignProblem| ProblemError {
            pointer: format!("/design{field}"),
            rule: "design".to_owned(),
            weight: Weight::Hard,
            sentence: why.to_string(),
        };
        Self::mend(problems.iter().map(error).collect())
    }

    /// Everything that must be mended.
    pub(super) fn mend(errors: Vec<ProblemError>) -> Self {
        let hard = errors.iter().filter(|error| error.weight == Weight::Hard).count();
        let detail = match hard {
            1 => "One thing must be mended; it is listed under errors.".to_owned(),
            _ => format!("{hard} things must be mended; they are listed under errors."),
        };
        Self { errors, ..Self::new(&MUST_BE_MENDED, detail) }
    }

    /// The query of the address cannot be read.
    pub(crate) fn query(misread: Misread) -> Self {
        let detail = "A parameter of the address must be mended; it is listed under errors.";
        Self { errors: vec![misread.into()], ..Self::new(&BAD_QUERY, detail) }
    }

    pub(super) fn with(mut self, name: HeaderName, value: &str) -> Self {
        self.headers.extend(HeaderValue::from_str(value).ok().map(|value| (name, value)));
        self
    }

    /// The problem that a bare status of the server stands for.
    pub(crate) fn for_status(status: StatusCode) -> Self {
        match status.as_u16() {
            400 => Self::new(&BROKEN_BODY, "The request cannot be read."),
            401 => Self::signed_out(),
            404 => Self::absent(),
            413 => Self::new(&TOO_LARGE, "The body is larger than is taken here."),
            415 => Self::new(&MEDIA_TYPE, "Send JSON with \"Content-Type: application/json\"."),
            503 => Self::busy(),
            _ => Self::broken(),
        }
    }

    /// Whether it is about this kind.
    pub(super) fn is(&self, kind: &Kind) -> bool {
        self.kind == kind
    }

    /// The same for people, as a page.
    pub(crate) fn page(&self, caller: Option<&Caller>) -> HttpResponse {
        let page = crate::pages::refusal(caller, self.kind.title, &self.detail);
        HttpResponse::build(self.status_code())
            .content_type("text/html; charset=utf-8")
            .body(page.into_string())
    }

    /// The answer, named by the request it belongs to.
    pub(crate) fn answer(&self, request_id: &str) -> HttpResponse {
        let body = ProblemBody {
            r#type: format!("/api/v1/#{}", self.kind.code),
            title: self.kind.title,
            status: self.kind.status,
            detail: &self.detail,
            instance: format!("urn:uuid:{request_id}"),
            code: self.kind.code,
            errors: &self.errors,
        };
        let mut answer = HttpResponse::build(self.status_code());
        for header in &self.headers {
            answer.insert_header(header.clone());
        }
        let text = serde_json::to_string(&body).unwrap_or_default();
        answer.content_type("application/problem+json").body(text)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.kind.code)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.kind.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    /// Without a body: only the outermost layer knows the request, and writes it.
    fn error_response(&self) -> HttpResponse {
        HttpResponse::new(self.status_code())
    }
}

impl From<&Finding> for ProblemError {
    fn from(finding: &Finding) -> Self {
        Self {
            pointer: finding.places.first().map(|place| place.pointer()).unwrap_or_default(),
            rule: finding.rule.to_owned(),
            weight: finding.weight,
            sentence: finding.sentence.clone(),
        }
    }
}

impl From<Misread> for ProblemError {
    fn from(misread: Misread) -> Self {
        let Misread { pointer, rule, sentence } = misread;
        Self { pointer, rule: rule.to_owned(), weight: Weight::Hard, sentence }
    }
}

impl From<Misread> for Problem {
    fn from(misread: Misread) -> Self {
        Self::mend(vec![misread.into()])
    }
}

impl From<NotJson> for Problem {
    fn from(error: NotJson) -> Self {
        Self::new(&BROKEN_BODY, error.to_string())
    }
}
