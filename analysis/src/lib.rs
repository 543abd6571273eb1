//! The numbers of the registry: `methods` knows counts, vectors and strata;
//! `study` speaks of cohorts and comparisons. Pure: same input, same output.

pub mod methods;
pub mod study;
