//! The follow-up against itself and the complications.

use super::{Rule, hard, query, whole};
use crate::case::FollowUp;
use crate::endpoint;
use crate::vocabulary::{EventOutcome, FollowUpStatus, SkinCheck, YesNo};

pub(super) const RULES: &[Rule<FollowUp>] = &[
    hard("no_events_needs_contact", &["fu30_no_events", "fu30_status"], |seen, _| {
        let learnt = matches!(seen.fu30_status, FollowUpStatus::Contacted | FollowUpStatus::ChartOnly);
        (seen.fu30_no_events.value().is_some() && !learnt).then(|| {
            "\"No new event\" can be said only where someone was contacted or the chart was read; correct the status, or leave it blank.".to_owned()
        })
    }),
    hard("dead_means_death", &["death", "fu30_status"], |seen, _| {
        (seen.fu30_status == FollowUpStatus::Dead && !seen.death.is(|answer| *answer == YesNo::Yes)).then(
            || {
                "The status is dead, so death must be yes, with its day and cause; correct one of the two."
                    .to_owned()
            },
        )
    }),
    hard("death_of_a_complication", &["death"], |seen, case| {
        let fatal = case
            .complications()
            .iter()
            .any(|event| event.outcome.is(|outcome| *outcome == EventOutcome::Fatal));
        (fatal && seen.death.is(|answer| *answer == YesNo::No))
            .then(|| "A complication was fatal, but death is given as no; correct one of the two.".to_owned())
    }),
    query("seen_after_death", AFTER_DEATH, |seen, _| {
        let died = whole(&seen.death_day)?;
        let later = [
            whole(&seen.fu_last_day),
            whole(&seen.fu30_day),
            whole(&seen.recurrence_first_day),
            whole(&seen.redo_day),
            whole(&seen.cardioversion_day),
        ]
        .into_iter()
        .flatten()
        .max()?;
        (later > died).then(|| {
            format!(
                "Something is recorded on day {later}, after death on day {died}; correct one of the two."
            )
        })
    }),
    query("event_free_with_late_events", &["fu30_no_events", "complications"], |seen, case| {
        let later = case
            .complications()
            .iter()
            .any(|event| whole(&event.onset_day).is_some_and(|day| (1..=30).contains(&day)));
        (later && seen.fu30_no_events.is(|answer| *answer == YesNo::Yes)).then(|| {
            "No new event by 30 days is stated, yet a complication began within 30 days after the procedure; correct one of the two.".to_owned()
        })
    }),
    query("skin_after_substantial_dose", &["skin_check"], |seen, case| {
        let looked =
            seen.skin_check.is(|check| matches!(check, SkinCheck::DoneClear | SkinCheck::DoneLesion));
        (endpoint::substantial_dose(case) && !looked).then(|| {
            "Air kerma reached 5 Gy, after which the skin is usually looked at within two to four weeks; record what was found, or why it was not done.".to_owned()
        })
    }),
];

/// The day of death, and the days that cannot come after it.
const AFTER_DEATH: &[&str] =
    &["death_day", "fu_last_day", "fu30_day", "recurrence_first_day", "redo_day", "cardioversion_day"];
