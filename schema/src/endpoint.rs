//! What a record means for the comparison: acute success by procedure type and
//! harm tiers. Both are derived, never typed; a centre's reasoned override is
//! kept beside what was derived.

use crate::case::{CaseRecord, Complication};
use crate::reported::Reported;
use crate::vocabulary::{
    AcuteSuccess, ComplicationClass, ComplicationKind, DetectedBy, EndpointShown, EventOutcome, EventPhase,
    FollowUpStatus, HarmTier, Intervention, ProcedureType, Seriousness, YesNo,
};
use serde::Serialize;

#[cfg(test)]
mod tests;

/// A judgement by rule, and the centre's own where it gave one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Judged<T> {
    /// By the rule; `None` when the record does not say enough.
    pub derived: Option<T>,
    /// By the centre, with a reason in the record.
    pub overridden: Option<T>,
}

impl<T: Copy> Judged<T> {
    /// The judgement that counts.
    pub fn used(&self) -> Option<T> {
        self.overridden.or(self.derived)
    }
}

/// Acute success of a case, by the rule of its procedure type. Partial success
/// counts as failure in the comparison.
pub fn acute_success(case: &CaseRecord) -> Judged<AcuteSuccess> {
    let overridden = case.acute_result().acute_success_override.value().copied();
    Judged { derived: derived_success(case), overridden }
}

fn derived_success(case: &CaseRecord) -> Option<AcuteSuccess> {
    use EndpointShown as E;
    use ProcedureType as P;
    if case.acute_result().ablation_attempted == YesNo::No {
        return Some(AcuteSuccess::NotAttempted);
    }
    let shown = case.acute_result().endpoint_shown.value()?;
    let graded = |full: &[E], partial: &[E]| {
        if shown.has_any(full) {
            AcuteSuccess::Yes
        } else if shown.has_any(partial) {
            AcuteSuccess::Partial
        } else {
            AcuteSuccess::No
        }
    };
    Some(match case.procedure().proc_primary {
        P::Avnrt => graded(&[E::NonInducible, E::NonInducibleOneEcho], &[]),
        P::AvrtAp => graded(&[E::ApBlockBoth], &[E::ApBlockOneWay]),
        P::CtiFlutter => graded(&[E::BidirBlock], &[E::OnewayBlock]),
        P::AtypicalFlutter | P::FocalAt => graded(&[E::TerminationNonInducible], &[E::TerminationOnly]),
        P::AfParoxysmalFirst | P::AfPersistentFirst | P::AfLongStandingFirst | P::AfRedo => {
            return vein_success(case, shown.has_any(&[E::PviEntrance, E::PviEntranceExit]));
        }
        P::Pvc => graded(&[E::PvcAbolished], &[E::PvcReduced]),
        P::VtIdiopathic | P::VtEndocardial | P::VtEpicardial => {
            graded(&[E::VtClinicalNonInducible, E::VtAllNonInducible], &[])
        }
        P::AvNode => graded(&[E::AvbComplete], &[]),
        P::OtherAtrial | P::Other | P::DiagnosticOnly => graded(&[E::OtherPlannedEndpoint], &[]),
    })
}

/// Success in atrial fibrillation: every targeted vein isolated, with at least
/// entrance block shown.
fn vein_success(case: &CaseRecord, block_shown: bool) -> Option<AcuteSuccess> {
    let targeted = case.acute_result().veins_targeted.value()?.get();
    let isolated = case.acute_result().veins_isolated.value()?.get();
    Some(match (block_shown, isolated) {
        (false, _) | (_, 0) => AcuteSuccess::No,
        (true, isolated) if isolated == targeted => AcuteSuccess::Yes,
        (true, _) => AcuteSuccess::Partial,
    })
}

/// The harm tier of one complication.
pub fn harm_tier(event: &Complication, case: &CaseRecord) -> Judged<HarmTier> {
    harm_tier_of(event, case.procedure().proc_primary)
}

/// The same while the rest of the case is not known yet.
pub fn harm_tier_of(event: &Complication, procedure: ProcedureType) -> Judged<HarmTier> {
    let derived = if is_major(event, procedure) {
        HarmTier::Major
    } else if is_imaging_only(event) {
        HarmTier::ImagingOnly
    } else {
        HarmTier::Minor
    };
    Judged { derived: Some(derived), overridden: event.severity_override.value().copied() }
}

/// Whether the complication tells that the patient died, wherever it says so.
pub fn is_fatal(event: &Complication) -> bool {
    event.ae_code == ComplicationKind::Death
        || event.outcome.is(|outcome| *outcome == EventOutcome::Fatal)
        || event.serious.is(|reasons| reasons.has(Seriousness::Death))
}

