//! The columns that analyses need, read once from each case record.

use super::arm::Arm;
use super::at_cut::AtCut;
use super::screening_log::LogCounts;
use super::staff::Badges;
use quietbeam_schema::case::{CaseRecord, Complication};
use quietbeam_schema::endpoint::{self, HarmWindow};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::reported::Reported;
use quietbeam_schema::value::Whole;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, AgeBand, Coded, ComplicationClass, ComplicationKind, CongenitalDisease, DetectedBy,
    EffusionLook24h, EffusionLookDuring, EffusionLookEnd, FluoroUsed, HarmTier, IceUse, IntentDeclared,
    Intervention, LeadWorn, ProcedureType, Sex, Strategy, StructuralDisease,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// One case as analyses see it: small, because a cut may hold a million.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseRow {
    /// The centre.
    pub centre: CentreCode,
    /// The quarter of the procedure.
    pub period: Quarter,
    /// The main procedure.
    pub procedure: ProcedureType,
    /// The strategy intended beforehand.
    pub intended: Strategy,
    /// The arm into which a plan puts it if it was intended as near-zero; in neither without such a
    /// plan.
    pub near_zero_in: Option<Arm>,
    /// When it was written down, if stated.
    pub declared: Option<IntentDeclared>,
    /// Whether the beam was on, and as planned or not.
    pub fluoro_used: FluoroUsed,
    /// Who wore lead, if stated.
    pub lead_worn: Option<LeadWorn>,
    /// What was known of the patient before the procedure.
    pub before: Baseline,
    /// Acute success by rule, or by the centre's reasoned override; `None` when not known.
    pub acute_success: Option<AcuteSuccess>,
    /// A major complication or death within 30 days; `None` when nobody learnt it.
    pub major_within_30_days: Option<bool>,
    /// The same until the patient left the hospital; `None` when nobody knows.
    pub major_before_discharge: Option<bool>,
    /// Complications that began within 30 days, by tier.
    pub harms: HarmCounts,
    /// Which kinds of complication began within 30 days, and what showed them first.
    pub seen: Seen,
    /// Pericardial fluid reported within 30 days, if any.
    pub effusion: Option<Effusion>,
    /// Whether anyone looked for pericardial fluid with echo without being prompted.
    pub looked: Looked,
    /// Whether intracardiac echo was used, from wherever it looked; `None` when not recorded.
    pub intracardiac_echo: Option<bool>,
    /// Air kerma in mGy; 0 when the beam was never on, `None` when not reported.
    pub air_kerma_mgy: Option<f64>,
    /// Kerma-area product in Gy·cm²; 0 when the beam was never on, `None` when not reported.
    pub kap_gy_cm2: Option<f64>,
    /// Fluoroscopy time in seconds; a description, never a dose.
    pub fluoro_time_s: Option<f64>,
    /// What badges of staff read.
    pub badges: Badges,
    /// What stood against it when its cut was taken.
    pub at_cut: AtCut,
}

/// What was known before the procedure and may differ between the arms; `None` where it was
/// not recorded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Baseline {
    /// Age band.
    pub age_band: AgeBand,
    /// Sex as recorded.
    pub sex: Option<Sex>,
    /// Structural heart disease.
    pub structural: Option<StructuralDisease>,
    /// Congenital heart disease.
    pub congenital: Option<CongenitalDisease>,
    /// Body mass index, kg/m².
    pub bmi: Option<f64>,
    /// Ejection fraction, %.
    pub lvef: Option<u8>,
    /// Left atrial diameter, mm.
    pub la_diameter: Option<u8>,
    /// Earlier ablations, three or more as three.
    pub earlier_ablations: Option<u8>,
    /// Physical status class.
    pub physical_status: Option<u8>,
}

impl Baseline {
    fn read(case: &CaseRecord) -> Self {
        fn whole<const MIN: i64, const MAX: i64>(reported: &Reported<Whole<MIN, MAX>>) -> Option<u8> {
            reported.value().and_then(|number| u8::try_from(number.get()).ok())
        }
        let patient = case.patient();
        Self {
            age_band: patient.age_band,
            sex: patient.sex.value().copied(),
            structural: patient.structural_hd.value().copied(),
            congenital: patient.chd.value().copied(),
            bmi: patient.bmi.value().map(|bmi| bmi.get()),
            lvef: whole(&patient.lvef),
            la_diameter: whole(&patient.la_diameter),
            earlier_ablations: whole(&patient.prior_ablation_n),
            physical_status: whole(&patient.asa_class),
        }
    }
}

/// Complications of one case by tier.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct HarmCounts {
    /// Major.
    pub major: u8,
    /// Minor.
    pub minor: u8,
    /// Seen only because someone looked.
    pub imaging_only: u8,
}

/// Which classes of complication a case had in which tier, and what showed complications of each
/// tier first: a bit for each, because a cut may hold a million cases.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Seen(u64);

const TIERS: usize = 3;
const CLASSES: usize = 7;

