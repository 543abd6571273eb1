//! A centre's own picture: what its cases and its screening log say about themselves. Nothing
//! here compares centres, and nothing here judges a person.

mod columns;
mod crossover;
mod detection;
mod digits;
mod dose;
mod duplicates;
mod fields;
mod learning;
mod network;
mod quarters;
mod units;

use crate::methods::interval::Confidence;
use crate::methods::sample::Sample;
use crate::methods::shift::median_interval;
use quietbeam_schema::case::CaseForm;

pub use crate::methods::evenness::EvennessTest;
pub use crate::methods::interval::Interval;
pub use columns::OwnCase;
pub(super) use columns::last_digits;
pub use crossover::{CrossOvers, ReasonCount};
pub use detection::{Detection, Look, Looks, RouteCount};
#[cfg(test)]
pub(super) use digits::LastDigit;
pub use digits::{DigitLine, DigitQuantity, DigitsKept};
pub(super) use digits::{LastDigits, lines as digit_lines};
pub use dose::{BIN_RANGE_MGY, BINS, DosePicture, DoseSpread, Exposed, KAP_REFERENCE_LEVEL_GY_CM2};
pub use duplicates::PossibleDuplicate;
pub use fields::{Completeness, FieldLine};
pub use learning::{
    Chart, EXPECTED_CROSS_OVER, FIRST_CASES, Learning, Operator, SIGNAL_LINE, WATCHED_ODDS_RATIO,
};
pub use network::{CentreDoses, LEAST_CENTRES, NetworkValues};
pub use quarters::{LogLine, Part, QuarterLine};
pub use units::{DoseUnit, UnitChange, UnitChangeKind};

/// Fewer cases than this say nothing about a share, a median or a pattern: it is not shown.
/// The same number under which a published count is hidden.
pub const FEW: u32 = 11;

const LEVEL: Confidence = Confidence::NINETY_FIVE;

/// Reads a centre's cases one by one.
#[derive(Debug, Default)]
pub struct Drawing {
    cases: Vec<OwnCase>,
    completeness: Completeness,
}

impl Drawing {
    /// Adds a case: what was entered, and the columns read from its record.
    pub fn add(&mut self, form: &CaseForm, case: OwnCase) {
        self.completeness.add(form);
        self.cases.push(case);
    }

    /// The picture, with the lines of the screening log.
    pub fn finish(mut self, log: &[LogLine]) -> OwnPicture {
        // Within a quarter nobody knows more of the order than the order of entry.
        self.cases.sort_by_key(|case| (case.row.period, case.entered));
        let cases = &self.cases;
        OwnPicture {
            cases: cases.len() as u32,
            completeness: self.completeness,
            quarters: quarters::lines(cases, log),
            dose: DosePicture::of(cases),
            unit_changes: units::changes(cases),
            duplicates: duplicates::possible(cases),
            digits: digits::lines(cases.iter().map(|case| case.last_digits)),
            cross_overs: CrossOvers::of(cases),
            detection: Detection::of(cases),
            learning: Learning::of(cases),
        }
    }
}

/// Everything a centre sees of itself.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnPicture {
    /// Its cases.
    pub cases: u32,
    /// How complete each field is.
    pub completeness: Completeness,
    /// Quarter by quarter, without gaps.
    pub quarters: Vec<QuarterLine>,
    /// How many had no X-ray, and how much the others had.
    pub dose: DosePicture,
    /// Quarters in which a unit of dose seems to have changed.
    pub unit_changes: Vec<UnitChange>,
    /// Cases that may have been entered twice.
    pub duplicates: Vec<PossibleDuplicate>,
    /// Last digits of doses and times.
    pub digits: Vec<DigitLine>,
    /// X-ray used where none was intended.
    pub cross_overs: CrossOvers,
    /// What showed complications first, and how often anyone looked.
    pub detection: Detection,
    /// The operators' cases in their order.
    pub learning: Learning,
}

/// A median with limits, where there are enough values for it to say something.
fn steady_median(values: &[f64]) -> Option<Interval> {
    if values.len() < FEW as usize {
        return None;
    }
    let sample = Sample::new(values.to_vec()).ok()?;
    median_interval(&sample, LEVEL).ok().map(|(interval, _)| interval)
}
