//! The words of the registry and the rules between them. Pure: no input or output, clock,
//! randomness, SQL or HTTP.

pub mod access;
pub mod audit;
pub mod centre;
pub mod data_query;
pub mod ids;
pub mod instant;
pub mod summary;
