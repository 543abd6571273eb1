//! The row of the cases file.

use super::case::{Case, DoseEntry};
use super::course::LeftHeart;
use super::dose::Exposure;
use super::network::{Habits, TimeStyle, quarter};
use super::sheet::{Sheet, three_digits};
use quietbeam_schema::case::case_variables;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::*;

/// What a centre with bad habits makes of a hospital number.
const HOSPITAL_NUMBER: &str = "0047112368";

/// The cases file, a row a case; a case takes the code at its own position.
pub(super) fn cases_file(centre: &Habits, cases: &[Case], codes: &[CaseCode]) -> String {
    let mut sheet = Sheet::new(&case_variables());
    for (case, code) in cases.iter().zip(codes) {
        let code = if case.entry.hospital_number { HOSPITAL_NUMBER } else { code.as_str() };
        sheet.put("case_code", code);
        strategy(&mut sheet, centre, case);
        patient(&mut sheet, case);
        procedure(&mut sheet, case);
        looks(&mut sheet, case);
        crew(&mut sheet, centre, case);
        match &case.exposure {
            Some(exposure) => exposed(&mut sheet, centre, case, exposure),
            None if case.entry.dose == DoseEntry::BlankForZero => {}
            None => zeros(&mut sheet, centre, case),
        }
        result(&mut sheet, case);
        sheet.end_row();
    }
    sheet.into_text()
}

fn strategy(sheet: &mut Sheet, centre: &Habits, case: &Case) {
    let course = &case.course;
    let conventional = !course.zero_intended || case.entry.back_filled;
    sheet.put("period", quarter(case.quarter).text());
    sheet.whole("procedure_seq_for_patient", case.patient.earlier_ablations + 1);
    sheet.code("consent_basis", centre.consent);
    sheet.code("strategy_intended", if conventional { Strategy::Conventional } else { Strategy::Zero });
    let declared = match (case.entry.back_filled, case.practice.declared_in_log) {
        (true, _) => IntentDeclared::Retrospective,
        (false, true) => IntentDeclared::SameDayLog,
        (false, false) => IntentDeclared::Before,
    };
    sheet.code("intended_declared", declared);
    if conventional {
        sheet.code("zf_declined_reason", case.practice.declined_because);
    }
    let used = match (conventional, course.crossed_over, case.practice.standby) {
        (true, _, _) => FluoroUsed::PlannedUsed,
        (false, true, _) => FluoroUsed::StandbyUsed,
        (false, false, true) => FluoroUsed::StandbyNotUsed,
        (false, false, false) => FluoroUsed::None,
    };
    sheet.code("fluoro_used", used);
    sheet.code("lead_worn", case.practice.lead_worn);
}

fn patient(sheet: &mut Sheet, case: &Case) {
    let patient = &case.patient;
    let kind = case.model.kind;
    sheet.code("age_band", patient.age);
    sheet.code("sex", patient.sex);
    sheet.put("bmi", format!("{:.1}", patient.bmi));
    if let Some(weight) = patient.weight {
        sheet.code("weight_band_paed", weight);
    }
    sheet.whole("lvef", patient.lvef);
    if kind.is_af() || kind == ProcedureType::CtiFlutter {
        sheet.whole("chads_va", patient.stroke_score());
    }
    sheet.whole("la_diameter", patient.left_atrium_mm);
    sheet.code("structural_hd", patient.structural);
    sheet.code("chd", patient.congenital);
    sheet.whole("prior_ablation_n", patient.earlier_ablations);
    sheet.code("prior_cardiac_surgery", yes_no(patient.heart_surgery));
    sheet.code("device_in_situ", patient.device);
    sheet.code("pregnant", yes_no(patient.pregnant));
    if case.course.left_heart != LeftHeart::NotEntered {
        let anticoagulation = match kind {
            kind if kind.is_af() && patient.asa_class > 2 => Anticoagulation::Vka,
            kind if kind.is_af() => Anticoagulation::DoacUninterrupted,
            _ => Anticoagulation::None,
        };
        sheet.code("anticoag", anticoagulation);
    }
    sheet.code("egfr_band", patient.egfr);
    if kind.is_af() || kind.group() == ProcedureGroup::Vt {
        sheet.code("preproc_ct", case.practice.imaging_before);
    }
    sheet.whole("asa_class", patient.asa_class);
}

