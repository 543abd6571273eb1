//! Rows for the rules about a complication and about the follow-up.

use super::Row;
use crate::case::sample::{
    case_with_seen_effusion, case_with_tamponade, conventional_case, with, zero_fluoroscopy_case,
};
use serde_json::{Value, json};

pub(super) fn rows() -> Vec<Row> {
    complication().into_iter().chain(follow_up()).collect()
}

fn event(id: &'static str, base: fn() -> Value, trips: Value, words: &'static str, passes: Value) -> Row {
    Row { id, base, at: "/complications/0", trips, words, also: &[], passes }
}

fn later(id: &'static str, base: fn() -> Value, trips: Value, words: &'static str, passes: Value) -> Row {
    Row { id, base, at: "/follow_up", trips, words, also: &[], passes }
}

/// Fluid seen in a case in which intracardiac echo was not used.
fn effusion_without_ice() -> Value {
    let mut case = with(
        case_with_seen_effusion(),
        json!({
            "ice_used": "no", "eff_surv_baseline": "tte", "eff_surv_intra": "none", "eff_surv_end": ["tte"],
            "transseptal_guidance": ["tee"]
        }),
    );
    case["complications"][0]["detect_method"] = json!("tte");
    case
}

/// A haematoma found on the day after.
fn later_haematoma() -> Value {
    with(
        zero_fluoroscopy_case(),
        json!({
            "no_complication_confirmed": "no",
            "complications": [{
                "ae_code": "haematoma", "event_phase": "recovery", "onset_day": 1, "detect_day": 1,
                "detect_method": "clinical_sign", "symptomatic": "yes", "intervention": ["observe"],
                "los_extra_days": 0, "hct_fall_pct": 3, "permanent_injury": "no", "serious": ["none"],
                "relatedness_proc": "definite", "outcome": "resolved"
            }],
            "follow_up": {"fu30_status": "contacted", "fu30_day": 33, "fu30_no_events": "no", "death": "no"}
        }),
    )
}

/// A case that ended in death on the tenth day.
fn fatal_case() -> Value {
    let mut case = case_with_tamponade();
    case["complications"][0]["outcome"] = json!("fatal");
    case["complications"][0]["serious"] = json!(["death"]);
    case["follow_up"] =
        json!({"fu30_status": "dead", "death": "yes", "death_day": 10, "death_cause": "cardiac_proc"});
    case
}

/// Five gray of air kerma in a long case, with the skin looked at.
fn five_gray() -> Value {
    let mut case = with(
        conventional_case(),
        json!({
            "air_kerma": 5, "air_kerma_unit": "Gy", "kap": 500, "kap_unit": "Gy.cm2",
            "fluoro_time": 200, "skin_to_skin_min": 300
        }),
    );
    case["follow_up"]["skin_check"] = json!("done_clear");
    case
}

/// What a dose of five gray cannot help but be asked about.
const ASKED_AT_FIVE_GRAY: &[&str] = &["high_dose_for_procedure", "unusual_value"];

