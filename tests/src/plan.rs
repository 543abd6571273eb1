//! An analysis plan for tests.

use serde_json::{Value, json};

/// A plan that can be carried out, as JSON: acute success, then major complications.
pub fn plan() -> Value {
    json!({
        "title": "Zero-fluoroscopy against conventional",
        "question": "Is zero-fluoroscopy no worse than conventional fluoroscopy?",
        "eligibility": {
            "procedure_groups": ["svt", "flutter", "af_first", "af_redo", "pvc", "vt", "other"],
            "exclude": ["epicardial"],
        },
        "level": 0.95,
        "method": "standardised",
        "covariates": ["structural_hd"],
        "missing_covariates": "indicator",
        "least_known": 0.9,
        "sensitivity": ["leave_one_centre_out", "declared_before"],
        "endpoints": [
            {
                "endpoint": "acute_success", "margin": 0.03, "scale": "risk_difference", "worse_when": "lower",
                "reason": "Three in a hundred more repeats are outweighed by sparing everyone the beam.",
                "source": "decision of the writing group", "expected": 0.95,
            },
            {
                "endpoint": "major_within_30_days", "margin": 0.01, "scale": "risk_difference", "worse_when": "higher",
                "reason": "One in a hundred more major complications is the most that is acceptable.",
                "source": "decision of the writing group", "expected": 0.015,
            },
        ],
    })
}
