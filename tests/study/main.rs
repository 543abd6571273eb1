//! From case records to what a comparison and a safety summary say.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod arms;
mod comparison;
mod deidentify;
mod disclosure;
mod exhaustive;
mod looks;
mod outlook;
mod own_picture;
mod planned;
mod published;
mod records;
mod summary;
mod words;