fn complication() -> Vec<Row> {
    let (seen, drained) = (case_with_seen_effusion as fn() -> Value, case_with_tamponade as fn() -> Value);
    let sign = |haemo_change: &str, done: &str| {
        json!({
            "haemo_change": haemo_change, "haemo_change_min": null, "intervention": ["reversal", done],
            "drained_ml": null
        })
    };
    let drainage = |done: &str| with(sign("no", done), json!({"drained_ml": 300}));
    let fatal = |outcome: &str, serious: &str| json!({"outcome": outcome, "serious": [serious]});
    let death = |base, trips, beside| event("death_is_fatal", base, trips, "do not agree", beside);
    vec![
        event(
            "tamponade_needs_a_sign",
            drained,
            sign("no", "observe"),
            "record an effusion",
            sign("yes", "observe"),
        ),
        event(
            "tamponade_needs_a_sign",
            drained,
            sign("nr", "observe"),
            "Tamponade means",
            drainage("pericardiocentesis"),
        ),
        event("tamponade_needs_a_sign", drained, sign("no", "observe"), "drained", drainage("surgery")),
        event(
            "detected_not_before_onset",
            seen,
            json!({"onset_min": 60, "detect_min": 59}),
            "at minute 59, before it began at minute 60",
            json!({"onset_min": 60, "detect_min": 60}),
        ),
        event(
            "detected_not_before_onset_day",
            later_haematoma,
            json!({"onset_day": 2}),
            "on day 1, before it began on day 2",
            json!({"onset_day": 1}),
        ),
        Row {
            also: &["death_of_a_complication"],
            ..death(seen, fatal("fatal", "none"), fatal("resolved", "none"))
        },
        death(seen, fatal("resolved", "death"), fatal("nr", "death")),
        death(fatal_case, json!({"outcome": "ongoing"}), fatal("fatal", "death")),
        event(
            "echo_detection_needs_echo",
            effusion_without_ice,
            json!({"detect_method": "ice"}),
            "given as not used",
            json!({"detect_method": "tee"}),
        ),
        event(
            "silhouette_detection_needs_beam",
            seen,
            json!({"detect_method": "fluoro_silhouette"}),
            "never on",
            json!({"detect_method": "art_pressure"}),
        ),
        event(
            "drained_without_drainage",
            seen,
            json!({"drained_ml": 1}),
            "1 mL are given as drained",
            json!({"drained_ml": 0}),
        ),
        event(
            "circulation_time_without_change",
            seen,
            json!({"haemo_change_min": 65}),
            "affected at minute 65",
            json!({"haemo_change_min": "na"}),
        ),
    ]
}

fn follow_up() -> Vec<Row> {
    let zero = zero_fluoroscopy_case as fn() -> Value;
    let status = |status: &str, no_events: Value| json!({"fu30_status": status, "fu30_day": null, "fu30_no_events": no_events, "death": "unk"});
    let died = |day: u16| json!({"death": "yes", "death_day": day, "death_cause": "noncardiac"});
    let after_death = |changes: Value, words, beside| {
        later("seen_after_death", zero, with(died(100), changes), words, with(died(100), beside))
    };
    let skin = |trips: Value, words| Row {
        also: ASKED_AT_FIVE_GRAY,
        ..later("skin_after_substantial_dose", five_gray, trips, words, json!({"skin_check": "done_lesion"}))
    };
    vec![
        later(
            "no_events_needs_contact",
            zero,
            status("lost", json!("yes")),
            "or the chart was read",
            status("lost", Value::Null),
        ),
        later(
            "no_events_needs_contact",
            zero,
            status("withdrawn", json!("no")),
            "leave it blank",
            status("withdrawn", json!("na")),
        ),
        later(
            "no_events_needs_contact",
            zero,
            status("pending", json!("yes")),
            "No new event",
            json!({"fu30_status": "chart_only", "fu30_no_events": "yes"}),
        ),
        later(
            "dead_means_death",
            zero,
            with(status("dead", Value::Null), json!({"death": "no"})),
            "death must be yes",
            with(status("dead", Value::Null), died(20)),
        ),
        later(
            "death_of_a_complication",
            fatal_case,
            json!({"fu30_status": "lost", "death": "no", "death_day": null, "death_cause": null}),
            "A complication was fatal",
            json!({}),
        ),
        after_death(
            json!({"recurrence_first_day": 101, "recurrence_type": "af"}),
            "on day 101, after death on day 100",
            json!({"recurrence_first_day": 100, "recurrence_type": "af"}),
        ),
        after_death(json!({"redo_day": 101}), "day 101", json!({"redo_day": 100})),
        after_death(json!({"fu_last_day": 101}), "day 101", json!({"fu_last_day": 100})),
        after_death(json!({"cardioversion_day": 101}), "day 101", json!({"cardioversion_day": 100})),
        later("seen_after_death", zero, died(32), "day 33, after death on day 32", died(33)),
        later(
            "event_free_with_late_events",
            later_haematoma,
            json!({"fu30_no_events": "yes"}),
            "began within 30 days",
            json!({"fu30_no_events": "nr"}),
        ),
        skin(json!({"skin_check": null}), "two to four weeks"),
        skin(json!({"skin_check": "nd"}), "5 Gy"),
    ]
}
