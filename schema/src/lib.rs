//! The words of the registry: the case record, its closed lists and typed
//! quantities, the dictionary that describes every variable, and the rules
//! between them. Pure: no input or output, clock, randomness, SQL or HTTP.

pub mod access;
pub mod adjudication;
pub mod audit;
pub mod case;
pub mod centre;
pub mod centre_approval;
pub mod codebook;
pub mod completeness;
pub mod contact;
pub mod data_query;
pub mod dictionary;
pub mod draft;
pub mod endpoint;
pub mod entries;
pub mod entry;
pub mod finding;
pub mod ids;
pub mod instant;
pub mod json_schema;
pub mod late_contact;
pub mod merge;
pub mod period;
pub mod quantity;
pub mod reported;
pub mod rules;
pub mod screen;
pub mod summary;
pub mod summary_design;
pub mod value;
pub mod vocabulary;
