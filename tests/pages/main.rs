//! The pages as people meet them: signed out, in each role, with hostile words, in a real
//! browser.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod access;
mod assets;
mod cases;
mod desk;
mod entry;
mod follow_up;
mod forms;
mod keyboard;
mod routes;
mod saves_itself;
mod sign_in;
mod style;
mod walk;
