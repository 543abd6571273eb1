//! Do the methods match independent libraries, published pages and their own laws?
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod bibliography;
mod cox;
mod distributions;
mod dose;
mod exact;
mod follow_up;
mod laws;
mod one_proportion;
mod published;
mod ranks;
mod ratio_laws;
mod ratios;
mod reference;
mod strata;
mod strata_laws;
mod two_arms;
