//! The comparison report, from cases, a plan and facts to what it says.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod adjudication;
mod cases;
mod centre_charts;
mod checklist;
mod columns;
mod driving;
mod echo_alike;
mod first_lines;
mod flow;
mod forest;
mod later;
// Other test programs share these two, so they say `pub`.
#[path = "../src/plan.rs"]
#[allow(unreachable_pub)]
mod plan;
mod questions;
mod ratio_margin;
mod recheck;
mod recovery;
#[path = "../../schema/src/case/sample.rs"]
#[allow(unreachable_pub)]
mod sample;
mod strata;
mod threads;
mod treated;
