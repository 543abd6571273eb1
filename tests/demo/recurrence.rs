//! Late recurrence is as frequent as stated, and alike under both strategies.

use crate::expected::KINDS;
use crate::reading::{forms, today};
use quietbeam::demo::Scenario;
use quietbeam_schema::case::FollowUp;
use quietbeam_schema::vocabulary::{Coded, FollowUpStatus};
use std::collections::HashMap;

fn known(seen: &FollowUp) -> Option<bool> {
    let known = seen.fu_late_status.is(|status| *status == FollowUpStatus::Contacted);
    // A contact after the blanking period says nothing of the year.
    let at_a_year = seen.fu_last_day.is(|day| day.get() >= 335);
    (known && at_a_year).then(|| seen.recurrence_first_day.value().is_some())
}

#[test]
fn recurrence_by_one_year_is_as_stated_in_both_arms() {
    let mut counts: HashMap<(bool, &str), (f64, f64)> = HashMap::new();
    for centre in &Scenario::generate(5, 8_600).centres {
        for (form, drawn) in forms(centre).iter().zip(centre.drawn()) {
            let Ok(checked) = form.check(today()) else { continue };
            let Some(recurred) = checked.record.follow_up().and_then(known) else { continue };
            // Nobody can have been seen a year after a quarter of the last year.
            assert!(drawn.quarter < 4);
            let (events, seen) = counts.entry((drawn.zero_intended, drawn.kind.code())).or_default();
            *events += f64::from(u8::from(recurred));
            *seen += 1.0;
        }
    }
    let mut checked = 0;
    for kind in &KINDS {
        for zero in [true, false] {
            let (events, seen) = counts.get(&(zero, kind.code)).copied().unwrap_or_default();
            let expected = seen * kind.recurrence;
            // Four binomial standard deviations, and one case where few are expected.
            let band = 4.0 * (expected * (1.0 - kind.recurrence)).sqrt() + 1.0;
            assert!((events - expected).abs() < band, "{}, zero {zero}: {events} of {seen}", kind.code);
            checked += usize::from(seen > 30.0);
        }
    }
    assert!(checked > 15, "only {checked} groups are large enough to say anything");
}
