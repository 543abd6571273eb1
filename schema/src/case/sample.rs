//! Cases as a coordinator would enter them, for tests to vary.

use serde_json::{Value, json};

const ZERO_FLUOROSCOPY: &str = r#"{
    "period": "2025Q3", "procedure_seq_for_patient": 1, "consent_basis": "consent",
    "strategy_intended": "zero", "intended_declared": "before", "fluoro_used": "none", "lead_worn": "none",
    "age_band": "60_69", "sex": "f", "bmi": 27.4, "lvef": 58, "chads_va": 2,
    "structural_hd": "none", "chd": "none", "prior_ablation_n": 0, "prior_cardiac_surgery": "no",
    "device_in_situ": ["none"], "pregnant": "no", "anticoag": "doac_uninterrupted", "preproc_ct": "none",
    "proc_primary": "af_parox_first", "urgency": "elective", "energy": ["rf"], "contact_force": "yes",
    "access": ["fem_vein"], "access_us_guided": "yes", "transseptal_n": 1, "transseptal_route": "puncture",
    "transseptal_guidance": ["ice"], "ice_used": "ra_and_left", "tee_used": "no",
    "eff_surv_baseline": "ice", "eff_surv_intra": "continuous_ice", "eff_surv_end": ["ice"],
    "eff_surv_24h": "none", "mapping": "magnetic", "anaesthesia": "deep", "skin_to_skin_min": 104,
    "op_code": "O03", "op_experience_band": "5_9", "op_zf_prior_band": "25_99",
    "ablation_attempted": "yes", "endpoint_shown": ["pvi_entrance_exit"], "wait_time_min": 20,
    "veins_targeted": 4, "veins_isolated": 4, "no_complication_confirmed": "yes",
    "follow_up": {
        "fu30_status": "contacted", "fu30_day": 33, "fu30_no_events": "yes", "death": "no"
}
}"#;

/// A typical case: first ablation of paroxysmal atrial fibrillation, zero
/// fluoroscopy intended and achieved, no complication, seen at 30 days.
pub fn zero_fluoroscopy_case() -> Value {
    serde_json::from_str(ZERO_FLUOROSCOPY).unwrap_or_default()
}

/// The same procedure with the beam on, as planned.
pub fn conventional_case() -> Value {
    with(
        zero_fluoroscopy_case(),
        json!({
            "strategy_intended": "conventional", "zf_declined_reason": "operator_pref",
            "fluoro_used": "planned_used", "fluoro_phase": ["placement", "transseptal"],
            "fluoro_time": 9.0, "fluoro_time_unit": "min", "air_kerma": 25.2, "air_kerma_unit": "mGy",
            "kap": 226.8, "kap_unit": "uGy.m2", "cine_runs": 1, "pulse_rate_fps": 4, "contrast_ml": 20,
            "dose_source": "console", "lead_worn": "all"
        }),
    )
}

/// A case in which fluid was seen on intracardiac echo and left alone.
pub fn case_with_seen_effusion() -> Value {
    with(
        zero_fluoroscopy_case(),
        json!({
            "no_complication_confirmed": "no",
            "complications": [{
                "ae_code": "effusion", "event_phase": "ablation", "onset_min": 60, "detect_method": "ice",
                "detect_min": 62, "haemo_change": "no", "symptomatic": "no", "effusion_mm_max": 6,
                "effusion_baseline": "none", "intervention": ["observe"], "los_extra_days": 0,
                "permanent_injury": "no", "serious": ["none"], "relatedness_proc": "definite", "outcome": "resolved"
            }]
        }),
    )
}

/// A case in which fluid affected the circulation and was drained.
pub fn case_with_tamponade() -> Value {
    with(
        zero_fluoroscopy_case(),
        json!({
            "no_complication_confirmed": "no",
            "complications": [{
                "ae_code": "tamponade", "event_phase": "transseptal_needle", "onset_min": 25, "detect_method": "ice",
                "detect_min": 27, "haemo_change": "yes", "haemo_change_min": 34, "symptomatic": "yes",
                "effusion_baseline": "none", "drained_ml": 320, "intervention": ["reversal", "pericardiocentesis"],
                "los_extra_days": 3, "permanent_injury": "no", "serious": ["life_threat", "hospital"],
                "relatedness_proc": "definite", "outcome": "resolved"
            }]
        }),
    )
}

/// The case with some fields changed; `null` removes a field.
pub fn with(mut case: Value, changes: Value) -> Value {
    if let (Some(fields), Value::Object(changes)) = (case.as_object_mut(), changes) {
        for (key, value) in changes {
            if value.is_null() {
                fields.remove(&key);
            } else {
                fields.insert(key, value);
            }
        }
    }
    case
}