fn procedure(sheet: &mut Sheet, case: &Case) {
    let practice = &case.practice;
    let left_heart = case.course.left_heart;
    sheet.code("proc_primary", case.model.kind);
    if let Some(substrate) = practice.substrate {
        sheet.code("substrate_detail", substrate);
    }
    sheet.code("urgency", practice.urgency);
    sheet.code("energy", practice.energy);
    if practice.energy == Energy::Rf {
        sheet.code("contact_force", YesNo::Yes);
    }
    let mut access = vec![AccessSite::FemoralVein];
    access.extend((left_heart == LeftHeart::Retrograde).then_some(AccessSite::FemoralArtery));
    access.extend((case.model.kind == ProcedureType::VtEpicardial).then_some(AccessSite::Epicardial));
    sheet.codes("access", &access);
    sheet.code("access_us_guided", yes_no(practice.ultrasound_access));
    let (punctures, route) = match left_heart {
        LeftHeart::Punctured(punctures) => (punctures, TransseptalRoute::Puncture),
        LeftHeart::OpenForamen => (0, TransseptalRoute::Pfo),
        LeftHeart::NotEntered | LeftHeart::Retrograde => (0, TransseptalRoute::None),
    };
    sheet.whole("transseptal_n", punctures);
    sheet.code("transseptal_route", route);
    if punctures > 0 {
        sheet.codes("transseptal_guidance", puncture_guidance(case));
    }
    sheet.code("mapping", practice.mapping);
    sheet.code("anaesthesia", practice.anaesthesia);
    let minutes = practice.skin_to_skin_min;
    sheet.whole("skin_to_skin_min", minutes);
    if left_heart.crossed() {
        sheet.whole("la_dwell_min", (minutes as f64 * practice.left_atrium_share) as i64);
        sheet.whole("heparin_act_max", practice.clotting_time_s);
    }
}

fn puncture_guidance(case: &Case) -> &'static [TransseptalGuidance] {
    use TransseptalGuidance as G;
    match (case.course.echo_inside, case.course.zero_intended) {
        (true, true) => &[G::Ice, G::Mapping],
        (true, false) => &[G::Ice, G::Fluoro],
        (false, true) if case.course.crossed_over => &[G::Fluoro, G::Pressure],
        (false, true) => &[G::Mapping, G::Pressure],
        (false, false) => &[G::Fluoro, G::Pressure],
    }
}

/// Whether anyone looked for fluid, found or not.
fn looks(sheet: &mut Sheet, case: &Case) {
    let practice = &case.practice;
    let echo = case.course.echo_inside;
    let routine = practice.look_next_day == EffusionLook24h::RoutineTte;
    sheet.code("ice_used", practice.echo);
    sheet.code("tee_used", YesNo::No);
    let before = match (echo, routine) {
        (true, _) => EffusionLookBaseline::Ice,
        (false, true) => EffusionLookBaseline::Tte,
        (false, false) => EffusionLookBaseline::None,
    };
    sheet.code("eff_surv_baseline", before);
    let during = match (echo, practice.echo_throughout) {
        (false, _) => EffusionLookDuring::None,
        (true, true) => EffusionLookDuring::ContinuousIce,
        (true, false) => EffusionLookDuring::IntermittentIce,
    };
    sheet.code("eff_surv_intra", during);
    let end = match (echo, case.course.beam_on() && practice.border_at_end) {
        (true, _) => EffusionLookEnd::Ice,
        (false, true) => EffusionLookEnd::FluoroBorder,
        (false, false) => EffusionLookEnd::None,
    };
    sheet.code("eff_surv_end", end);
    let called_for = case.course.harm == super::course::Harm::Drained && !routine;
    sheet.code("eff_surv_24h", if called_for { EffusionLook24h::SymptomTte } else { practice.look_next_day });
}

