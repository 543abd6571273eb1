//! The rows of the complications file and of the follow-ups file.

use super::after::{After, At30Days, Later};
use super::case::Case;
use super::case_rows::yes_no;
use super::event::{Event, Onset};
use super::sheet::Sheet;
use quietbeam_schema::case::{CASE_CODE, complication_variables, follow_up_variables};
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::vocabulary::*;

fn sheet_by_case(variables: Vec<&'static Variable>) -> Sheet {
    Sheet::new(&std::iter::once(&CASE_CODE).chain(variables).collect::<Vec<_>>())
}

/// The complications file, a row a complication.
pub(super) fn complications_file(cases: &[Case], codes: &[CaseCode]) -> String {
    let mut sheet = sheet_by_case(complication_variables());
    for (case, code) in cases.iter().zip(codes) {
        for event in case.harms.events.iter().filter(|_| !case.entry.hushed) {
            sheet.put("case_code", code.as_str());
            complication(&mut sheet, event, case.course.echo_inside);
            sheet.end_row();
        }
    }
    sheet.into_text()
}

fn complication(sheet: &mut Sheet, event: &Event, looked_before: bool) {
    sheet.code("ae_code", event.kind);
    sheet.code("event_phase", event.phase);
    match event.onset {
        Onset::InRoom { onset, seen } => {
            sheet.whole("onset_min", onset);
            sheet.whole("detect_min", seen);
        }
        Onset::Afterwards { onset, seen } => {
            sheet.whole("onset_day", onset);
            sheet.whole("detect_day", seen);
        }
    }
    sheet.code("detect_method", event.shown_by);
    if let Some(also) = event.also {
        sheet.code("detect_also", also);
    }
    if matches!(event.kind, ComplicationKind::Effusion | ComplicationKind::Tamponade) {
        fluid(sheet, event, looked_before);
    }
    sheet.code("symptomatic", yes_no(event.symptomatic));
    sheet.codes("intervention", &event.done);
    sheet.whole("los_extra_days", event.extra_days);
    if let Some(fall) = event.hct_fall {
        sheet.whole("hct_fall_pct", fall);
    }
    sheet.code("permanent_injury", yes_no(event.permanent));
    let serious = if event.serious.is_empty() { &[Seriousness::None] } else { event.serious };
    sheet.codes("serious", serious);
    sheet.code("relatedness_proc", event.related);
    sheet.code("outcome", event.outcome);
}

fn fluid(sheet: &mut Sheet, event: &Event, looked_before: bool) {
    sheet.code("haemo_change", yes_no(event.circulation_min.is_some()));
    if let Some(minute) = event.circulation_min {
        sheet.whole("haemo_change_min", minute);
    }
    if looked_before {
        sheet.code("effusion_baseline", EffusionBefore::None);
    } else {
        sheet.missing("effusion_baseline", MissingCode::Unknown);
    }
    let measures = [
        ("effusion_mm_max", event.depth_mm),
        ("effusion_ml_est", event.volume_ml),
        ("drained_ml", event.drained_ml),
    ];
    for (key, measured) in measures {
        if let Some(number) = measured {
            sheet.whole(key, number);
        }
    }
}

/// The follow-ups file, a row a case. It is sent for cases that stand: one
/// that will be refused has none yet.
pub(super) fn follow_ups_file(cases: &[Case], codes: &[CaseCode]) -> String {
    let mut sheet = sheet_by_case(follow_up_variables());
    for (case, code) in cases.iter().zip(codes).filter(|(case, _)| !case.will_be_refused()) {
        let came_later = !case.entry.hushed && case.harms.events.iter().any(Event::came_later);
        sheet.put("case_code", code.as_str());
        at_30_days(&mut sheet, &case.after, came_later);
        if let Some(day) = case.harms.died_on_day {
            sheet.whole("death_day", day);
            sheet.code("death_cause", DeathCause::CardiacProcedure);
        }
        later(&mut sheet, &case.after);
        sheet.end_row();
    }
    sheet.into_text()
}

fn at_30_days(sheet: &mut Sheet, after: &After, came_later: bool) {
    let mut seen = |status, day| {
        sheet.code("fu30_status", status);
        sheet.whole("fu30_day", day);
        sheet.code("fu30_no_events", yes_no(!came_later));
        sheet.code("death", YesNo::No);
    };
    match after.at_30_days {
        At30Days::Contacted(day) => seen(FollowUpStatus::Contacted, day),
        At30Days::ChartRead(day) => seen(FollowUpStatus::ChartOnly, day),
        At30Days::Lost => {
            sheet.code("fu30_status", FollowUpStatus::Lost);
            sheet.missing("death", MissingCode::Unknown);
        }
        At30Days::Dead => {
            sheet.code("fu30_status", FollowUpStatus::Dead);
            sheet.code("death", YesNo::Yes);
        }
    }
}

fn later(sheet: &mut Sheet, after: &After) {
    match after.later {
        Later::NotDue if after.at_30_days == At30Days::Dead => {}
        Later::NotDue => sheet.code("fu_late_status", FollowUpStatus::Pending),
        Later::Lost => sheet.code("fu_late_status", FollowUpStatus::Lost),
        Later::Known { day, monitoring, recurrence } => {
            sheet.code("fu_late_status", FollowUpStatus::Contacted);
            sheet.whole("fu_last_day", day);
            sheet.code("fu_monitoring", monitoring);
            if let Some((first, what)) = recurrence {
                sheet.whole("recurrence_first_day", first);
                sheet.code("recurrence_type", what);
            }
        }
    }
}