/// Major, whatever showed it: death, arrest, stroke, tamponade by its effect or
/// its drainage, fistula, permanent block that needs a pacemaker, lasting
/// phrenic palsy, injury of a coronary artery or a valve, embolism, treated
/// bleeding, and anything that left injury, needed an invasive treatment or
/// more than two extra days. A stay only to look again does not count.
fn is_major(event: &Complication, procedure: ProcedureType) -> bool {
    use ComplicationKind as K;
    if is_fatal(event) {
        return true;
    }
    let planned_block = event.ae_code == K::AvbPermanent && procedure == ProcedureType::AvNode;
    if planned_block {
        return false;
    }
    let by_kind = matches!(
        event.ae_code,
        K::Arrest
            | K::Stroke
            | K::Tia
            | K::AtrioOesophagealFistula
            | K::PhrenicPersistent
            | K::CoronaryInjury
            | K::ValveInjury
            | K::PulmonaryEmbolism
            | K::SystemicEmbolism
    );
    by_kind || tamponade(event) || large_bleed(event) || lasting_or_treated(event)
}

/// Whether pericardial fluid was let out.
pub(crate) fn drained(event: &Complication) -> bool {
    event.intervention.is(|done| done.has_any(&[Intervention::Pericardiocentesis, Intervention::Surgery]))
}

/// Fluid that affected the circulation or was drained, under either name.
fn tamponade(event: &Complication) -> bool {
    event.ae_code.class() == ComplicationClass::Pericardial
        && (drained(event) || event.haemo_change.is(|answer| *answer == YesNo::Yes))
}

/// A bleed with a fifth of the haematocrit lost (2017 expert consensus on
/// catheter ablation of atrial fibrillation, as quoted in its tables).
fn large_bleed(event: &Complication) -> bool {
    event.hct_fall_pct.is(|fall| fall.get() >= 20)
}

/// Left permanent injury, needed an invasive treatment, or kept the patient
/// more than two extra days (48 hours).
fn lasting_or_treated(event: &Complication) -> bool {
    use Intervention as I;
    const INVASIVE: [Intervention; 7] = [
        I::Pericardiocentesis,
        I::Surgery,
        I::Transfusion,
        I::VascularRepair,
        I::Thrombin,
        I::Pacemaker,
        I::Cpr,
    ];
    let only_to_look = event.stay_for_image_only.is(|answer| *answer == YesNo::Yes);
    event.permanent_injury.is(|answer| *answer == YesNo::Yes)
        || event.intervention.is(|done| done.has_any(&INVASIVE))
        || (event.los_extra_days.is(|days| days.get() > 2) && !only_to_look)
}

/// Seen only because someone looked: no symptom, nothing done but observe.
fn is_imaging_only(event: &Complication) -> bool {
    let by_looking = event.detect_method.is(|by| {
        matches!(
            by,
            DetectedBy::Ice
                | DetectedBy::Tte
                | DetectedBy::Tee
                | DetectedBy::FluoroSilhouette
                | DetectedBy::Ct
                | DetectedBy::Mri
                | DetectedBy::RoutineFollowUp
        )
    });
    by_looking && no_symptom(event) && left_alone(event)
}

fn no_symptom(event: &Complication) -> bool {
    event.symptomatic.is(|answer| *answer == YesNo::No)
}

fn left_alone(event: &Complication) -> bool {
    event
        .intervention
        .is(|done| done.iter().all(|what| matches!(what, Intervention::None | Intervention::Observe)))
}

/// Whether a complication began within 30 days of the procedure. One in the room
/// has no day and did; one afterwards whose day nobody knows counts as if it did,
/// because leaving it out would hide harm.
pub fn within_30_days(event: &Complication) -> bool {
    event.onset_day.value().is_none_or(|day| day.get() <= 30)
}

/// Until when a complication counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HarmWindow {
    /// Until the 30th day after the procedure.
    Within30Days,
    /// Until the patient left the hospital; no contact afterwards is needed to know.
    BeforeDischarge,
}

impl HarmWindow {
    fn holds(self, event: &Complication) -> bool {
        match self {
            Self::Within30Days => within_30_days(event),
            // A phase that nobody knows counts, as a day that nobody knows does.
            Self::BeforeDischarge => event.event_phase.value() != Some(&EventPhase::PostDischarge),
        }
    }

