//! What the scenario assumes of each type of procedure, and how complexity,
//! centre, strategy and learning move it. All figures are the scenario's own.

use super::chance::{log_odds, probability};
use super::network::Habits;
use quietbeam_schema::vocabulary::ProcedureType;

/// The assumptions for one type of procedure.
pub(super) struct KindModel {
    pub(super) kind: ProcedureType,
    /// Share of the cases of a centre for adults.
    pub(super) weight: f64,
    /// Probabilities at complexity 0 under conventional guidance.
    pub(super) success: f64,
    pub(super) major: f64,
    /// The part of `major` that is a drained effusion.
    pub(super) drained: f64,
    /// Fluid that only an image shows, whoever looks.
    pub(super) image_fluid: f64,
    /// Fluoroscopy under conventional guidance: median minutes, sd of the log.
    pub(super) fluoro_median_min: f64,
    pub(super) fluoro_log_sd: f64,
    /// Cross-over of an experienced operator at complexity 0.
    pub(super) crossover: f64,
    /// Median minutes from skin to skin.
    pub(super) skin_to_skin_min: f64,
    /// Recurrence in the first year.
    pub(super) recurrence: f64,
}

impl KindModel {
    const fn new(
        kind: ProcedureType,
        weight: f64,
        outcome: [f64; 4],
        beam: [f64; 3],
        course: [f64; 2],
    ) -> Self {
        let [success, major, drained, image_fluid] = outcome;
        let [fluoro_median_min, fluoro_log_sd, crossover] = beam;
        let [skin_to_skin_min, recurrence] = course;
        Self {
            kind,
            weight,
            success,
            major,
            drained,
            image_fluid,
            fluoro_median_min,
            fluoro_log_sd,
            crossover,
            skin_to_skin_min,
            recurrence,
        }
    }
}

/// The types of procedure, in the order: success, major, drained, fluid on an
/// image; fluoroscopy median, log sd, cross-over; skin to skin, recurrence.
pub(super) static KINDS: [KindModel; 11] = [
    KindModel::new(ProcedureType::Avnrt, 0.16, [0.985, 0.004, 0.0005, 0.02], [6.0, 0.6, 0.03], [75.0, 0.03]),
    KindModel::new(ProcedureType::AvrtAp, 0.09, [0.95, 0.008, 0.002, 0.03], [10.0, 0.7, 0.05], [75.0, 0.06]),
    KindModel::new(
        ProcedureType::CtiFlutter,
        0.14,
        [0.975, 0.005, 0.001, 0.02],
        [7.0, 0.6, 0.03],
        [60.0, 0.06],
    ),
    KindModel::new(
        ProcedureType::AfParoxysmalFirst,
        0.22,
        [0.99, 0.016, 0.006, 0.20],
        [10.0, 0.6, 0.045],
        [110.0, 0.22],
    ),
    KindModel::new(ProcedureType::AfRedo, 0.07, [0.98, 0.016, 0.006, 0.18], [10.0, 0.6, 0.05], [110.0, 0.30]),
    KindModel::new(
        ProcedureType::AfPersistentFirst,
        0.14,
        [0.975, 0.022, 0.008, 0.30],
        [13.0, 0.6, 0.05],
        [110.0, 0.35],
    ),
    KindModel::new(ProcedureType::FocalAt, 0.04, [0.88, 0.010, 0.003, 0.06], [10.0, 0.7, 0.06], [75.0, 0.10]),
    KindModel::new(ProcedureType::Pvc, 0.07, [0.86, 0.012, 0.005, 0.08], [8.0, 0.8, 0.06], [100.0, 0.15]),
    KindModel::new(
        ProcedureType::VtEndocardial,
        0.04,
        [0.82, 0.040, 0.012, 0.12],
        [15.0, 0.8, 0.15],
        [190.0, 0.30],
    ),
    // Always intended conventional, so that no cross-over can occur.
    KindModel::new(
        ProcedureType::VtEpicardial,
        0.01,
        [0.75, 0.080, 0.030, 0.60],
        [25.0, 0.7, 0.0],
        [190.0, 0.35],
    ),
    KindModel::new(ProcedureType::AvNode, 0.02, [0.99, 0.006, 0.0005, 0.01], [3.0, 0.6, 0.03], [45.0, 0.01]),
];

