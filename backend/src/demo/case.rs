//! One invented case, and how the centre wrote it down.

use super::after::{After, At30Days};
use super::chance::Chance;
use super::course::{Course, Harm, Risks, Setting};
use super::dose::Exposure;
use super::harm::Harms;
use super::model::KindModel;
use super::patient::Patient;
use super::practice::Practice;
use quietbeam_schema::vocabulary::ProcedureType;

/// A case as it was.
#[derive(Clone)]
pub(super) struct Case {
    pub(super) quarter: usize,
    pub(super) model: &'static KindModel,
    pub(super) patient: Patient,
    pub(super) course: Course,
    pub(super) practice: Practice,
    pub(super) exposure: Option<Exposure>,
    pub(super) harms: Harms,
    pub(super) after: After,
    pub(super) entry: Entry,
}

/// How the dose boxes were filled in.
#[derive(Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum DoseEntry {
    /// As the console shows it; zeros if the beam was never on.
    #[default]
    AsShown,
    /// Left blank although zero was meant.
    BlankForZero,
    /// Fluoroscopy time only.
    TimeOnly,
    /// The number in gray beside the unit mGy.
    GrayAsMilligray,
    /// The same, and the kerma-area product left out.
    GrayAsMilligrayAlone,
    /// The minutes of fluoroscopy in the box for air kerma.
    MinutesAsDose,
}

/// How the centre wrote the case down.
#[derive(Clone, Default)]
pub(super) struct Entry {
    pub(super) dose: DoseEntry,
    pub(super) comment: Option<&'static str>,
    pub(super) comment_has_date: bool,
    pub(super) hospital_number: bool,
    /// A cross-over entered afterwards as intended conventional.
    pub(super) back_filled: bool,
    /// Failures and complications left out.
    pub(super) hushed: bool,
    /// The same procedure was entered before.
    pub(super) entered_before: bool,
}

impl Case {
    pub(super) fn draw(chance: &mut Chance, setting: &Setting<'_>, zero_cases: &mut [usize]) -> Self {
        let patient = Patient::draw(chance, setting.centre, setting.model.kind);
        let course = Course::draw(chance, setting, &patient, zero_cases);
        let practice = Practice::draw(chance, setting, &course);
        let exposure = course.beam_on().then(|| Exposure::draw(chance, setting, &course, &patient));
        let harms = Harms::draw(chance, setting, &course, &practice);
        let after = After::draw(chance, setting, &harms);
        let (quarter, model) = (setting.quarter, setting.model);
        Self { quarter, model, patient, course, practice, exposure, harms, after, entry: Entry::default() }
    }

    /// Nothing about the case or its entry is out of the ordinary.
    pub(super) fn is_plain(&self) -> bool {
        let entry = &self.entry;
        let marked =
            entry.comment_has_date || entry.hospital_number || entry.back_filled || entry.entered_before;
        let dose_as_shown = matches!(entry.dose, DoseEntry::AsShown | DoseEntry::BlankForZero);
        !marked && dose_as_shown && !entry.hushed && !self.patient.pregnant && self.harms.events.is_empty()
    }

    /// Some rule will refuse the row; nothing else is sent for it until it stands.
    pub(super) fn will_be_refused(&self) -> bool {
        self.entry.comment_has_date
            || self.entry.hospital_number
            || self.entry.dose == DoseEntry::GrayAsMilligray
    }

    /// What was drawn, for whoever compares it with what the registry derives.
    pub(super) fn drawn(&self) -> Drawn {
        Drawn {
            kind: self.model.kind,
            quarter: self.quarter,
            complexity: self.patient.complexity,
            zero_intended: self.course.zero_intended,
            zero_chance: self.course.zero_chance,
            crossed_over: self.course.crossed_over,
            echo_inside: self.course.echo_inside,
            success: self.course.success,
            major: self.course.harm != Harm::None,
            drained: self.course.harm == Harm::Drained,
            image_fluid: self.harms.image_fluid,
            image_fluid_risk: self.model.image_fluid,
            image_fluid_found: self.harms.image_fluid_found,
            lost_at_30_days: self.after.at_30_days == At30Days::Lost,
            success_risk: self.course.success_risk,
            major_risk: self.course.major_risk,
            drained_risk: self.course.drained_risk,
            crossover_risk: self.course.crossover_risk,
            entered_before: self.entry.entered_before,
        }
    }
}

/// What was drawn for the case of one row of the cases file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// The type of procedure.
    pub kind: ProcedureType,
    /// The quarter, counted from 0.
    pub quarter: usize,
    /// The complexity behind the recorded facts; standard normal.
    pub complexity: f64,
    /// Zero-fluoroscopy was truly intended.
    pub zero_intended: bool,
    /// The chance that it would be.
    pub zero_chance: f64,
    /// The beam went on although zero-fluoroscopy was intended.
    pub crossed_over: bool,
    /// Intracardiac echo was used.
    pub echo_inside: bool,
    /// Acute success.
    pub success: bool,
    /// A major complication.
    pub major: bool,
    /// A drained effusion, which is one of them.
    pub drained: bool,
    /// There was fluid that only an image can show.
    pub image_fluid: bool,
    /// Probability of such fluid where none was drained; the same under each strategy.
    pub image_fluid_risk: f64,
    /// Somebody found it.
    pub image_fluid_found: bool,
    /// Nobody learnt the 30-day status.
    pub lost_at_30_days: bool,
    /// Probability of success under each strategy.
    pub success_risk: Risks,
    /// Probability of a major complication under each strategy.
    pub major_risk: Risks,
    /// Probability of a drained effusion under each strategy.
    pub drained_risk: Risks,
    /// Probability of cross-over, had zero-fluoroscopy been intended.
    pub crossover_risk: f64,
    /// The row repeats a case that was entered before.
    pub entered_before: bool,
}
