//! The study: a cohort read from case records, its populations, and what a
//! comparison or a safety summary says about them.

pub mod adjustment;
pub mod at_cut;
pub mod by_centre;
pub mod cohort;
mod compared;
pub mod comparison;
pub mod decision;
pub mod definition;
pub mod deidentify;
pub mod dose;
pub mod effect;
pub mod effusion;
pub mod endpoint;
pub mod judges;
pub mod look;
mod near_zero;
pub mod numerals;
pub mod outlook;
pub mod own_picture;
mod peak;
pub mod plan;
pub mod planned;
pub mod planned_words;
pub mod population;
pub mod published;
pub mod recheck;
pub mod recovery;
pub mod report;
pub mod request;
pub mod sensitivity;
pub mod staff;
pub mod summary;
pub mod summary_words;
pub mod unwanted;
pub mod watching;
pub mod words;
