//! The comparison report.

mod cases;
mod first_lines;
mod flow;
mod forest;
mod treated;
