//! The API, `/api/v1`: one file a resource. A handler names its permit first; what
//! a request brings is read strictly; what goes wrong becomes a problem in one place.

mod adjudication;
mod approvals;
mod audit;
pub(crate) mod brought;
mod calculated;
mod calculations;
pub(crate) mod caller;
pub(crate) mod cases;
mod centres;
pub(crate) mod comparisons;
pub(crate) mod cookie;
pub(crate) mod cursor;
mod cuts;
pub(crate) mod dictionary;
pub mod document;
mod dose_reports;
pub(crate) mod exports;
mod health;
pub(crate) mod import_jobs;
pub(crate) mod imports;
mod members;
mod once;
mod origin;
mod outermost;
mod plans;
pub(crate) mod problem;
mod queries;
mod refusal;
mod routes;
mod screening;
mod sent;
mod sessions;
pub(crate) mod strict;
mod summaries;

pub(crate) use document::Document;
pub(crate) use health::{Readiness, live, ready};
pub(crate) use outermost::{Embeddable, around};
pub use problem::Problem;
pub(crate) use problem::withdrawn;
pub(crate) use routes::{Known, not_here, resources};
pub(crate) use sent::is_known;
