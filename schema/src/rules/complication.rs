//! One complication against itself.

use super::{Rule, hard, query, whole};
use crate::case::Complication;
use crate::endpoint::drained;
use crate::reported::Reported;
use crate::vocabulary::{ComplicationKind, DetectedBy, EventOutcome, FluoroUsed, IceUse, Seriousness, YesNo};

pub(super) const RULES: &[Rule<Complication>] = &[
    hard("tamponade_needs_a_sign", &["ae_code", "haemo_change", "intervention"], |event, _| {
        let affected = event.haemo_change.is(|answer| *answer == YesNo::Yes);
        (event.ae_code == ComplicationKind::Tamponade && !affected && !drained(event)).then(|| {
            "Tamponade means that the circulation was affected or the fluid was drained; give which, or record an effusion.".to_owned()
        })
    }),
    hard("detected_not_before_onset", &["detect_min", "onset_min"], |event, _| {
        let (onset, seen) = (whole(&event.onset_min)?, whole(&event.detect_min)?);
        (seen < onset).then(|| {
            format!(
                "It was detected at minute {seen}, before it began at minute {onset}; correct one of the two."
            )
        })
    }),
    hard("detected_not_before_onset_day", &["detect_day", "onset_day"], |event, _| {
        let (onset, seen) = (whole(&event.onset_day)?, whole(&event.detect_day)?);
        (seen < onset).then(|| {
            format!("It was detected on day {seen}, before it began on day {onset}; correct one of the two.")
        })
    }),
    hard("death_is_fatal", &["outcome", "ae_code", "serious"], |event, _| {
        let death = event.ae_code == ComplicationKind::Death
            || event.serious.is(|reasons| reasons.has(Seriousness::Death));
        let fatal = event.outcome.is(|outcome| *outcome == EventOutcome::Fatal);
        (death != fatal && event.outcome.value().is_some()).then(|| {
            "Death and the outcome do not agree: a death has the outcome fatal, and a fatal outcome is serious because of death; correct one of them.".to_owned()
        })
    }),
    hard("echo_detection_needs_echo", &["detect_method", "ice_used"], |event, case| {
        let by_ice = event.detect_method.is(|by| *by == DetectedBy::Ice);
        (by_ice && case.procedure().ice_used == Reported::Value(IceUse::No)).then(|| {
            "Intracardiac echo showed it first, but is given as not used in this case; correct one of the two.".to_owned()
        })
    }),
    hard("silhouette_detection_needs_beam", &["detect_method", "fluoro_used"], |event, case| {
        let by_border = event.detect_method.is(|by| *by == DetectedBy::FluoroSilhouette);
        let beam_off = matches!(case.guidance().fluoro_used, FluoroUsed::None | FluoroUsed::StandbyNotUsed);
        (by_border && beam_off).then(|| {
            "The heart border on X-ray showed it first, but the beam is given as never on; correct one of the two.".to_owned()
        })
    }),
    query("drained_without_drainage", &["drained_ml", "intervention"], |event, _| {
        let volume = whole(&event.drained_ml)?;
        (volume > 0 && !drained(event)).then(|| format!(
            "{volume} mL are given as drained, but no drainage is among what was done; correct one of the two."
        ))
    }),
    query("circulation_time_without_change", &["haemo_change_min", "haemo_change"], |event, _| {
        let minute = whole(&event.haemo_change_min)?;
        event.haemo_change.is(|answer| *answer == YesNo::No).then(|| format!(
            "The circulation is said to be unaffected, yet affected at minute {minute}; correct one of the two."
        ))
    }),
];
