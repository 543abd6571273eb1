//! Case records made the way they reach the registry: as JSON, checked.

use quietbeam_schema::case::{CaseForm, CaseRecord};
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::period::Quarter;
use quietbeam_tests::sample::{conventional_case, with, zero_fluoroscopy_case};
use serde_json::{Value, json};

/// The record of a case that every rule accepts.
pub(crate) fn record(case: Value) -> CaseRecord {
    let json: StrictJson = serde_json::from_value(case).unwrap();
    match CaseForm::from_json(json).check(Quarter::new(2026, 4).unwrap()) {
        Ok(checked) => checked.record,
        Err(findings) => {
            panic!("{:?}", findings.into_iter().map(|f| (f.places, f.sentence)).collect::<Vec<_>>())
        }
    }
}

/// A procedure that a published study was about.
#[derive(Clone, Copy)]
pub(crate) enum Kind {
    /// Nodal re-entrant tachycardia.
    Svt,
    /// Idiopathic premature ventricular beats.
    Ventricular,
    /// First ablation of paroxysmal atrial fibrillation.
    Af,
}

/// One case of an arm, in the words of a study.
#[derive(Clone, Copy)]
pub(crate) struct Story {
    pub(crate) kind: Kind,
    pub(crate) zero_intended: bool,
    /// The beam was on, or not, against the intention.
    pub(crate) crossed_over: bool,
    pub(crate) success: bool,
    pub(crate) major: bool,
}

/// The case as a coordinator would enter it.
pub(crate) fn case(story: Story) -> Value {
    let basis = if story.zero_intended { zero_fluoroscopy_case() } else { conventional_case() };
    let case = with(basis, procedure(story.kind, story.success));
    let case = if story.crossed_over { crossed_over(case, story.zero_intended) } else { case };
    if story.major { with(case, treated_pseudoaneurysm()) } else { case }
}

fn procedure(kind: Kind, success: bool) -> Value {
    let right_sided = |code: &str, shown: &str| {
        json!({
            "proc_primary": code, "endpoint_shown": [if success { shown } else { "none" }],
            "chads_va": null, "anticoag": null, "preproc_ct": null, "veins_targeted": null, "veins_isolated": null,
            "transseptal_n": 0, "transseptal_route": "none", "transseptal_guidance": null
        })
    };
    match kind {
        Kind::Svt => right_sided("avnrt", "non_inducible"),
        Kind::Ventricular => with(right_sided("pvc", "pvc_abolished"), json!({"substrate_detail": "rvot"})),
        Kind::Af => json!({"veins_isolated": if success { 4 } else { 3 }}),
    }
}

fn crossed_over(case: Value, zero_intended: bool) -> Value {
    if zero_intended {
        return with(
            case,
            json!({
                "fluoro_used": "standby_used", "fluoro_reason": ["catheter_position"], "fluoro_phase": ["placement"],
                "fluoro_time": 1.0, "fluoro_time_unit": "min", "air_kerma": 2.5, "air_kerma_unit": "mGy",
                "kap": 0.2, "kap_unit": "Gy.cm2", "cine_runs": 0, "pulse_rate_fps": 4, "contrast_ml": 0,
                "dose_source": "console"
            }),
        );
    }
    with(
        case,
        json!({
            "fluoro_used": "standby_not_used", "fluoro_phase": null, "fluoro_time": null, "fluoro_time_unit": null,
            "air_kerma": null, "air_kerma_unit": null, "kap": null, "kap_unit": null, "cine_runs": null,
            "pulse_rate_fps": null, "contrast_ml": null, "dose_source": null
        }),
    )
}

fn treated_pseudoaneurysm() -> Value {
    json!({
        "no_complication_confirmed": "no",
        "complications": [{
            "ae_code": "pseudoaneurysm", "event_phase": "recovery", "onset_day": 1, "detect_method": "clinical_sign",
            "detect_day": 1, "symptomatic": "yes", "intervention": ["thrombin"], "los_extra_days": 1,
            "hct_fall_pct": 3, "permanent_injury": "no", "serious": ["hospital"], "relatedness_proc": "definite",
            "outcome": "resolved"
        }]
    })
}