/// The mix at a centre for children, by type.
pub(super) static CHILDREN_MIX: [(ProcedureType, f64); 5] = [
    (ProcedureType::Avnrt, 0.38),
    (ProcedureType::AvrtAp, 0.47),
    (ProcedureType::FocalAt, 0.07),
    (ProcedureType::CtiFlutter, 0.03),
    (ProcedureType::Pvc, 0.05),
];

/// The odds of major harm under zero-fluoroscopy against conventional guidance.
const MAJOR_ODDS_RATIO: f64 = 0.95;
/// After this many own cases the learning effect has fallen to 1/e.
const LEARNING_CASES: f64 = 10.0;
/// Cross-over of a child whose septum is punctured.
const CHILD_TRANSSEPTAL_CROSSOVER: f64 = 0.30;

/// What bears on one case.
pub(super) struct Circumstances<'a> {
    pub(super) model: &'static KindModel,
    pub(super) centre: &'a Habits,
    pub(super) complexity: f64,
    pub(super) congenital: bool,
    pub(super) device: bool,
    /// Zero-fluoroscopy cases of this operator before this one, in this network.
    pub(super) earlier_zero: usize,
}

impl Circumstances<'_> {
    fn learning(&self) -> f64 {
        libm::exp(-(self.earlier_zero as f64) / LEARNING_CASES)
    }

    /// That zero-fluoroscopy is intended, at this share of the centre in the quarter.
    pub(super) fn zero_intended(&self, share: f64) -> f64 {
        if self.model.kind == ProcedureType::VtEpicardial {
            return 0.0;
        }
        let congenital = if self.congenital { 1.2 } else { 0.0 };
        probability(log_odds(share) - 0.4 * self.complexity - congenital)
    }

    /// Acute success under one strategy.
    pub(super) fn success(&self, zero: bool) -> f64 {
        let strategy = if zero { 0.05 + 0.4 * self.learning() } else { 0.0 };
        probability(
            log_odds(self.model.success) + self.centre.success_shift - 0.35 * self.complexity - strategy,
        )
    }

    /// Major harm within 30 days under one strategy.
    pub(super) fn major(&self, zero: bool) -> f64 {
        self.harm(self.model.major, zero)
    }

    /// A drained effusion under one strategy; part of [`Self::major`].
    pub(super) fn drained(&self, zero: bool) -> f64 {
        self.harm(self.model.drained, zero)
    }

    fn harm(&self, base: f64, zero: bool) -> f64 {
        let strategy = if zero { libm::log(MAJOR_ODDS_RATIO) } else { 0.0 };
        probability(log_odds(base) + self.centre.major_shift + 0.30 * self.complexity + strategy)
    }

    /// That the beam goes on although zero-fluoroscopy was intended.
    pub(super) fn crossover(&self, punctured: bool) -> f64 {
        let usual = self.model.crossover * (1.0 + 1.5 * self.learning()) * libm::exp(0.3 * self.complexity);
        let congenital = if self.congenital { 0.20 } else { 0.0 };
        let device = if self.device { 0.06 } else { 0.0 };
        let expected = (usual + congenital + device).min(0.95);
        if punctured && self.centre.for_children {
            expected.max(CHILD_TRANSSEPTAL_CROSSOVER)
        } else {
            expected
        }
    }
}

/// That fluid which only an image shows is found: it depends on who looks.
pub(super) fn found_on_image(echo_inside: bool, routine_echo_after: bool) -> f64 {
    match (echo_inside, routine_echo_after) {
        (true, _) => 0.85,
        (false, true) => 0.70,
        (false, false) => 0.04,
    }
}