impl Seen {
    /// The same with one more complication.
    #[must_use]
    pub fn with(self, tier: HarmTier, class: ComplicationClass, first: Option<DetectedBy>) -> Self {
        Self(self.0 | Self::class_bit(class, tier) | Self::route_bit(first, tier))
    }

    /// Whether it had one of a class and a tier.
    pub fn class(self, class: ComplicationClass, tier: HarmTier) -> bool {
        self.0 & Self::class_bit(class, tier) != 0
    }

    /// Whether one of a tier was shown first by something; by nothing that was stated without it.
    pub fn first(self, shown_by: Option<DetectedBy>, tier: HarmTier) -> bool {
        self.0 & Self::route_bit(shown_by, tier) != 0
    }

    fn class_bit(class: ComplicationClass, tier: HarmTier) -> u64 {
        1 << (TIERS * class.position() + tier.position())
    }

    fn route_bit(shown_by: Option<DetectedBy>, tier: HarmTier) -> u64 {
        let route = shown_by.map_or(0, |shown_by| 1 + shown_by.position());
        1 << (TIERS * (CLASSES + route) + tier.position())
    }
}

/// Pericardial fluid in one case.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effusion {
    /// What showed it first, if stated.
    pub detected_by: Option<DetectedBy>,
    /// It was let out by needle, catheter or surgery.
    pub drained: bool,
}

/// Whether anyone looked for pericardial fluid with echo when nothing prompted it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Looked {
    /// Echo during the case, at its end, or as routine within a day.
    WithEcho,
    /// No such look.
    NotWithEcho,
    /// Not stated.
    NotStated,
}

impl Looked {
    /// All answers, in the order of a table.
    pub const ALL: [Self; 3] = [Self::WithEcho, Self::NotWithEcho, Self::NotStated];
}

impl CaseRow {
    /// Reads the columns of one case.
    pub fn read(centre: CentreCode, case: &CaseRecord) -> Self {
        Self {
            centre,
            period: case.identity().period,
            procedure: case.procedure().proc_primary,
            intended: case.guidance().strategy_intended,
            near_zero_in: None,
            declared: case.guidance().intended_declared.value().copied(),
            fluoro_used: case.guidance().fluoro_used,
            lead_worn: case.guidance().lead_worn.value().copied(),
            before: Baseline::read(case),
            acute_success: endpoint::acute_success(case).used(),
            major_within_30_days: endpoint::major_within_30_days(case),
            major_before_discharge: endpoint::major(case, HarmWindow::BeforeDischarge),
            harms: harms(case),
            seen: seen(case),
            effusion: effusion(case),
            looked: looked(case),
            intracardiac_echo: answer(&case.procedure().ice_used, |used| *used != IceUse::No),
            air_kerma_mgy: case.air_kerma_mgy().value().copied(),
            kap_gy_cm2: case.kap_gy_cm2().value().copied(),
            fluoro_time_s: case.fluoro_time_s().value().copied(),
            badges: Badges::read(case.guidance()),
            at_cut: AtCut::default(),
        }
    }

    /// The strategy was written down before the first venous access.
    pub fn declared_before(&self) -> bool {
        matches!(self.declared, Some(IntentDeclared::Before | IntentDeclared::SameDayLog))
    }

    /// What enters the models of a comparison, as one key: cases with the same key are the same
    /// to every model.
    pub(super) fn content(&self) -> [u128; 2] {
        /// A place in a list from 1; 0 where nothing is recorded.
        fn place<C: Coded>(code: Option<C>) -> u64 {
            code.map_or(0, |code| code.position() as u64 + 1)
        }
        let number = |value: Option<u8>| value.map_or(0, |value| u64::from(value) + 1);
        let answer = |had: Option<bool>| had.map_or(0, |had| 1 + u64::from(had));
        let before = &self.before;
        let pack = |parts: &[u64]| parts.iter().fold(0, |key, part| key << 8 | u128::from(*part));
        // The two highest bits of a body mass index never differ, so there is room for the echo.
        let bmi = before.bmi.map_or(0, |bmi| bmi.to_bits() << 2) | answer(self.intracardiac_echo);
        // Each takes a byte, and sixteen bytes are compared at once.
        [
            pack(&[
                u64::from(self.centre.number()),
                place(Some(self.intended)),
                place(Some(self.fluoro_used)),
                place(self.acute_success),
                answer(self.major_within_30_days),
                place(Some(self.procedure)),
                place(self.declared),
                u64::from(self.period.year() % 256),
                u64::from(self.period.quarter()),
                place(Some(before.age_band)),
                place(before.sex),
                place(before.structural),
                place(before.congenital),
                number(before.earlier_ablations),
                number(before.physical_status),
            ]),
            u128::from(
                number(before.lvef) << 24
                    | number(before.la_diameter) << 8
                    | answer(self.major_before_discharge),
            ) << 64
                | u128::from(bmi),
        ]
    }

    /// The patient was younger than 18.
    pub fn paediatric(&self) -> bool {
        self.before.age_band <= AgeBand::Y12To17
    }

    /// Whether the beam was on at all.
    pub fn beam_on(&self) -> bool {
        self.fluoro_used.beam_on()
    }
}

