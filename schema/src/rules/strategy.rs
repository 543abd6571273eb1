//! The intended strategy against what was done.

use super::{Rule, hard, query};
use crate::case::CaseRecord;
use crate::vocabulary::{FluoroUsed, IntentDeclared, LeadWorn, MappingSystem, ProcedureType, Strategy};

pub(super) const RULES: &[Rule<CaseRecord>] = &[
    hard("zero_has_no_planned_beam", &["fluoro_used", "strategy_intended"], |case, _| {
        (case.guidance().strategy_intended == Strategy::Zero && case.guidance().fluoro_used == FluoroUsed::PlannedUsed)
            .then(|| "Zero-fluoroscopy was intended, yet X-ray is given as planned. If it was needed after all, choose standby_used; if it was planned, the intended strategy was near_zero or conventional.".to_owned())
    }),
    query("conventional_without_beam", &["fluoro_used", "strategy_intended"], |case, _| {
        (case.guidance().strategy_intended == Strategy::Conventional && !case.guidance().fluoro_used.beam_on())
            .then(|| "Conventional guidance was intended, yet the beam was never on. Confirm that no X-ray was used, or correct the fluoroscopy field.".to_owned())
    }),
    query("epicardial_without_beam", &["fluoro_used", "proc_primary"], |case, _| {
        (case.procedure().proc_primary == ProcedureType::VtEpicardial && !case.guidance().fluoro_used.beam_on())
            .then(|| "An epicardial procedure without any X-ray is unusual. Confirm it, or correct the fluoroscopy field.".to_owned())
    }),
    query("strategy_declared_afterwards", &["intended_declared"], |case, _| {
        case.guidance().intended_declared.is(|when| *when == IntentDeclared::Retrospective)
            .then(|| "The strategy was written down after the procedure, when it is known what happened. Say how the intention is known.".to_owned())
    }),
    query("zero_without_mapping", &["mapping", "strategy_intended"], |case, _| {
        (case.guidance().strategy_intended == Strategy::Zero && case.procedure().mapping.is(|kind| *kind == MappingSystem::None))
            .then(|| "Zero-fluoroscopy was intended without any mapping system. Confirm it, or give the kind of mapping.".to_owned())
    }),
    query("beam_on_without_lead", &["lead_worn", "fluoro_used"], |case, _| {
        (case.guidance().fluoro_used.beam_on()
            && case.guidance().lead_worn.is(|worn| *worn == LeadWorn::None))
        .then(|| "The beam was on and nobody wore lead. Confirm it, or correct who wore lead.".to_owned())
    }),
];
