//! How many events were judged by people who did not know the arm, what that changed, and the
//! planned estimate of major harm by what they said.

use super::Seen;
use super::columns::ReportCase;
use super::facts::{Facts, JudgedCase, JudgedEvent};
use super::prose::{decimals, difference};
use crate::methods::interval::Interval;
use crate::study::cohort::CaseRow;
use crate::study::compared::Compared;
use crate::study::endpoint::{Endpoint, Estimate, reason_in_words};
use crate::study::numerals::count;
use crate::study::population::{ByArm, Population};
use crate::study::sensitivity::primary;
use quietbeam_schema::adjudication::Settled;
use quietbeam_schema::vocabulary::{HarmRuling, HarmTier};
use serde::Serialize;
use std::collections::BTreeMap;

/// Events of the cases compared, as intended. No verdict hangs on it: the planned endpoint is the
/// derived one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Adjudication {
    /// The events of each arm.
    pub events: ByArm<Judged>,
    /// Major harm as judged by the plan's method; absent where the plan does not ask about major
    /// harm, or no ruling changed an outcome.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_judged: Option<Estimate<Interval>>,
    /// The same in words.
    pub in_words: String,
}

/// The events of one arm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Judged {
    /// Complications reported.
    pub reported: u32,
    /// Of these, not to be shown without telling that X-ray was used.
    pub not_shown: u32,
    /// Settled: two agree, or a third decided.
    pub settled: u32,
    /// Of the settled, by a third.
    pub by_third: u32,
    /// Of the settled, those of which too little is recorded to tell.
    pub cannot_tell: u32,
    /// Judged major where the record says otherwise.
    pub raised: u32,
    /// Judged not major where the record says major.
    pub lowered: u32,
    /// Cases with major harm or death within 30 days by the record.
    pub major_by_record: u32,
    /// The same as judged; by the record where nothing was settled.
    pub major_as_judged: u32,
}

impl Judged {
    fn count(&mut self, event: &JudgedEvent) {
        self.reported += 1;
        let Some(settled) = event.settled else {
            self.not_shown += 1;
            return;
        };
        let Some(ruling) = settled.ruling() else { return };
        self.settled += 1;
        self.by_third += u32::from(matches!(settled, Settled::ByThird(_)));
        let by_record = event.by_record == HarmTier::Major;
        match ruling {
            HarmRuling::CannotTell => self.cannot_tell += 1,
            HarmRuling::Major => self.raised += u32::from(!by_record),
            HarmRuling::Minor | HarmRuling::NoHarm => self.lowered += u32::from(by_record),
        }
    }
}

impl Adjudication {
    pub(super) fn new(seen: &Seen<'_>, facts: &Facts) -> Self {
        let judged: BTreeMap<i64, &JudgedCase> =
            facts.judged.iter().map(|case| (case.entered, case)).collect();
        let outcome = |case: &ReportCase| {
            judged.get(&case.entered).map_or(case.row.major_within_30_days, |judged| judged.major)
        };
        let mut events = ByArm::<Judged>::default();
        for case in seen.kept() {
            let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
            let of_arm = events.of_mut(arm);
            let told = judged.get(&case.entered).into_iter().flat_map(|judged| &judged.events);
            told.for_each(|event| of_arm.count(event));
            of_arm.major_by_record += u32::from(case.row.major_within_30_days == Some(true));
            of_arm.major_as_judged += u32::from(outcome(case) == Some(true));
        }
        let changed = seen.kept().any(|case| outcome(case) != case.row.major_within_30_days);
        let as_judged = changed.then(|| estimate(seen, outcome)).flatten();
        let in_words = in_words(&events, as_judged.as_ref());
        Self { events, as_judged, in_words }
    }
}

/// The planned estimate of major harm with the outcomes as judged.
fn estimate(seen: &Seen<'_>, outcome: impl Fn(&ReportCase) -> Option<bool>) -> Option<Estimate<Interval>> {
    let mut endpoints = seen.plan.endpoints().iter();
    let planned = endpoints.find(|planned| planned.endpoint == Endpoint::MajorWithin30Days)?;
    let judged = |case: &ReportCase| CaseRow { major_within_30_days: outcome(case), ..case.row.clone() };
    let rows: Vec<CaseRow> = seen.kept().map(judged).collect();
    Some(primary(&Compared::new(rows.iter(), seen.plan), |_, _| true, planned, seen.plan).1)
}

fn in_words(events: &ByArm<Judged>, as_judged: Option<&Estimate<Interval>>) -> String {
    let both = |of: fn(&Judged) -> u32| of(&events.zero_fluoroscopy) + of(&events.conventional);
    let (reported, settled) = (both(|arm| arm.reported), both(|arm| arm.settled));
    if settled == 0 {
        return format!(
            "No event was judged by people who do not know the arm: all {} stand as their centres recorded them.",
            count(reported)
        );
    }
    let each = |of: fn(&Judged) -> u32| {
        format!("{} and {}", count(of(&events.zero_fluoroscopy)), count(of(&events.conventional)))
    };
    let mut told = vec![
        format!(
            "Of {} events reported, {} were judged by two people who did not know strategy, dose or imaging; a third judge decided in {}.",
            count(reported),
            count(settled),
            count(both(|arm| arm.by_third))
        ),
        format!(
            "Zero-fluoroscopy and conventional: {} judged major where the record says otherwise, {} not major where it says major.",
            each(|arm| arm.raised),
            each(|arm| arm.lowered)
        ),
    ];
    if both(|arm| arm.cannot_tell) > 0 {
        told.push(format!(
            "Of {} too little is recorded to tell; they stand as recorded.",
            each(|arm| arm.cannot_tell)
        ));
    }
    told.push(match as_judged {
        None => "No outcome of a case changed.".to_owned(),
        Some(Estimate::Estimated(interval)) => format!(
            "With the outcomes as judged, {} and {} cases with major harm instead of {} and {}, the difference by the planned method is {}. The decision rests on the record, as planned.",
            count(events.zero_fluoroscopy.major_as_judged),
            count(events.conventional.major_as_judged),
            count(events.zero_fluoroscopy.major_by_record),
            count(events.conventional.major_by_record),
            difference(interval, decimals(Endpoint::MajorWithin30Days))
        ),
        Some(Estimate::CannotBeEstimated(why)) => {
            format!("With the outcomes as judged the difference cannot be estimated, because {}.", reason_in_words(*why))
        }
    });
    told.join(" ")
}
