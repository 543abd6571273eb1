//! Rows for the rules about a case's own fields.

use super::Row;
use crate::case::sample::{case_with_tamponade, conventional_case, with, zero_fluoroscopy_case};
use serde_json::{Value, json};

pub(super) fn rows() -> Vec<Row> {
    [strategy(), dose(), dose_against_dose(), patient(), procedure(), result()]
        .into_iter()
        .flatten()
        .collect()
}

fn row(id: &'static str, base: fn() -> Value, trips: Value, words: &'static str, passes: Value) -> Row {
    Row { id, base, at: "", trips, words, also: &[], passes }
}

fn also(row: Row, also: &'static [&'static str]) -> Row {
    Row { also, ..row }
}

/// Endocardial ablation of ventricular tachycardia without X-ray.
fn vt_case() -> Value {
    with(
        zero_fluoroscopy_case(),
        json!({
            "proc_primary": "vt_endo", "substrate_detail": "lv_scar", "structural_hd": "ischaemic",
            "endpoint_shown": ["vt_all_non_inducible"], "veins_targeted": null, "veins_isolated": null
        }),
    )
}

fn strategy() -> Vec<Row> {
    let (zero, beam) = (zero_fluoroscopy_case as fn() -> Value, conventional_case as fn() -> Value);
    let unplanned = json!({
        "strategy_intended": "zero", "zf_declined_reason": null,
        "fluoro_used": "standby_used", "fluoro_reason": ["phrenic"]
    });
    vec![
        row(
            "zero_has_no_planned_beam",
            beam,
            json!({"strategy_intended": "zero", "zf_declined_reason": null}),
            "choose standby_used",
            unplanned,
        ),
        row(
            "conventional_without_beam",
            zero,
            json!({"strategy_intended": "conventional", "zf_declined_reason": "training"}),
            "the beam was never on",
            json!({"strategy_intended": "near_zero", "zf_declined_reason": "training"}),
        ),
        row(
            "epicardial_without_beam",
            vt_case,
            json!({"proc_primary": "vt_epi", "access": ["fem_vein", "epicardial"]}),
            "epicardial procedure without any X-ray",
            json!({"access": ["fem_vein", "epicardial"]}),
        ),
        row(
            "strategy_declared_afterwards",
            zero,
            json!({"intended_declared": "retrospective"}),
            "after the procedure",
            json!({"intended_declared": "same_day_log"}),
        ),
        row(
            "zero_without_mapping",
            zero,
            json!({"mapping": "none"}),
            "without any mapping system",
            json!({"mapping": "nr"}),
        ),
        row(
            "zero_without_mapping",
            zero,
            json!({"mapping": "none"}),
            "Zero-fluoroscopy",
            json!({"mapping": "none", "strategy_intended": "near_zero", "zf_declined_reason": "no_eam"}),
        ),
        row(
            "beam_on_without_lead",
            beam,
            json!({"lead_worn": "none"}),
            "nobody wore lead",
            json!({"lead_worn": "some"}),
        ),
    ]
}

