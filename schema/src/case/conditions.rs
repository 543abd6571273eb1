//! Conditions under which fields apply, named once.

use crate::dictionary::Condition;

const CHILD_BANDS: &[&str] = &["0_1", "2_5", "6_11", "12_17"];
const AF: &[&str] = &["af_parox_first", "af_pers_first", "af_lspers_first", "af_redo"];

/// The patient is 18 or older.
pub(crate) const ADULT: Condition = Condition::IsNot("age_band", CHILD_BANDS);
/// The patient is younger than 18.
pub(crate) const CHILD: Condition = Condition::Is("age_band", CHILD_BANDS);
/// Ablation of atrial fibrillation.
pub(crate) const AF_ABLATION: Condition = Condition::Is("proc_primary", AF);
/// Atrial fibrillation or flutter, where the stroke score applies.
pub(crate) const AF_OR_FLUTTER: Condition =
    Condition::Any(&[AF_ABLATION, Condition::Is("proc_primary", &["cti_afl", "atyp_afl"])]);
/// Procedures for which imaging before the case is usual.
pub(crate) const AF_OR_VT: Condition =
    Condition::Any(&[AF_ABLATION, Condition::Is("proc_primary", &["vt_idio", "vt_endo", "vt_epi"])]);
/// The left heart was entered.
pub(crate) const LEFT_SIDED: Condition = Condition::Any(&[
    Condition::AtLeast("transseptal_n", 1),
    Condition::Is("transseptal_route", &["pfo", "mixed", "puncture"]),
    Condition::Is("access", &["fem_art"]),
]);
/// Types whose substrate has a site worth telling.
pub(crate) const HAS_SUBSTRATE: Condition =
    Condition::Is("proc_primary", &["avrt_ap", "pvc", "vt_idio", "vt_endo", "vt_epi"]);
/// Radiofrequency was among the energies.
pub(crate) const RADIOFREQUENCY: Condition = Condition::Is("energy", &["rf"]);
/// The septum was crossed by at least one puncture.
pub(crate) const TRANSSEPTAL: Condition = Condition::AtLeast("transseptal_n", 1);
/// Zero-fluoroscopy was not the intended strategy.
pub(crate) const NOT_INTENDED_ZERO: Condition =
    Condition::Is("strategy_intended", &["near_zero", "conventional"]);
/// The beam was on although it had only been on standby.
pub(crate) const UNPLANNED_BEAM: Condition = Condition::Is("fluoro_used", &["standby_used"]);
/// The beam was on.
pub(crate) const BEAM_ON: Condition = Condition::Is("fluoro_used", &["standby_used", "planned_used"]);
/// Something was attempted.
pub(crate) const ATTEMPTED: Condition = Condition::Is("ablation_attempted", &["yes"]);
/// Nothing was attempted.
pub(crate) const NOT_ATTEMPTED: Condition = Condition::Is("ablation_attempted", &["no"]);
/// A reasoned override of acute success is given.
pub(crate) const SUCCESS_OVERRIDDEN: Condition =
    Condition::Is("acute_success_override", &["yes", "partial", "no", "not_attempted"]);
