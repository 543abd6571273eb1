//! Quarter by quarter: what was sent in of what was eligible, and how many cases had no X-ray.

use super::super::share::Share;
use super::{FEW, LEVEL, OwnCase};
use quietbeam_schema::centre::ScreeningCounts;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::Strategy;
use std::collections::BTreeMap;

/// What the screening log says of one quarter, all groups of procedures together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LogLine {
    /// The quarter.
    pub quarter: Quarter,
    /// Ablations performed.
    pub performed: u32,
    /// Of these, eligible.
    pub eligible: u32,
    /// Of these, sent in.
    pub submitted: u32,
}

impl LogLine {
    /// Adds the lines of one quarter, group by group.
    pub fn by_quarter<'a>(lines: impl IntoIterator<Item = (Quarter, &'a ScreeningCounts)>) -> Vec<Self> {
        let mut quarters = BTreeMap::<Quarter, Self>::new();
        for (quarter, counts) in lines {
            let nothing = Self { quarter, performed: 0, eligible: 0, submitted: 0 };
            let sum = quarters.entry(quarter).or_insert(nothing);
            sum.performed = sum.performed.saturating_add(counts.performed());
            sum.eligible = sum.eligible.saturating_add(counts.eligible());
            sum.submitted = sum.submitted.saturating_add(counts.submitted());
        }
        quarters.into_values().collect()
    }

    /// Submitted over eligible; `None` with too few eligible cases to say.
    pub fn submitted_share(&self) -> Option<Share> {
        (self.eligible >= FEW).then(|| Share::new(self.submitted, self.eligible, LEVEL))
    }
}

/// One quarter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuarterLine {
    /// The quarter.
    pub quarter: Quarter,
    /// Cases that the registry holds.
    pub cases: u32,
    /// Its line in the screening log, if one was entered.
    pub log: Option<LogLine>,
    /// Without X-ray of all cases.
    pub all: Part,
    /// Of those in which zero-fluoroscopy was intended.
    pub intended_zero: Part,
    /// Of those in which X-ray was intended from the beginning.
    pub intended_conventional: Part,
}

/// How many of some cases had no X-ray.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Part {
    /// The cases.
    pub cases: u32,
    without: u32,
}

impl Part {
    /// The share without X-ray; `None` with too few cases to say.
    pub fn no_x_ray(&self) -> Option<Share> {
        (self.cases >= FEW).then(|| Share::new(self.without, self.cases, LEVEL))
    }

    fn add(&mut self, case: &OwnCase) {
        self.cases += 1;
        self.without += u32::from(!case.beam_on());
    }
}

/// Every quarter from the first to the last that has a case or a line in the log.
pub(super) fn lines(cases: &[OwnCase], log: &[LogLine]) -> Vec<QuarterLine> {
    let known = || cases.iter().map(|case| case.row.period).chain(log.iter().map(|line| line.quarter));
    let (Some(first), Some(last)) = (known().min(), known().max()) else { return Vec::new() };
    let empty = |quarter| QuarterLine {
        quarter,
        cases: 0,
        log: log.iter().copied().find(|line| line.quarter == quarter),
        all: Part::default(),
        intended_zero: Part::default(),
        intended_conventional: Part::default(),
    };
    let quarters = std::iter::successors(Some(first), |quarter| Some(quarter.next()));
    let mut lines: BTreeMap<Quarter, QuarterLine> =
        quarters.take_while(|quarter| *quarter <= last).map(|quarter| (quarter, empty(quarter))).collect();
    for case in cases {
        let Some(line) = lines.get_mut(&case.row.period) else { continue };
        line.cases += 1;
        line.all.add(case);
        match case.row.intended {
            Strategy::Zero => line.intended_zero.add(case),
            Strategy::Conventional => line.intended_conventional.add(case),
            Strategy::NearZero => {}
        }
    }
    lines.into_values().collect()
}
