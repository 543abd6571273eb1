//! The API as a program sees it: the real server, real requests, both stores.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod adjudication;
mod approvals;
mod at_cut;
mod audit;
mod bodies;
mod calculations;
mod cases;
mod centres;
mod changes;
mod creation;
mod document;
mod dose_reports;
mod exports;
mod import_jobs;
mod imports;
mod lists;
mod looks;
mod members;
mod network;
mod pages;
mod plans;
mod planted;
mod public;
mod published_comparison;
mod queries;
mod races;
mod releases;
mod report_texts;
mod rows;
mod screening;
mod sign_in;
mod study;
mod summaries;
mod tokens;
mod words;
