//! The operators' zero-fluoroscopy cases in their order: how much of the arm was learning.

use super::super::{ReportCase, Seen};
use crate::study::arm::Arm;
use crate::study::numerals;
use crate::study::own_picture::FIRST_CASES;
use crate::study::population::Population;
use crate::study::share::Share;
use quietbeam_schema::vocabulary::{OperatorPriorZf, Strategy};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeSet;

/// The first case of each band; the last band has no end.
pub(in super::super) const BANDS: [u32; 5] = [1, 11, FIRST_CASES as u32 + 1, 51, 101];

/// The name of a band: 1 to 10, 101 and later.
pub(in super::super) fn band_label(band: usize) -> String {
    match BANDS.get(band + 1) {
        Some(next) => format!("{} to {}", BANDS[band], next - 1),
        None => format!("{} and later", BANDS[band]),
    }
}

/// Zero-fluoroscopy cases by the operator's experience with it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LearningWindow {
    /// The bands, in order.
    pub bands: Vec<LearningBand>,
    /// Cases that name no operator, so that nobody knows where they stand.
    pub without_operator: u32,
    /// The same in words.
    pub in_words: String,
}

/// Cases that were an operator's so-many-th without X-ray.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LearningBand {
    /// The first.
    pub from: u32,
    /// The last; absent in the last band.
    pub to: Option<u32>,
    /// Operators with a case in it.
    pub operators: u32,
    /// Cases in which X-ray was used after all, of the cases in the band.
    pub x_ray_after_all: Share,
}

/// The place of each zero-fluoroscopy case among those of its operator, counted from 1 and from
/// the least that the operator had done before joining. The cases of a centre stand together, and
/// an operator's code means something inside a centre alone.
pub(in super::super) fn ordinals(cases: &[ReportCase]) -> Vec<Option<u32>> {
    let of_a_centre = |one: &ReportCase, other: &ReportCase| one.row.centre == other.row.centre;
    cases.par_chunk_by(of_a_centre).flat_map_iter(of_centre).collect()
}

fn of_centre(cases: &[ReportCase]) -> Vec<Option<u32>> {
    let counts = |case: &ReportCase| case.course.operator.filter(|_| case.row.intended == Strategy::Zero);
    let own = cases.iter().enumerate().filter_map(|(at, case)| {
        let operator = counts(case)?;
        Some((operator, case.row.period, case.entered, at))
    });
    let mut in_time: Vec<_> = own.collect();
    in_time.par_sort_unstable();
    let mut places = vec![None; cases.len()];
    for own in in_time.chunk_by(|one, other| one.0 == other.0) {
        let before = own.first().map_or(0, |first| before_joining(cases[first.3].course.earlier_zero));
        own.iter().zip(before + 1..).for_each(|((.., at), place)| places[*at] = Some(place));
    }
    places
}

/// The least of the band, and nothing where it is not stated: so no learner passes for an expert.
fn before_joining(band: Option<OperatorPriorZf>) -> u32 {
    match band {
        None | Some(OperatorPriorZf::Zero) => 0,
        Some(OperatorPriorZf::From1To24) => 1,
        Some(OperatorPriorZf::From25To99) => 25,
        Some(OperatorPriorZf::From100) => 100,
    }
}

impl LearningWindow {
    pub(super) fn new(seen: &Seen<'_>) -> Self {
        let mut counts = [(0_u32, 0_u32); BANDS.len()];
        let mut operators = vec![BTreeSet::new(); BANDS.len()];
        let mut without_operator = 0;
        for (case, ordinal) in seen.kept_with_ordinals() {
            if Population::AsIntended.arm(&case.row) != Some(Arm::ZeroFluoroscopy) {
                continue;
            }
            let Some(ordinal) = ordinal else {
                without_operator += 1;
                continue;
            };
            let band = BANDS.partition_point(|first| *first <= ordinal) - 1;
            counts[band].0 += u32::from(case.row.beam_on());
            counts[band].1 += 1;
            operators[band].insert((case.row.centre, case.course.operator));
        }
        let level = seen.plan.level();
        let bands: Vec<LearningBand> = (0..BANDS.len())
            .map(|band| LearningBand {
                from: BANDS[band],
                to: BANDS.get(band + 1).map(|next| next - 1),
                operators: operators[band].len() as u32,
                x_ray_after_all: Share::new(counts[band].0, counts[band].1, level),
            })
            .collect();
        let in_words = in_words(&bands, without_operator);
        Self { bands, without_operator, in_words }
    }
}

fn in_words(bands: &[LearningBand], without_operator: u32) -> String {
    let window = FIRST_CASES as u32;
    let early = bands.iter().filter(|band| band.to.is_some_and(|to| to <= window));
    let (early, all) = (
        early.map(|band| band.x_ray_after_all.of).sum::<u32>(),
        bands.iter().map(|band| band.x_ray_after_all.of).sum::<u32>(),
    );
    let mut text = format!(
        "{} of the zero-fluoroscopy cases were among an operator's first {window}.",
        numerals::share(early, all, 0)
    );
    if without_operator > 0 {
        text.push_str(&format!(" {} name no operator.", numerals::count(without_operator)));
    }
    text
}
