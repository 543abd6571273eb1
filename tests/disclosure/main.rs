//! No small count can be worked out from what is published, from any seat. Built
//! without the server, so that thousands of tables cost seconds.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod around;
mod attack;
mod capture;
mod comparison;
mod display;
#[path = "../study/exhaustive.rs"]
mod exhaustive;
mod hiding;
mod literature;
mod numbers;
mod periods;
// Other test programs share it.
#[path = "../src/plan.rs"]
#[allow(unreachable_pub)]
mod plan;
mod published_table;
mod ranks;
mod refused;
mod regions;
// Other test programs share it and use more of it.
#[path = "../../schema/src/case/sample.rs"]
#[allow(dead_code, unreachable_pub)]
mod sample;
mod staff;
mod summaries;
mod threads;
mod tiny;
mod worked_example;
