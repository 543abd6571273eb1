//! Statistical methods that know nothing of the registry: counts, samples and
//! strata in, estimates out. Every method is one function over validated input;
//! what cannot be estimated is a typed answer, never NaN.

// Source keys stand in square brackets without being links; tests/numbers checks them.
#![allow(rustdoc::broken_intra_doc_links)]

pub mod association;
pub mod balance;
pub mod between_centres;
pub mod bootstrap;
pub mod centre_effects;
pub mod cluster_variance;
pub mod clustered;
pub mod coefficient_variance;
pub mod counts;
pub mod cox;
mod cox_pass;
pub mod cusum;
pub mod design;
pub mod design_effect;
pub mod difference;
pub mod disclosure;
pub mod distribution;
pub mod dose;
pub mod e_value;
pub mod events_per_parameter;
pub mod exact_odds_ratio;
pub mod exact_power;
pub mod exact_unconditional;
pub mod follow_up;
pub mod funnel;
pub mod heterogeneity;
pub mod interval;
mod leverage;
pub mod log_rank;
pub mod logistic;
mod logistic_pass;
pub mod mantel_haenszel;
pub mod missing_outcomes;
pub mod multiplicity;
pub mod non_inferiority;
pub mod null_test;
pub mod observed_expected;
pub mod odds_ratio;
pub mod over_dispersion;
pub mod plan;
mod plan_terms;
pub mod pooling;
pub mod posterior;
pub mod power;
pub mod proportion;
pub mod proportion_simple;
mod random;
pub mod rank;
pub mod ratio;
pub mod ratio_margin;
mod row_blocks;
pub mod sample;
pub mod sample_size;
pub mod score;
pub mod separation;
pub mod shift;
pub mod standardisation;
pub mod stratified_newcombe;
pub mod stratified_score;
pub mod survival;
mod unconditional;
pub mod wald;