fn dose() -> Vec<Row> {
    let beam = conventional_case as fn() -> Value;
    vec![
        row(
            "zero_dose_with_beam_on",
            beam,
            json!({"fluoro_time": 0}),
            "cannot be 0",
            json!({"fluoro_time": "nr", "fluoro_time_unit": null}),
        ),
        row(
            "zero_dose_with_beam_on",
            beam,
            json!({"kap": 0, "air_kerma": "nr", "air_kerma_unit": null}),
            "a missing code if it was not recorded",
            json!({"kap": "nr", "kap_unit": null}),
        ),
        also(
            row(
                "zero_dose_with_beam_on",
                beam,
                json!({"air_kerma": 0, "kap": "nr", "kap_unit": null}),
                "The beam was on",
                json!({"air_kerma": 0.05, "kap": "nr", "kap_unit": null}),
            ),
            &["dose_rate_unusual", "unusual_value"],
        ),
        row(
            "dose_not_recorded",
            beam,
            json!({"air_kerma": "nr", "air_kerma_unit": null, "kap": "unk", "kap_unit": null}),
            "Fluoroscopy time does not stand for dose",
            json!({"air_kerma": "nr", "air_kerma_unit": null}),
        ),
        row(
            "minutes_as_dose",
            beam,
            json!({"air_kerma": 9, "kap": 90}),
            "also the fluoroscopy time in minutes",
            json!({"air_kerma": 9.1, "kap": 90}),
        ),
        row(
            "minutes_as_dose",
            beam,
            json!({"air_kerma": 9.5, "fluoro_time": 570, "fluoro_time_unit": "s", "kap": 90}),
            "9.5 mGy",
            json!({"air_kerma": 9.4, "fluoro_time": 570, "fluoro_time_unit": "s", "kap": 90}),
        ),
        row(
            "unlikely_area_unit",
            beam,
            json!({"kap": 0.02268, "kap_unit": "cGym2"}),
            "µGy·m² or cGy·cm²",
            json!({"kap": 2.268, "kap_unit": "Gy.cm2"}),
        ),
        row(
            "high_dose_for_procedure",
            beam,
            json!({"air_kerma": 801, "kap": 6000, "fluoro_time": 60}),
            "up to 800 mGy is usual",
            json!({"air_kerma": 800, "kap": 6000, "fluoro_time": 60}),
        ),
        row(
            "high_dose_for_procedure",
            flutter_case,
            json!({"air_kerma": 0.301, "air_kerma_unit": "Gy", "kap": 2700, "fluoro_time": 30}),
            "301 mGy is much",
            json!({"air_kerma": 0.3, "air_kerma_unit": "Gy", "kap": 2700, "fluoro_time": 30}),
        ),
    ]
}

/// Typical flutter with the beam on.
fn flutter_case() -> Value {
    with(
        conventional_case(),
        json!({
            "proc_primary": "cti_afl", "endpoint_shown": ["bidir_block"], "preproc_ct": null,
            "veins_targeted": null, "veins_isolated": null
        }),
    )
}

/// Dose against area and time. The neighbour is the example of the HL7 FHIR
/// Radiation Dose Summary guide 1.0.0: 212 mGy, 13,639 mGy·cm², 450 s, which is
/// a field of 64.3 cm² and 28.3 mGy a minute.
fn dose_against_dose() -> Vec<Row> {
    let example = || {
        json!({
            "air_kerma": 212, "air_kerma_unit": "mGy", "kap": 13639, "kap_unit": "mGy.cm2",
            "fluoro_time": 450, "fluoro_time_unit": "s"
        })
    };
    // One gray in 40 minutes, so that the product in Gy·cm² is the field in cm².
    let gray = |kap: f64| json!({"air_kerma": 1, "air_kerma_unit": "Gy", "kap": kap, "kap_unit": "Gy.cm2", "fluoro_time": 40});
    // One minute, so that the air kerma is the rate.
    let minute = |mgy: f64, runs: u8| json!({"air_kerma": mgy, "fluoro_time": 1, "kap": mgy * 10.0, "cine_runs": runs});
    let area = |id, kap, words, beside: f64| row(id, conventional_case, gray(kap), words, gray(beside));
    const HIGH: &[&str] = &["high_dose_for_procedure"];
    const HIGH_AND_UNUSUAL: &[&str] = &["high_dose_for_procedure", "unusual_value"];
    vec![
        also(
            row(
                "dose_area_impossible",
                conventional_case,
                with(example(), json!({"kap_unit": "dGy.cm2"})),
                "a field of 6433.5 cm²",
                example(),
            ),
            &["unusual_value"],
        ),
        also(area("dose_area_impossible", 2.999, "field of 3.0 cm²; 20 to 250 is usual", 3.0), HIGH),
        also(area("dose_area_impossible", 1500.001, "1500.0 cm²", 1500.0), HIGH_AND_UNUSUAL),
        also(area("dose_area_unusual", 3.0, "3.0 cm²", 20.0), HIGH),
        also(area("dose_area_unusual", 19.999, "20 to 250 is usual", 20.0), HIGH),
        also(area("dose_area_unusual", 250.001, "Compare both units", 250.0), HIGH_AND_UNUSUAL),
        row(
            "dose_rate_impossible",
            conventional_case,
            minute(176.001, 0),
            "no room gives more than 176",
            minute(176.0, 0),
        ),
        row(
            "dose_rate_impossible",
            conventional_case,
            minute(176.001, 0),
            "without any cine run",
            minute(176.001, 1),
        ),
        row(
            "dose_rate_unusual",
            conventional_case,
            minute(30.001, 1),
            "gray was read as milligray",
            minute(30.0, 1),
        ),
        row(
            "dose_rate_unusual",
            conventional_case,
            json!({"air_kerma": 0.449, "kap": 4, "fluoro_time": 9}),
            "0.050 mGy a minute",
            json!({"air_kerma": 0.45, "kap": 4, "fluoro_time": 9}),
        ),
    ]
}

