//! A case as its judges see it, and as the record says it where they settled nothing.

use quietbeam_analysis::study::report::{JudgedCase, JudgedEvent, ToldBy};
use quietbeam_schema::adjudication::Settled;
use quietbeam_schema::case::{CaseRecord, Complication};
use quietbeam_schema::endpoint::{self, HarmWindow};
use quietbeam_schema::vocabulary::{HarmRuling, HarmTier};

use super::adjudication::{Ruled, Standing};

/// A case by its judges, and by the record where they settled nothing.
pub(super) fn judged(entered: i64, record: &CaseRecord, standing: &Standing) -> JudgedCase {
    let by_record =
        |event: &Complication| endpoint::harm_tier(event, record).used().unwrap_or(HarmTier::Minor);
    let is_major = |place: usize, event: &Complication| {
        let ruled = standing.complications.get(place).and_then(Option::as_ref);
        counts(ruled, by_record(event) == HarmTier::Major)
    };
    // A death that a complication tells stands and falls with it.
    let complications = || record.complications().iter().enumerate();
    let mut fatal = complications().filter(|(_, event)| endpoint::is_fatal(event)).peekable();
    let death_counts = match fatal.peek() {
        Some(_) => fatal.any(|(place, event)| is_major(place, event)),
        None => counts(standing.death.as_ref(), true),
    };
    let event = |by_record, ruled: Option<&Ruled>, told_by| JudgedEvent {
        by_record,
        told_by,
        settled: ruled.map(Ruled::settled),
        first_two: ruled.and_then(Ruled::first_two),
    };
    let told = record.complications().iter().zip(&standing.complications);
    let told = told.map(|(told, ruled)| event(by_record(told), ruled.as_ref(), ToldBy::Complication));
    let death = standing.death.as_ref().map(|ruled| event(HarmTier::Major, Some(ruled), ToldBy::FollowUp));
    JudgedCase {
        entered,
        events: told.chain(death).collect(),
        major_within_30_days: endpoint::major_by(record, HarmWindow::Within30Days, is_major, death_counts),
        major_before_discharge: endpoint::major_by(
            record,
            HarmWindow::BeforeDischarge,
            is_major,
            death_counts,
        ),
    }
}

/// Whether an event counts as major: by its judges, and by the record where they settled nothing.
fn counts(ruled: Option<&Ruled>, by_record: bool) -> bool {
    match ruled.map(Ruled::settled).and_then(Settled::ruling) {
        Some(HarmRuling::Major) => true,
        Some(HarmRuling::Minor | HarmRuling::NoHarm) => false,
        Some(HarmRuling::CannotTell) | None => by_record,
    }
}
