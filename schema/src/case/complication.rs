//! One complication: what, when, who saw it first and how, and what was done.

use crate::dictionary::{Condition, Need::*, section};
use crate::reported::Reported;
use crate::value::{ScreenedText, Whole};
use crate::vocabulary::*;

const DURING: &[&str] = &[
    "access",
    "transseptal_needle",
    "sheath_in_la",
    "mapping",
    "ablation",
    "steam_pop",
    "sheath_withdrawal",
];
const IN_ROOM: Condition = Condition::Is("event_phase", DURING);
const AFTERWARDS: Condition = Condition::Is("event_phase", &["recovery", "post_discharge"]);
const PERICARDIAL: Condition = Condition::Is("ae_code", &["effusion", "tamponade"]);
const EFFUSION: Condition = Condition::Is("ae_code", &["effusion"]);
const DRAINED: Condition = Condition::Is("intervention", &["pericardiocentesis", "surgery"]);
const DRAINED_FLUID: Condition = Condition::All(&[PERICARDIAL, DRAINED]);
const BLEEDING: Condition =
    Condition::Is("ae_code", &["haematoma", "retroperitoneal", "bleed_other", "pseudoaneurysm"]);
const OVERRIDDEN: Condition = Condition::Is("severity_override", &["major", "minor", "imaging_only"]);

section! {
    /// One complication of a case.
    Complication {
        /// The kind of complication.
        ae_code: ComplicationKind = "Kind of complication", Always, Internal;
        /// In which phase it began.
        event_phase: Reported<EventPhase> = "Phase", Always, Internal;
        /// Minutes from first venous access to its onset, for complications in the room; negative before access.
        onset_min: Reported<Whole<-30, 900>> = "Onset", When(&IN_ROOM), Internal, unit "min";
        /// Days from the procedure to its onset, 0 for the same day, for complications afterwards.
        onset_day: Reported<Whole<0, 730>> = "Onset day", When(&AFTERWARDS), Internal, unit "d";
        /// What showed it first. An arm that looks more finds more, so this is asked of every complication.
        detect_method: Reported<DetectedBy> = "Shown first by", Always, Internal;
        /// What else showed it.
        detect_also: Reported<Codes<DetectedBy>> = "Shown also by", Optional, Internal;
        /// Minutes from first venous access to its detection.
        detect_min: Reported<Whole<-30, 900>> = "Detected", When(&IN_ROOM), Internal, unit "min";
        /// Days from the procedure to its detection.
        detect_day: Reported<Whole<0, 730>> = "Detected on day", When(&AFTERWARDS), Internal, unit "d";
        /// Whether blood pressure or rhythm changed because of the fluid.
        haemo_change: Reported<YesNo> = "Circulation affected", When(&PERICARDIAL), Internal;
        /// Minutes from first venous access to the first change of pressure or rhythm.
        haemo_change_min: Reported<Whole<-30, 900>> = "Circulation affected at", Optional, Internal, unit "min";
        /// Whether the patient felt it or it changed how the patient was.
        symptomatic: Reported<YesNo> = "Symptomatic", Always, Internal;
        /// Estimated volume of fluid. Up to 50 mL is physiological.
        effusion_ml_est: Reported<Whole<0, 3_000>> = "Fluid, estimated volume", Optional, Internal, unit "mL", query 50 to 3000;
        /// Largest depth of fluid in diastole on echo: below 10 small, 10 to 20 moderate, above 20 large.
        effusion_mm_max: Reported<Whole<0, 80>> = "Fluid, largest depth", When(&EFFUSION), Internal, unit "mm";
        /// Whether the fluid was there before the procedure.
        effusion_baseline: Reported<EffusionBefore> = "Fluid before the procedure", When(&PERICARDIAL), Internal;
        /// All the fluid drained, from the first puncture until the drain was out.
        drained_ml: Reported<Whole<0, 10_000>> = "Fluid drained", When(&DRAINED_FLUID), Internal, unit "mL", query 0 to 1000;
        /// Everything that was done about it.
        intervention: Reported<Codes<Intervention>> = "What was done", Always, Internal;
        /// Days in hospital beyond the usual, because of it.
        los_extra_days: Reported<Whole<0, 90>> = "Extra days in hospital", Always, Internal, unit "d";
        /// Yes if the extra stay was only to look again at an image finding.
        stay_for_image_only: Reported<YesNo> = "Stay only to look again", Optional, Internal;
        /// Fall of the haematocrit, in per cent of its value before.
        hct_fall_pct: Reported<Whole<0, 60>> = "Haematocrit fall", When(&BLEEDING), Internal, unit "%";
        /// Permanent injury, as far as known today.
        permanent_injury: Reported<YesNo> = "Permanent injury", Always, Internal;
        /// General severity grade, 1 to 5.
        ctcae_grade: Reported<Whole<1, 5>> = "General severity grade", Optional, Internal;
        /// Grade by what had to be done about it.
        clavien: Reported<SurgicalGrade> = "Grade by treatment", Optional, Internal;
        /// What made it serious in the sense of safety reporting.
        serious: Reported<Codes<Seriousness>> = "Serious because", Always, Internal;
        /// How likely the procedure caused it.
        relatedness_proc: Reported<Relatedness> = "Related to the procedure", Always, Internal;
        /// How likely X-ray caused it.
        relatedness_xray: Reported<Relatedness> = "Related to X-ray", Optional, Internal;
        /// How it ended, as far as known.
        outcome: Reported<EventOutcome> = "Outcome", Always, Internal;
        /// The centre's own tier where the derived one does not fit. Both are kept.
        severity_override: Reported<HarmTier> = "Tier, overridden", Optional, Internal;
        /// Why the derived tier does not fit, without anything that could name a person.
        severity_override_reason: Reported<ScreenedText<300>> = "Reason for the tier", When(&OVERRIDDEN), Restricted;
    }
}