fn patient() -> Vec<Row> {
    let zero = zero_fluoroscopy_case as fn() -> Value;
    let pregnant = |sex: &str, age: &str| {
        let child = age == "6_11";
        let weight = if child { json!("15_29") } else { Value::Null };
        let score = if age == "60_69" { 2 } else { 1 };
        json!({"pregnant": "yes", "sex": sex, "age_band": age, "weight_band_paed": weight, "chads_va": score})
    };
    let scores = |sex: &str, older: u8| json!({"sex": sex, "chads_va": 2, "chads_vasc": older});
    const ASKED: &[&str] = &["pregnancy_confirmed"];
    let impossible = |sex: &str, age: &str, beside: Value| {
        also(row("pregnancy_possible", zero, pregnant(sex, age), "does not fit", beside), ASKED)
    };
    vec![
        impossible("m", "30_39", pregnant("f", "30_39")),
        impossible("f", "6_11", with(pregnant("f", "12_17"), json!({"weight_band_paed": "50_79"}))),
        impossible("f", "60_69", pregnant("f", "50_59")),
        row(
            "pregnancy_confirmed",
            zero,
            pregnant("x", "30_39"),
            "confirm that it is right",
            json!({"pregnant": "unk"}),
        ),
        row(
            "stroke_score_fits_age",
            zero,
            json!({"age_band": "70_79", "chads_va": 0}),
            "alone gives 1",
            json!({"age_band": "70_79", "chads_va": 1}),
        ),
        row(
            "stroke_score_fits_age",
            zero,
            json!({"age_band": "90_plus", "chads_va": 1}),
            "alone gives 2",
            json!({"age_band": "80_89", "chads_va": 2}),
        ),
        row("stroke_scores_agree", zero, scores("f", 4), "the point for women", scores("f", 3)),
        row("stroke_scores_agree", zero, scores("f", 1), "the point for women", scores("f", 2)),
        row("stroke_scores_agree", zero, scores("m", 3), "the point for women", scores("m", 2)),
    ]
}