fn within_30_days(case: &CaseRecord) -> impl Iterator<Item = &Complication> {
    case.complications().iter().filter(|event| endpoint::within_30_days(event))
}

fn harms(case: &CaseRecord) -> HarmCounts {
    let mut counts = HarmCounts::default();
    for event in within_30_days(case) {
        match endpoint::harm_tier(event, case).used() {
            Some(HarmTier::Major) => counts.major += 1,
            Some(HarmTier::Minor) => counts.minor += 1,
            Some(HarmTier::ImagingOnly) => counts.imaging_only += 1,
            None => {}
        }
    }
    counts
}

fn seen(case: &CaseRecord) -> Seen {
    within_30_days(case).fold(Seen::default(), |seen, event| {
        let tier = endpoint::harm_tier(event, case).used();
        tier.map_or(seen, |tier| seen.with(tier, event.ae_code.class(), event.detect_method.value().copied()))
    })
}

/// The effusion of a case: drained if any was, and shown first by what the
/// first entry names.
fn effusion(case: &CaseRecord) -> Option<Effusion> {
    const DRAINAGE: [Intervention; 2] = [Intervention::Pericardiocentesis, Intervention::Surgery];
    let fluid = |event: &&Complication| {
        matches!(event.ae_code, ComplicationKind::Effusion | ComplicationKind::Tamponade)
    };
    let first = within_30_days(case).find(fluid)?;
    let drained =
        within_30_days(case).filter(fluid).any(|event| event.intervention.is(|done| done.has_any(&DRAINAGE)));
    Some(Effusion { detected_by: first.detect_method.value().copied(), drained })
}

/// Whether anyone looked for pericardial fluid with echo during the case, at its end, and as
/// routine within a day; `None` where it is not stated.
pub(super) fn looks(case: &CaseRecord) -> [Option<bool>; 3] {
    const ECHO: [EffusionLookEnd; 3] = [EffusionLookEnd::Ice, EffusionLookEnd::Tte, EffusionLookEnd::Tee];
    let procedure = case.procedure();
    [
        answer(&procedure.eff_surv_intra, |how| *how != EffusionLookDuring::None),
        answer(&procedure.eff_surv_end, |how| how.has_any(&ECHO)),
        answer(&procedure.eff_surv_24h, |how| *how == EffusionLook24h::RoutineTte),
    ]
}

fn looked(case: &CaseRecord) -> Looked {
    let answers = looks(case);
    if answers.contains(&Some(true)) {
        Looked::WithEcho
    } else if answers.contains(&None) {
        // One unanswered question is enough for a look that nobody wrote down.
        Looked::NotStated
    } else {
        Looked::NotWithEcho
    }
}

fn answer<T>(reported: &Reported<T>, test: impl Fn(&T) -> bool) -> Option<bool> {
    reported.value().map(test)
}

/// The cases of a data cut. No result depends on their order.
#[derive(Debug, Clone, Default)]
pub struct Cohort {
    rows: Vec<CaseRow>,
    surroundings: Surroundings,
}

/// What stood around the cases of a cut when it was taken, so far as a summary tells of it. All of
/// it moves on afterwards, and a cut does not.
#[derive(Debug, Clone, Default)]
pub struct Surroundings {
    /// The hash of the cut; empty where the cases are of none.
    pub cut: String,
    /// The lines of the screening logs.
    pub log: Vec<LogCounts>,
    /// The region of each centre that had one.
    pub regions: BTreeMap<CentreCode, String>,
}

impl Cohort {
    /// Reads every record once.
    pub fn from_records<'a>(records: impl IntoIterator<Item = (CentreCode, &'a CaseRecord)>) -> Self {
        records.into_iter().map(|(centre, case)| CaseRow::read(centre, case)).collect()
    }

    /// Adds one case.
    pub fn push(&mut self, case: CaseRow) {
        self.rows.push(case);
    }

    /// The cases.
    pub fn rows(&self) -> &[CaseRow] {
        &self.rows
    }

    /// The same cases with what stood around them.
    #[must_use]
    pub fn amid(self, surroundings: Surroundings) -> Self {
        Self { surroundings, ..self }
    }

    /// What stood around the cases; nothing where nobody told.
    pub fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }
}

impl FromIterator<CaseRow> for Cohort {
    fn from_iter<I: IntoIterator<Item = CaseRow>>(rows: I) -> Self {
        Self { rows: rows.into_iter().collect(), ..Self::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::{CLASSES, CaseRow, TIERS};
    use quietbeam_schema::vocabulary::{Coded, ComplicationClass, DetectedBy, HarmTier};

    #[test]
    fn every_kind_and_route_has_a_bit_of_its_own() {
        assert_eq!((ComplicationClass::all().len(), HarmTier::all().len()), (CLASSES, TIERS));
        assert!(TIERS * (CLASSES + 1 + DetectedBy::all().len()) <= 64);
    }

    #[test]
    fn a_million_cases_fit_in_128_megabytes() {
        assert!(size_of::<CaseRow>() <= 128, "{} bytes a case", size_of::<CaseRow>());
    }
}
