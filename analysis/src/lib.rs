//! The numbers of the registry: `methods` knows counts, vectors and strata; `calculate` puts
//! rows of named columns through them; `study` speaks of cohorts and comparisons. Pure: same input, same output.

pub mod calculate;
mod distinct;
pub mod methods;
pub mod study;
