//! The comparison report.

mod cases;
mod first_lines;
mod flow;
