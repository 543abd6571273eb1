//! Do the methods match independent libraries, published pages and their own laws?
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod bibliography;
mod catalogue;
mod cox;
mod design_effect;
mod distributions;
mod dose;
mod e_value;
mod exact;
mod exact_power;
mod follow_up;
mod laws;
mod logistic;
mod missing_outcomes;
mod multiplicity;
mod one_proportion;
mod planning;
mod planning_laws;
mod pooling;
mod pooling_laws;
mod posterior;
mod precision;
mod published;
mod ranks;
mod ratio_laws;
mod ratios;
mod reference;
mod regression_laws;
mod regression_sets;
mod regression_variance;
mod strata;
mod strata_laws;
mod two_arms;
mod watching;
mod watching_laws;
