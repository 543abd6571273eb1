//! A radiation dose structured report of an X-ray system (DICOM PS3.16,
//! template 10001 and the templates it includes) on its way to the dose fields
//! of a case. Only coded concepts and numbers are ever kept: names, dates,
//! identifiers and free text are passed over without being copied.

mod concept;
mod content;
mod file;
mod offer;
mod problem;
mod totals;
mod unit;
mod words;

pub use concept::{Plane, Total};
pub use offer::{Offer, OfferedField};
pub use problem::DoseReportProblem;
pub use totals::{DoseReport, Note, PlaneTotals};

/// Largest file read, in bytes. A report of a whole procedure holds some
/// hundred events and stays far below; images are far above.
pub const LARGEST: usize = 16 << 20;

/// Reads a report. The file is not kept.
///
/// # Errors
/// What the file is instead, or what in it cannot be trusted.
pub fn read(bytes: &[u8]) -> Result<DoseReport, DoseReportProblem> {
    if bytes.len() > LARGEST {
        return Err(DoseReportProblem::TooLarge);
    }
    let parts = file::open(bytes)?;
    let items = content::walk(&parts)?;
    totals::summarise(&items)
}