fn crew(sheet: &mut Sheet, centre: &Habits, case: &Case) {
    sheet.put("room_code", format!("R{}", centre.room_of(case.course.operator) + 1));
    sheet.put("op_code", format!("O{:02}", case.course.operator + 1));
    sheet.code("op_experience_band", case.practice.experience);
    sheet.code("op_zf_prior_band", case.practice.earlier_zero_cases);
    sheet.code("second_operator_role", case.practice.second_operator);
}

/// The beam was never on, and the centre says so in figures as well.
fn zeros(sheet: &mut Sheet, centre: &Habits, case: &Case) {
    sheet.quantity("fluoro_time", "0", time_unit(centre.time_style));
    sheet.quantity("air_kerma", "0", kerma_unit(centre));
    sheet.quantity("kap", "0", centre.area_unit_in(case.quarter).written);
    sheet.whole("cine_runs", 0);
}

fn exposed(sheet: &mut Sheet, centre: &Habits, case: &Case, exposure: &Exposure) {
    if case.course.crossed_over && !case.entry.back_filled {
        let (reason, _) = unplanned(case);
        sheet.code("fluoro_reason", reason);
    }
    let phases: &[FluoroPhase] = match (case.course.crossed_over, case.course.left_heart.crossed()) {
        (true, _) => &[unplanned(case).1],
        (false, true) => &[FluoroPhase::Placement, FluoroPhase::Transseptal, FluoroPhase::Ablation],
        (false, false) => &[FluoroPhase::Placement, FluoroPhase::Ablation],
    };
    sheet.codes("fluoro_phase", phases);
    let time = match centre.time_style {
        TimeStyle::Seconds => format!("{:.0}", exposure.minutes * 60.0),
        TimeStyle::Minutes => format!("{:.2}", exposure.minutes),
        TimeStyle::Clock => {
            let seconds = (exposure.minutes * 60.0).round() as i64;
            format!("{}:{:02}", seconds / 60, seconds % 60)
        }
    };
    sheet.quantity("fluoro_time", time, time_unit(centre.time_style));
    dose(sheet, centre, case, exposure);
    sheet.whole("cine_runs", exposure.cine_runs);
    sheet.put("pulse_rate_fps", exposure.pulse_rate.to_string());
    sheet.whole("contrast_ml", exposure.contrast_ml);
    sheet.code("dose_source", exposure.source);
    if exposure.source == DoseSource::StructuredReport {
        badges(sheet, exposure);
    }
}

/// Electronic badges are read where structured reports are. The scenario's rule: over the apron the operator's
/// reads 0.3 µSv a Gy·cm², the nurse's a third of that, and that of whoever gives the anaesthetic a sixth.
fn badges(sheet: &mut Sheet, exposure: &Exposure) {
    let operator = 0.3 * exposure.kap_gy_cm2();
    let of_roles = [("staff_dose_operator", 1.0), ("staff_dose_nurse", 3.0), ("staff_dose_anaesthesia", 6.0)];
    for (key, less) in of_roles {
        sheet.quantity(key, format!("{:.2}", operator / less), "uSv");
    }
    sheet.code("staff_badge_position", BadgePosition::OverApron);
}

fn dose(sheet: &mut Sheet, centre: &Habits, case: &Case, exposure: &Exposure) {
    let unit = centre.area_unit_in(case.quarter);
    let kerma = exposure.air_kerma_mgy;
    let in_gray = three_digits(kerma / 1000.0);
    match case.entry.dose {
        DoseEntry::TimeOnly => sheet.missing("air_kerma", MissingCode::NotRecorded),
        DoseEntry::MinutesAsDose => sheet.quantity("air_kerma", format!("{:.2}", exposure.minutes), "mGy"),
        DoseEntry::GrayAsMilligray | DoseEntry::GrayAsMilligrayAlone => {
            sheet.quantity("air_kerma", in_gray, "mGy");
        }
        _ if centre.kerma_in_gray => sheet.quantity("air_kerma", in_gray, "Gy"),
        _ => sheet.quantity("air_kerma", three_digits(kerma), "mGy"),
    }
    match case.entry.dose {
        DoseEntry::TimeOnly | DoseEntry::GrayAsMilligrayAlone => {
            sheet.missing("kap", MissingCode::NotRecorded);
        }
        _ => sheet.quantity("kap", three_digits(exposure.kap_gy_cm2() * unit.in_one_gy_cm2), unit.written),
    }
}

