//! Steps of the procedure against each other.

use super::{Rule, hard, query, whole};
use crate::case::{CaseRecord, Procedure};
use crate::reported::Reported;
use crate::vocabulary::{
    EffusionLookBaseline, EffusionLookDuring, EffusionLookEnd, IceUse, ProcedureGroup, TransseptalGuidance,
    TransseptalRoute, YesNo,
};

pub(super) const RULES: &[Rule<CaseRecord>] = &[
    hard("echo_codes_need_echo", &["ice_used", "eff_surv_intra", "transseptal_guidance"], |case, _| {
        let procedure = case.procedure();
        (procedure.ice_used == Reported::Value(IceUse::No)).then(|| echo_claims(procedure)).flatten().map(
            |where_| {
                format!(
                    "Intracardiac echo is given as not used, but {where_} names it; correct one of the two."
                )
            },
        )
    }),
    hard("transseptal_route_fits_number", &["transseptal_route", "transseptal_n"], |case, _| {
        let route = *case.procedure().transseptal_route.value()?;
        let punctures = whole(&case.procedure().transseptal_n)?;
        let fits = match route {
            TransseptalRoute::None | TransseptalRoute::Pfo => punctures == 0,
            TransseptalRoute::Puncture | TransseptalRoute::Mixed => punctures > 0,
        };
        (!fits).then(|| format!(
            "{punctures} transseptal punctures do not fit the way across the septum that is given; correct one of the two."
        ))
    }),
    query("af_needs_left_atrium", &["transseptal_n", "transseptal_route", "proc_primary"], |case, _| {
        let crossed = case.procedure().transseptal_route.is(|route| *route != TransseptalRoute::None);
        let known = case.procedure().transseptal_route.value().is_some();
        (case.procedure().proc_primary.is_af() && known && !crossed).then(|| {
            "Ablation of atrial fibrillation without crossing the septum is unusual; confirm it, or correct the way across the septum.".to_owned()
        })
    }),
    hard("fluoro_guided_puncture_needs_beam", &["transseptal_guidance", "fluoro_used"], |case, _| {
        let by_fluoro = case.procedure().transseptal_guidance.is(|by| by.has(TransseptalGuidance::Fluoro));
        (by_fluoro && !case.guidance().fluoro_used.beam_on()).then(|| {
            "The puncture was guided by fluoroscopy, but the beam is given as never on; correct one of the two.".to_owned()
        })
    }),
    hard("fluoro_border_needs_beam", &["eff_surv_end", "fluoro_used"], |case, _| {
        let by_border = case.procedure().eff_surv_end.is(|by| by.has(EffusionLookEnd::FluoroBorder));
        (by_border && !case.guidance().fluoro_used.beam_on()).then(|| {
            "The heart border was looked at on X-ray at the end, but the beam is given as never on; correct one of the two.".to_owned()
        })
    }),
    hard("left_atrial_time_fits", &["la_dwell_min", "skin_to_skin_min"], |case, _| {
        let (inside, whole_case) =
            (whole(&case.procedure().la_dwell_min)?, whole(&case.procedure().skin_to_skin_min)?);
        (inside > whole_case).then(|| format!(
            "The time in the left atrium, {inside} min, is longer than the whole procedure, {whole_case} min; correct one of the two."
        ))
    }),
    query("unusual_duration", &["skin_to_skin_min", "proc_primary"], |case, _| {
        let minutes = whole(&case.procedure().skin_to_skin_min)?;
        let (low, high) = usual_minutes(case.procedure().proc_primary.group())?;
        (!(low..=high).contains(&minutes)).then(|| format!(
            "{minutes} min from skin to skin is unusual for this procedure ({low} to {high} is usual); check it, or say why it is right."
        ))
    }),
    query("many_further_procedures", &["proc_additional"], |case, _| {
        case.procedure().proc_additional.is(|further| further.len() > 3).then(|| {
            "More than three further procedures in one sitting are unusual; check the list, or say why it is right.".to_owned()
        })
    }),
    hard("further_procedure_is_another", &["proc_additional", "proc_primary"], |case, _| {
        case.procedure().proc_additional.is(|further| further.has(case.procedure().proc_primary)).then(|| {
            "The main procedure also stands among the further ones; name it once, as the main one.".to_owned()
        })
    }),
];

/// Which field claims intracardiac echo.
fn echo_claims(procedure: &Procedure) -> Option<&'static str> {
    let claims = [
        (
            procedure.transseptal_guidance.is(|by| by.has(TransseptalGuidance::Ice)),
            "guidance of the puncture",
        ),
        (procedure.eff_surv_baseline.is(|by| *by == EffusionLookBaseline::Ice), "looking for fluid before"),
        (
            procedure.eff_surv_intra.is(|by| {
                matches!(by, EffusionLookDuring::ContinuousIce | EffusionLookDuring::IntermittentIce)
            }),
            "watching for fluid during",
        ),
        (procedure.eff_surv_end.is(|by| by.has(EffusionLookEnd::Ice)), "looking for fluid at the end"),
        (
            procedure.transverse_sinus_watch.is(|answer| *answer == YesNo::Yes),
            "watching the transverse sinus",
        ),
    ];
    claims.into_iter().find_map(|(claimed, where_)| claimed.then_some(where_))
}

/// Skin-to-skin minutes outside which a person should look. Common practice, no source.
fn usual_minutes(group: ProcedureGroup) -> Option<(i64, i64)> {
    match group {
        ProcedureGroup::Svt | ProcedureGroup::Flutter => Some((20, 240)),
        ProcedureGroup::AfFirst | ProcedureGroup::AfRedo => Some((30, 360)),
        ProcedureGroup::Vt => Some((45, 600)),
        ProcedureGroup::Pvc | ProcedureGroup::Other => None,
    }
}
