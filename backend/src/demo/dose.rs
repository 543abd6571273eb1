//! The X-ray used in a case in which the beam was on. The scenario's rule: air
//! kerma is fluoroscopy time times the rate of the room, more for a large
//! patient, plus what cine adds; kerma-area product is air kerma times a field.

use super::chance::Chance;
use super::course::{Course, Setting};
use super::patient::Patient;
use quietbeam_schema::vocabulary::{DoseSource, ProcedureType};

/// What the console would show.
#[derive(Clone)]
pub(super) struct Exposure {
    pub(super) minutes: f64,
    pub(super) air_kerma_mgy: f64,
    pub(super) area_cm2: f64,
    pub(super) cine_runs: i64,
    pub(super) contrast_ml: i64,
    pub(super) pulse_rate: f64,
    pub(super) source: DoseSource,
}

/// The shortest beam that a console shows, in minutes.
const SHORTEST_MIN: f64 = 0.05;

impl Exposure {
    pub(super) fn draw(
        chance: &mut Chance,
        setting: &Setting<'_>,
        course: &Course,
        patient: &Patient,
    ) -> Self {
        let (minutes, cine_runs) = if course.crossed_over {
            (chance.log_normal(1.2, 1.0), i64::from(chance.happens(0.15)))
        } else {
            let model = setting.model;
            let runs = chance.one_of(&[(0, 0.6), (1, 0.2), (2, 0.1), (3, 0.1)]);
            (chance.log_normal(model.fluoro_median_min, model.fluoro_log_sd), runs)
        };
        let minutes = minutes.max(SHORTEST_MIN);
        let size = libm::exp(0.07 * (patient.bmi - 28.0) + 0.35 * chance.normal());
        let cine: f64 = (0..cine_runs).map(|_| chance.log_normal(6.0, 0.5)).sum();
        Self {
            minutes,
            air_kerma_mgy: minutes * setting.centre.room_rate * size + cine,
            area_cm2: chance.log_normal(90.0, 0.35).clamp(25.0, 300.0),
            cine_runs,
            contrast_ml: contrast(chance, setting.model.kind, course),
            pulse_rate: setting.centre.pulse_rates[setting.centre.room_of(course.operator)],
            source: chance.one_of(&[
                (DoseSource::Console, 0.60),
                (DoseSource::StructuredReport, 0.25),
                (DoseSource::WrittenReport, 0.15),
            ]),
        }
    }

    /// Kerma-area product.
    pub(super) fn kap_gy_cm2(&self) -> f64 {
        self.air_kerma_mgy / 1000.0 * self.area_cm2
    }
}

fn contrast(chance: &mut Chance, kind: ProcedureType, course: &Course) -> i64 {
    let given = match kind {
        ProcedureType::VtEpicardial => 0.9,
        _ if course.left_heart.crossed() && !course.crossed_over => 0.3,
        _ => 0.0,
    };
    if chance.happens(given) { chance.between(4, 16) * 5 } else { 0 }
}
