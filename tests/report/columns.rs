//! What a report reads of a record.

use crate::cases::read;
use crate::sample::{
    case_with_seen_effusion, case_with_tamponade, conventional_case, with, zero_fluoroscopy_case,
};
use quietbeam_analysis::study::report::{Fluid, Grave, Later, ReportCase};
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{DetectedBy, FollowUpStatus, OperatorExperience, OperatorPriorZf};
use serde_json::json;

#[test]
fn a_typical_case_is_read_as_entered() {
    let course = read(zero_fluoroscopy_case()).course;
    assert_eq!(course.operator.map(|code| code.text()).as_deref(), Some("O03"));
    assert_eq!(course.experience, Some(OperatorExperience::From5To9));
    assert_eq!(course.earlier_zero, Some(OperatorPriorZf::From25To99));
    assert_eq!((course.skin_to_skin_min, course.device), (Some(104), Some(false)));
    assert_eq!(course.looks, [Some(true), Some(true), Some(false)]);
    assert_eq!(course.status_30_days, Some(FollowUpStatus::Contacted));
    assert_eq!((course.fluid, course.grave, course.later), (None, Grave::default(), Later::default()));
    assert_eq!(course.cine_runs, Some(0));
    assert_eq!(read(conventional_case()).course.cine_runs, Some(1));
}

#[test]
fn fluid_is_read_with_its_minutes() {
    let ice = Some(DetectedBy::Ice);
    let seen = read(case_with_seen_effusion()).course;
    let expected = Fluid { shown_by: ice, seen_min: Some(62), felt: Some(false), felt_min: None };
    assert_eq!((seen.fluid, seen.grave.tamponade), (Some(expected), false));
    let felt = read(case_with_tamponade()).course;
    let expected = Fluid { shown_by: ice, seen_min: Some(27), felt: Some(true), felt_min: Some(34) };
    assert_eq!((felt.fluid, felt.grave.tamponade), (Some(expected), true));
}

#[test]
fn badges_and_late_follow_up_are_read_in_their_units() {
    let follow_up = json!({
        "fu30_status": "contacted", "fu30_day": 33, "fu30_no_events": "yes", "death": "no",
        "fu_late_status": "contacted", "fu_last_day": 370, "fu_monitoring": "holter_24",
        "recurrence_first_day": 75, "recurrence_type": "af"
    });
    let ReportCase { row, course, .. } = read(with(
        zero_fluoroscopy_case(),
        json!({"staff_dose_operator": 0.002, "staff_dose_operator_unit": "mSv", "follow_up": follow_up}),
    ));
    assert!((row.badges.readings()[0].unwrap() - 2.0).abs() < 1e-5);
    assert_eq!(row.badges.readings()[1..], [None; 3]);
    let expected = Later { last_day: Some(370), recurrence_day: Some(75), death_day: None };
    assert_eq!(course.later, expected);
}
