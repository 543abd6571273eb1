//! Statistical methods that know nothing of the registry: counts, samples and
//! strata in, estimates out. Every method is one function over validated input;
//! what cannot be estimated is a typed answer, never NaN.

// Source keys stand in square brackets without being links; tests/numbers checks them.
#![allow(rustdoc::broken_intra_doc_links)]

pub mod balance;
pub mod counts;
pub mod difference;
pub mod distribution;
pub mod dose;
pub mod interval;
pub mod mantel_haenszel;
pub mod non_inferiority;
pub mod proportion;
pub mod sample;
pub mod score;
pub mod stratified_score;
