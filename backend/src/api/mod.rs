//! The API, `/api/v1`: one file a resource. A handler names its permit first; what
//! a request brings is read strictly; what goes wrong becomes a problem in one place.

mod audit;
mod brought;
mod calculated;
mod calculations;
mod caller;
mod cases;
mod centres;
mod comparisons;
mod cursor;
mod cuts;
mod dictionary;
pub mod document;
mod dose_reports;
mod health;
mod imports;
mod members;
mod once;
mod outermost;
pub(crate) mod problem;
mod queries;
mod refusal;
mod routes;
mod screening;
mod sessions;
mod strict;
mod summaries;

pub(crate) use document::Document;
pub(crate) use health::{Readiness, live, ready};
pub(crate) use outermost::around;
pub use problem::Problem;
pub(crate) use routes::{Known, not_here, resources};