fn procedure() -> Vec<Row> {
    let zero = zero_fluoroscopy_case as fn() -> Value;
    let without_echo = |claim: Value| {
        with(
            json!({
                "ice_used": "no", "eff_surv_baseline": "none", "eff_surv_intra": "none",
                "eff_surv_end": ["tte"], "transseptal_guidance": ["tee"]
            }),
            claim,
        )
    };
    let silent = || without_echo(json!({"transverse_sinus_watch": "no"}));
    let echo = |claim: Value, words| row("echo_codes_need_echo", zero, without_echo(claim), words, silent());
    let septum = |route: &str, n: u8| {
        let by = if n > 0 { json!(["ice"]) } else { Value::Null };
        json!({"transseptal_route": route, "transseptal_n": n, "transseptal_guidance": by})
    };
    let unfit = |route: &str, n: u8, beside: Value| {
        row("transseptal_route_fits_number", zero, septum(route, n), "do not fit the way", beside)
    };
    let minutes = |minutes: u16| json!({"skin_to_skin_min": minutes});
    let duration =
        |base, trips, words, beside| row("unusual_duration", base, minutes(trips), words, minutes(beside));
    vec![
        echo(json!({"transseptal_guidance": ["tee", "ice"]}), "guidance of the puncture names it"),
        echo(json!({"eff_surv_baseline": "ice"}), "looking for fluid before names it"),
        echo(json!({"eff_surv_intra": "intermittent_ice"}), "watching for fluid during names it"),
        echo(json!({"eff_surv_end": ["tte", "ice"]}), "looking for fluid at the end names it"),
        echo(json!({"transverse_sinus_watch": "yes"}), "watching the transverse sinus names it"),
        also(unfit("none", 1, septum("puncture", 1)), &["af_needs_left_atrium"]),
        unfit("pfo", 1, septum("pfo", 0)),
        unfit("puncture", 0, septum("mixed", 1)),
        unfit("mixed", 0, septum("mixed", 2)),
        row("af_needs_left_atrium", zero, septum("none", 0), "without crossing the septum", septum("pfo", 0)),
        row(
            "fluoro_guided_puncture_needs_beam",
            zero,
            json!({"transseptal_guidance": ["ice", "fluoro"]}),
            "guided by fluoroscopy",
            json!({"transseptal_guidance": ["ice", "eam"]}),
        ),
        row(
            "fluoro_border_needs_beam",
            zero,
            json!({"eff_surv_end": ["ice", "fluoro_border"]}),
            "looked at on X-ray at the end",
            json!({"eff_surv_end": ["ice", "tte"]}),
        ),
        row(
            "left_atrial_time_fits",
            zero,
            json!({"la_dwell_min": 105}),
            "105 min, is longer than the whole procedure, 104 min",
            json!({"la_dwell_min": 104}),
        ),
        duration(zero, 29, "30 to 360 is usual", 30),
        duration(zero, 361, "361 min", 360),
        duration(flutter_case, 19, "20 to 240 is usual", 20),
        duration(flutter_case, 241, "241 min", 240),
        duration(vt_case, 44, "45 to 600 is usual", 45),
        duration(vt_case, 601, "601 min", 600),
        row(
            "many_further_procedures",
            zero,
            json!({"proc_additional": ["cti_afl", "avnrt", "focal_at", "other_atrial"]}),
            "More than three",
            json!({"proc_additional": ["cti_afl", "avnrt", "focal_at"]}),
        ),
        row(
            "further_procedure_is_another",
            zero,
            json!({"proc_additional": ["cti_afl", "af_parox_first"]}),
            "name it once",
            json!({"proc_additional": ["cti_afl"]}),
        ),
    ]
}

fn result() -> Vec<Row> {
    let zero = zero_fluoroscopy_case as fn() -> Value;
    let override_ = |isolated: u8| {
        json!({
            "veins_isolated": isolated, "acute_success_override": "yes",
            "acute_success_override_reason": "one vein was small"
        })
    };
    vec![
        row(
            "veins_isolated_within_targeted",
            zero,
            json!({"veins_isolated": 5}),
            "5 veins isolated of 4 targeted",
            json!({"veins_isolated": 4}),
        ),
        row("success_with_veins_open", zero, override_(3), "3 of 4 veins", override_(4)),
        row(
            "success_without_energy",
            zero,
            json!({"energy": ["none"], "contact_force": null}),
            "no energy was delivered",
            json!({"energy": ["none"], "contact_force": null, "endpoint_shown": ["none"]}),
        ),
        row(
            "short_waiting_time",
            zero,
            json!({"wait_time_min": 19}),
            "20 min are usual",
            json!({"wait_time_min": 20}),
        ),
        row(
            "short_waiting_time",
            flutter_case,
            json!({"wait_time_min": 19}),
            "19 min",
            json!({"wait_time_min": "nr"}),
        ),
        row(
            "short_waiting_time",
            zero,
            json!({"wait_time_min": 0}),
            "0 min after the last lesion",
            json!({"wait_time_min": 0, "proc_primary": "avnrt", "endpoint_shown": ["non_inducible"]}),
        ),
        row(
            "no_complication_means_none",
            case_with_tamponade,
            json!({"no_complication_confirmed": "yes"}),
            "answer no, or remove them",
            json!({"no_complication_confirmed": "yes", "complications": []}),
        ),
        row(
            "complication_announced",
            zero,
            json!({"no_complication_confirmed": "no"}),
            "none is listed yet",
            json!({"no_complication_confirmed": "yes"}),
        ),
    ]
}