/// Why and when the beam went on although it was only on standby.
fn unplanned(case: &Case) -> (FluoroReason, FluoroPhase) {
    use FluoroPhase as P;
    use FluoroReason as R;
    let by_fluoro = matches!(case.course.left_heart, LeftHeart::Punctured(_)) && !case.course.echo_inside;
    match case.course.operator % 3 {
        _ if by_fluoro => (R::Transseptal, P::Transseptal),
        _ if case.patient.has_device() => (R::DeviceLead, P::Placement),
        0 => (R::CatheterPosition, P::Placement),
        1 if case.course.echo_inside => (R::IceAdvance, P::Placement),
        1 => (R::MappingFailure, P::Mapping),
        _ => (R::Access, P::Access),
    }
}

fn result(sheet: &mut Sheet, case: &Case) {
    let success = case.course.success || case.entry.hushed;
    sheet.code("ablation_attempted", YesNo::Yes);
    sheet.code("endpoint_shown", shown(case.model.kind, success, case.course.operator));
    let kind = case.model.kind;
    if kind.is_af() {
        sheet.whole("veins_targeted", 4);
        sheet.whole("veins_isolated", if success { 4 } else { 3 });
    }
    sheet.whole("wait_time_min", 20 + (case.course.operator as i64 % 3) * 5);
    let nothing_happened = case.harms.events.is_empty() || case.entry.hushed;
    sheet.code("no_complication_confirmed", yes_no(nothing_happened));
    if let Some(comment) = case.entry.comment {
        sheet.put("comment", comment);
    }
}

/// The observed fact from which the registry derives success or its absence.
fn shown(kind: ProcedureType, success: bool, operator: usize) -> EndpointShown {
    use EndpointShown as E;
    use ProcedureType as P;
    let thorough = operator.is_multiple_of(2);
    match (kind, success) {
        (P::Avnrt, true) if thorough => E::NonInducible,
        (P::Avnrt, true) => E::NonInducibleOneEcho,
        (P::AvrtAp, true) => E::ApBlockBoth,
        (P::AvrtAp, false) if thorough => E::ApBlockOneWay,
        (P::CtiFlutter, true) => E::BidirBlock,
        (P::CtiFlutter, false) => E::OnewayBlock,
        (P::FocalAt, true) => E::TerminationNonInducible,
        (P::FocalAt, false) if thorough => E::TerminationOnly,
        (P::Pvc, true) => E::PvcAbolished,
        (P::Pvc, false) => E::PvcReduced,
        (P::VtEndocardial | P::VtEpicardial, true) if thorough => E::VtAllNonInducible,
        (P::VtEndocardial | P::VtEpicardial, true) => E::VtClinicalNonInducible,
        (P::AvNode, true) => E::AvbComplete,
        (kind, true) if kind.is_af() && thorough => E::PviEntranceExit,
        (kind, true) if kind.is_af() => E::PviEntrance,
        _ => E::None,
    }
}

pub(super) fn yes_no(answer: bool) -> YesNo {
    if answer { YesNo::Yes } else { YesNo::No }
}

fn time_unit(style: TimeStyle) -> &'static str {
    match style {
        TimeStyle::Seconds => "s",
        TimeStyle::Minutes | TimeStyle::Clock => "min",
    }
}

fn kerma_unit(centre: &Habits) -> &'static str {
    if centre.kerma_in_gray { "Gy" } else { "mGy" }
}