    /// What is known where no complication within the window was major. A death on the day of the
    /// procedure happened in hospital; of a later one the record does not say where.
    fn without_major(self, case: &CaseRecord, death_counts: bool) -> Option<bool> {
        let follow_up = case.follow_up();
        let death_day = follow_up.and_then(|seen| seen.death_day.value()).map(|day| day.get());
        let died_early = death_counts && death_day.is_some_and(|day| day <= 30);
        match self {
            Self::Within30Days => {
                let learnt = death_day.is_some()
                    || follow_up.is_some_and(|seen| {
                        matches!(seen.fu30_status, FollowUpStatus::Contacted | FollowUpStatus::ChartOnly)
                    });
                if died_early { Some(true) } else { learnt.then_some(false) }
            }
            Self::BeforeDischarge => {
                let died = follow_up.is_some_and(|seen| seen.death.is(|died| *died == YesNo::Yes));
                let nobody_knows_where = death_counts && died && death_day.is_none_or(|day| day <= 30);
                let announced = case.acute_result().no_complication_confirmed == YesNo::No;
                match death_day {
                    Some(0) if death_counts => Some(true),
                    _ if nobody_knows_where => None,
                    _ => (!announced || !case.complications().is_empty()).then_some(false),
                }
            }
        }
    }
}

/// Whether the case had a major complication or death within 30 days.
/// `None` when nothing major is known and nobody learnt the 30-day status.
pub fn major_within_30_days(case: &CaseRecord) -> Option<bool> {
    major(case, HarmWindow::Within30Days)
}

/// Whether the case had a major complication or death within a window; `None` when nobody knows.
pub fn major(case: &CaseRecord, window: HarmWindow) -> Option<bool> {
    let is_major = |_: usize, event: &Complication| harm_tier(event, case).used() == Some(HarmTier::Major);
    major_by(case, window, is_major, true)
}

/// The same where `is_major` says which complications, by their place and what was recorded, are,
/// and `death_counts` whether a death that the follow-up tells is one.
pub fn major_by(
    case: &CaseRecord,
    window: HarmWindow,
    is_major: impl Fn(usize, &Complication) -> bool,
    death_counts: bool,
) -> Option<bool> {
    let mut events = case.complications().iter().enumerate();
    if events.any(|(place, event)| window.holds(event) && is_major(place, event)) {
        return Some(true);
    }
    window.without_major(case, death_counts)
}

/// Whether air kerma reached 5 Gy, the level after which follow-up of the skin
/// is usual (AAPM Medical Physics Practice Guideline 12.a, as quoted).
pub fn substantial_dose(case: &CaseRecord) -> bool {
    case.air_kerma_mgy().is(|dose| *dose >= 5_000.0)
}

/// Everything derived from one case, for whoever shows it.
#[derive(Debug, Clone, Serialize)]
pub struct Derived {
    /// Acute success.
    pub acute_success: Judged<AcuteSuccess>,
    /// The harm tier of each complication, in the order of the record.
    pub harm_tiers: Vec<Judged<HarmTier>>,
    /// A major complication or death within 30 days; absent when not known.
    pub major_within_30_days: Option<bool>,
    /// The beam was on although zero-fluoroscopy was intended.
    pub crossed_over: bool,
    /// Air kerma in mGy; absent when not reported.
    pub air_kerma_mgy: Option<f64>,
    /// Kerma-area product in Gy·cm²; absent when not reported.
    pub kap_gy_cm2: Option<f64>,
    /// Fluoroscopy time in seconds, a description and not a dose.
    pub fluoro_time_s: Option<f64>,
    /// Air kerma reached 5 Gy.
    pub substantial_dose: bool,
}

/// Derives what a case means.
pub fn derive(case: &CaseRecord) -> Derived {
    Derived {
        acute_success: acute_success(case),
        harm_tiers: case.complications().iter().map(|event| harm_tier(event, case)).collect(),
        major_within_30_days: major_within_30_days(case),
        crossed_over: crossed_over(case),
        air_kerma_mgy: number(case.air_kerma_mgy()),
        kap_gy_cm2: number(case.kap_gy_cm2()),
        fluoro_time_s: number(case.fluoro_time_s()),
        substantial_dose: substantial_dose(case),
    }
}

fn number(reported: Reported<f64>) -> Option<f64> {
    reported.value().copied()
}

/// Whether a field, named by its JSON pointer, tells which arm a case is in or what became of it.
/// While a question about it is open, nobody can rely on the case in a comparison.
pub fn decides(pointer: &str) -> bool {
    pointer.starts_with("/complications/") || DECIDING.contains(&pointer)
}

const DECIDING: [&str; 13] = [
    "/strategy_intended",
    "/intended_declared",
    "/fluoro_used",
    "/proc_primary",
    "/ablation_attempted",
    "/endpoint_shown",
    "/veins_targeted",
    "/veins_isolated",
    "/acute_success_override",
    "/no_complication_confirmed",
    "/follow_up/fu30_status",
    "/follow_up/death",
    "/follow_up/death_day",
];

/// Whether zero-fluoroscopy was intended and the beam was on all the same.
pub fn crossed_over(case: &CaseRecord) -> bool {
    use crate::vocabulary::Strategy;
    case.guidance().strategy_intended == Strategy::Zero && case.guidance().fluoro_used.beam_on()
}
