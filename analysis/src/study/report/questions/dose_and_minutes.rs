//! Dose is not minutes: air kerma against fluoroscopy time, case by case, counted into a grid.

use super::super::Seen;
use super::super::prose::cases;
use crate::methods::sample::{Probability, Sample, quantile_type_7};
use crate::study::arm::ByArm;
use crate::study::numerals;
use crate::study::population::{Population, is_ablation};
use crate::study::share::Share;
use serde::Serialize;
use std::collections::BTreeMap;

/// Classes a decade of either axis.
const A_DECADE: f64 = 4.0;

/// An axis of the grid on a logarithmic scale.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Axis {
    /// Its lower end; what lies below is counted into the first class.
    pub from: f64,
    /// Its upper end; what lies above is counted into the last class.
    pub to: f64,
    /// Classes.
    pub classes: u8,
}

/// Minutes of fluoroscopy.
pub const MINUTES: Axis = Axis { from: 0.1, to: 100.0, classes: 12 };

/// Air kerma in mGy.
pub const MGY: Axis = Axis { from: 0.1, to: 10_000.0, classes: 20 };

impl Axis {
    fn class(self, value: f64) -> u8 {
        // Rounding must not move a value on an edge into the class below.
        let place = ((value / self.from).log10() * A_DECADE + 1e-9).floor();
        place.clamp(0.0, f64::from(self.classes - 1)) as u8
    }
}

/// Dose and minutes of the cases with the beam on. Of every ablation in the cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoseAndMinutes {
    /// Cases with the beam on.
    pub exposed: u32,
    /// Of these, air kerma and fluoroscopy time are both known and above 0.
    pub both_known: u32,
    /// The axis of minutes.
    pub minutes: Axis,
    /// The axis of air kerma.
    pub mgy: Axis,
    /// The classes with a case, by minutes, then by air kerma.
    pub grid: Vec<GridCell>,
    /// mGy a minute in all cases in which both are known.
    pub all: Rate,
    /// In those without a cine run.
    pub without_cine: Rate,
    /// In those with one.
    pub with_cine: Rate,
    /// Cases with a cine run, of those that say whether.
    pub cine: Share,
    /// The same in words.
    pub in_words: String,
}

/// Cases of one class of minutes and one of air kerma.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct GridCell {
    /// Class of minutes, from 0.
    pub minutes: u8,
    /// Class of air kerma, from 0.
    pub mgy: u8,
    /// Cases as intended.
    pub cases: ByArm<u32>,
    /// Cases intended as near-zero.
    pub near_zero: u32,
}

/// Air kerma a minute of fluoroscopy: how far apart the same minutes can be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rate {
    /// Cases.
    pub cases: u32,
    /// Quantiles in mGy a minute at 5, 25, 50, 75 and 95 % (type 7); absent without cases.
    pub quantiles: Option<[f64; 5]>,
}

const AT: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];

impl Rate {
    fn of(rates: Vec<f64>) -> Self {
        let cases = rates.len() as u32;
        let sample = Sample::new(rates).ok();
        let quantile = |sample: &Sample, q| Probability::new(q).map_or(0.0, |q| quantile_type_7(sample, q));
        Self { cases, quantiles: sample.map(|sample| AT.map(|q| quantile(&sample, q))) }
    }
}

impl DoseAndMinutes {
    pub(in super::super) fn new(seen: &Seen<'_>) -> Self {
        let mut grid = BTreeMap::<(u8, u8), GridCell>::new();
        let (mut all, mut with, mut without) = (Vec::new(), Vec::new(), Vec::new());
        let (mut exposed, mut cine, mut stated) = (0, 0, 0);
        for case in seen.all.iter().filter(|case| is_ablation(&case.row) && case.row.beam_on()) {
            exposed += 1;
            let runs = case.course.cine_runs;
            stated += u32::from(runs.is_some());
            cine += u32::from(runs.is_some_and(|runs| runs > 0));
            let (Some(mgy), Some(seconds)) = (case.row.air_kerma_mgy, case.row.fluoro_time_s) else {
                continue;
            };
            if mgy <= 0.0 || seconds <= 0.0 {
                continue;
            }
            let minutes = seconds / 60.0;
            all.push(mgy / minutes);
            match runs {
                Some(0) => without.push(mgy / minutes),
                Some(_) => with.push(mgy / minutes),
                None => {}
            }
            let place = (MINUTES.class(minutes), MGY.class(mgy));
            let (cases, near_zero) = (ByArm::default(), 0);
            let cell = GridCell { minutes: place.0, mgy: place.1, cases, near_zero };
            let cell = grid.entry(place).or_insert(cell);
            match Population::AsIntended.arm(&case.row) {
                Some(arm) => *cell.cases.of_mut(arm) += 1,
                None => cell.near_zero += 1,
            }
        }
        let all = Rate::of(all);
        Self {
            exposed,
            both_known: all.cases,
            minutes: MINUTES,
            mgy: MGY,
            grid: grid.into_values().collect(),
            in_words: in_words(exposed, &all),
            all,
            without_cine: Rate::of(without),
            with_cine: Rate::of(with),
            cine: Share::new(cine, stated, seen.plan.level()),
        }
    }
}

fn in_words(exposed: u32, all: &Rate) -> String {
    match all.quantiles {
        Some([low, _, median, _, high]) => format!(
            "A minute of fluoroscopy stood for {} mGy at the median and for {} to {} mGy in the middle nine tenths of {}: minutes do not tell the dose.",
            numerals::measured(median),
            numerals::measured(low),
            numerals::measured(high),
            cases(all.cases)
        ),
        None => format!("Of {} with the beam on none has both air kerma and minutes.", cases(exposed)),
    }
}
