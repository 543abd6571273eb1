//! How many events were judged by people who did not know the arm, what that changed, and the
//! planned estimate of major harm by what they said.

use super::facts::{Facts, JudgedCase, JudgedEvent, ToldBy};
use super::prose::told as told_effect;
use super::{ReportCase, Seen};
use crate::study::arm::ByArm;
use crate::study::cohort::CaseRow;
use crate::study::compared::Compared;
use crate::study::effect::Effect;
use crate::study::endpoint::Endpoint;
use crate::study::judges::Agreement;
use crate::study::numerals::count;
use crate::study::population::Population;
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
    /// How far the first two judges of an event agree, over both arms; absent where no event has two.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub agreement: Option<Agreement>,
    /// Major harm as judged by the plan's method; absent where the plan does not ask about major
    /// harm, or no ruling changed an outcome.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_judged: Option<Effect>,
    /// The same in words.
    pub in_words: String,
}

/// The events of one arm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Judged {
    /// Complications reported, and deaths that the follow-up alone tells.
    pub reported: u32,
    /// Of these, the deaths.
    pub deaths_of_follow_up: u32,
    /// Of the reported, not to be shown without telling that X-ray was used.
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
    /// Cases with major harm or death by the record, in the window that the plan asks about; within
    /// 30 days where it asks about none.
    pub major_by_record: u32,
    /// The same as judged; by the record where nothing was settled.
    pub major_as_judged: u32,
}

impl Judged {
    fn count(&mut self, event: &JudgedEvent) {
        self.reported += 1;
        self.deaths_of_follow_up += u32::from(event.told_by == ToldBy::FollowUp);
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
        let planned = seen.plan.endpoints().iter().find(|planned| planned.endpoint.is_harm());
        let endpoint = planned.map_or(Endpoint::MajorWithin30Days, |planned| planned.endpoint);
        let mut events = ByArm::<Judged>::default();
        let (mut pairs, mut changed) = (Vec::new(), false);
        for case in seen.kept() {
            let told = judged.get(&case.entered).copied();
            let by_record = endpoint.event(&case.row);
            let ruled = told.map_or(by_record, |told| endpoint.event(&as_judged(&case.row, told)));
            let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
            let of_arm = events.of_mut(arm);
            for event in told.into_iter().flat_map(|told| &told.events) {
                of_arm.count(event);
                pairs.extend(event.first_two);
            }
            of_arm.major_by_record += u32::from(by_record == Some(true));
            of_arm.major_as_judged += u32::from(ruled == Some(true));
            changed |= by_record != ruled;
        }
        let estimate = |planned| {
            let row = |case: &ReportCase| match judged.get(&case.entered) {
                Some(told) => as_judged(&case.row, told),
                None => case.row.clone(),
            };
            let rows: Vec<CaseRow> = seen.kept().map(row).collect();
            primary(&Compared::new(rows.iter(), seen.plan), |_, _| true, (planned, seen.plan), None).1
        };
        let as_judged = planned.filter(|_| changed).map(estimate);
        let agreement = Agreement::of(&pairs, seen.plan.level());
        let in_words = in_words(&events, as_judged.as_ref(), agreement.as_ref());
        Self { events, agreement, as_judged, in_words }
    }
}

/// A case with its outcomes as judged.
fn as_judged(row: &CaseRow, told: &JudgedCase) -> CaseRow {
    let JudgedCase { major_within_30_days, major_before_discharge, .. } = *told;
    CaseRow { major_within_30_days, major_before_discharge, ..row.clone() }
}

fn in_words(events: &ByArm<Judged>, as_judged: Option<&Effect>, agreement: Option<&Agreement>) -> String {
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
    told.extend(agreement.map(|agreement| agreement.in_words.clone()));
    if both(|arm| arm.deaths_of_follow_up) > 0 {
        told.push(format!(
            "Zero-fluoroscopy and conventional: {} deaths that the follow-up alone tells.",
            each(|arm| arm.deaths_of_follow_up)
        ));
    }
    if both(|arm| arm.cannot_tell) > 0 {
        told.push(format!(
            "Of {} too little is recorded to tell; they stand as recorded.",
            each(|arm| arm.cannot_tell)
        ));
    }
    told.push(match as_judged {
        None => "No outcome of a case changed.".to_owned(),
        Some(effect) => format!(
            "With the outcomes as judged, {} and {} cases with major harm instead of {} and {}, the planned estimate {}. The decision rests on the record, as planned.",
            count(events.zero_fluoroscopy.major_as_judged),
            count(events.conventional.major_as_judged),
            count(events.zero_fluoroscopy.major_by_record),
            count(events.conventional.major_by_record),
            match effect.obstacle() {
                None => format!("is {}", told_effect(effect, Endpoint::MajorWithin30Days)),
                Some(_) => told_effect(effect, Endpoint::MajorWithin30Days),
            }
        ),
    });
    told.join(" ")
}
