//! The pages as people meet them: signed out, in each role, with hostile words, in a real
//! browser.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod access;
mod accessible;
mod account;
mod adjudication;
mod approvals;
mod assets;
mod cases;
mod desk;
mod dose_reports;
mod entry;
mod figures;
mod follow_up;
mod forms;
mod imports;
mod imports_walk;
mod investigation;
mod investigation_walk;
mod keyboard;
mod members;
mod our_picture;
mod our_published;
mod queries;
mod releases;
mod releases_walk;
mod routes;
mod saves_itself;
mod screening_log;
mod sign_in;
mod style;
mod walk;
mod watching;
