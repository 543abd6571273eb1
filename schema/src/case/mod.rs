//! The case record: a case arrives valid or is refused, and what cannot be true
//! cannot be held. An exposure exists only in a case in which the beam was on.

mod acute_result;
mod complication;
mod conditions;
mod follow_up;
mod form;
mod guidance;
mod patient;
mod procedure;
// The tests of every crate vary the same cases, so that file says `pub`.
#[cfg(test)]
#[allow(unreachable_pub)]
pub(crate) mod sample;
#[cfg(test)]
pub(crate) mod tests;

pub use acute_result::AcuteResult;
pub use complication::Complication;
pub use follow_up::FollowUp;
pub use form::{CaseForm, Checked, MAX_COMPLICATIONS};
pub use guidance::{Exposure, Guidance};
pub use patient::Patient;
pub use procedure::{Identity, Procedure};

use crate::dictionary::{Need, Section, Tier, Variable};
use crate::finding::Part;
use crate::ids::CaseCode;
use crate::quantity::{Measure, Quantity};
use crate::reported::{MissingCode, Reported};
use crate::value::FieldValue;
use serde_json::{Map, Value};

/// The beam in one case.
#[derive(Clone)]
pub enum Beam {
    /// It was never on: every X-ray quantity is zero, by this fact and not by a blank.
    Off,
    /// It was on, and this is what was used.
    On(Box<Exposure>),
}

/// A case as accepted. It can only be made by [`CaseForm::check`].
#[derive(Clone)]
pub struct CaseRecord {
    pub(crate) identity: Identity,
    pub(crate) patient: Patient,
    pub(crate) guidance: Guidance,
    pub(crate) procedure: Procedure,
    pub(crate) beam: Beam,
    pub(crate) acute_result: AcuteResult,
    pub(crate) complications: Vec<Complication>,
    pub(crate) follow_up: Option<FollowUp>,
}

impl CaseRecord {
    /// When the case took place, and under which consent.
    pub fn identity(&self) -> &Identity {
        &self.identity
    }

    /// The patient.
    pub fn patient(&self) -> &Patient {
        &self.patient
    }

    /// The intended strategy and whether the beam was on.
    pub fn guidance(&self) -> &Guidance {
        &self.guidance
    }

    /// What was done.
    pub fn procedure(&self) -> &Procedure {
        &self.procedure
    }

    /// The beam.
    pub fn beam(&self) -> &Beam {
        &self.beam
    }

    /// What was shown at the end.
    pub fn acute_result(&self) -> &AcuteResult {
        &self.acute_result
    }

    /// The complications, in the order given.
    pub fn complications(&self) -> &[Complication] {
        &self.complications
    }

    /// The follow-up, once there is one.
    pub fn follow_up(&self) -> Option<&FollowUp> {
        self.follow_up.as_ref()
    }

    /// Air kerma at the reference point in mGy; 0 when the beam was never on.
    pub fn air_kerma_mgy(&self) -> Reported<f64> {
        self.of_exposure(|exposure| canonical(&exposure.air_kerma))
    }

    /// Kerma-area product in Gy·cm²; 0 when the beam was never on.
    pub fn kap_gy_cm2(&self) -> Reported<f64> {
        self.of_exposure(|exposure| canonical(&exposure.kap))
    }

    /// Fluoroscopy time in seconds; 0 when the beam was never on.
    pub fn fluoro_time_s(&self) -> Reported<f64> {
        self.of_exposure(|exposure| canonical(&exposure.fluoro_time))
    }

    fn of_exposure(&self, quantity: impl FnOnce(&Exposure) -> Reported<f64>) -> Reported<f64> {
        match &self.beam {
            Beam::Off => Reported::Value(0.0),
            Beam::On(exposure) => quantity(exposure),
        }
    }

    /// The record as JSON, keys in dictionary order. Reading it again gives
    /// the same record, and writing that gives the same bytes.
    pub fn to_json(&self) -> Value {
        let mut case = Map::new();
        self.identity.write(&mut case);
        self.guidance.write(&mut case);
        self.patient.write(&mut case);
        self.procedure.write(&mut case);
        match &self.beam {
            Beam::Off => write_zeros(&mut case),
            Beam::On(exposure) => exposure.write(&mut case),
        }
        self.acute_result.write(&mut case);
        let complications: Vec<Value> = self.complications.iter().map(object_of).collect();
        case.insert("complications".to_owned(), Value::from(complications));
        if let Some(follow_up) = &self.follow_up {
            case.insert("follow_up".to_owned(), object_of(follow_up));
        }
        Value::from(case)
    }
}

fn object_of<S: Section>(section: &S) -> Value {
    let mut object = Map::new();
    section.write(&mut object);
    Value::from(object)
}

fn canonical<M: Measure>(quantity: &Reported<Quantity<M>>) -> Reported<f64> {
    match quantity {
        Reported::Value(quantity) => Reported::Value(quantity.canonical()),
        Reported::Missing(code) => Reported::Missing(*code),
    }
}

/// The X-ray quantities that a beam never switched on makes zero, each with
/// the unit in which the zero is written.
const ZEROS: [(&str, Option<&str>); 5] = [
    ("fluoro_time", Some("s")),
    ("air_kerma", Some("mGy")),
    ("kap", Some("Gy.cm2")),
    ("cine_runs", None),
    ("cine_time", Some("s")),
];

fn write_zeros(case: &mut Map<String, Value>) {
    for (key, unit) in ZEROS {
        case.insert(key.to_owned(), Value::from(0));
        if let Some(unit) = unit {
            case.insert(format!("{key}_unit"), Value::from(unit));
        }
    }
}

/// The code under which the registry keeps the case.
pub const CASE_CODE: Variable = Variable {
    key: "case_code",
    label: "Case code",
    help: "The random code that the registry issued for this case. Leave it blank and the registry issues one. It is never made from a hospital number; the list that links it to a person stays at the centre.",
    kind: <CaseCode as FieldValue>::KIND,
    need: Need::Optional,
    missing_allowed: false,
    unit: "",
    query: None,
    tier: Tier::Internal,
};

/// One group of variables, as it is shown and documented.
pub struct Group {
    /// The group's key.
    pub key: &'static str,
    /// A heading.
    pub label: &'static str,
    /// The variables in the order of the work.
    pub variables: &'static [Variable],
}

/// The groups of a case's own variables, in the order of the work.
pub const CASE_GROUPS: [Group; 6] = [
    Group { key: "identity", label: "The case", variables: Identity::VARIABLES },
    Group { key: "guidance", label: "Strategy and beam", variables: Guidance::VARIABLES },
    Group { key: "patient", label: "The patient", variables: Patient::VARIABLES },
    Group { key: "procedure", label: "The procedure", variables: Procedure::VARIABLES },
    Group { key: "exposure", label: "X-ray used", variables: Exposure::VARIABLES },
    Group { key: "acute_result", label: "Acute result", variables: AcuteResult::VARIABLES },
];

/// The variables of a case, its code first.
pub fn case_variables() -> Vec<&'static Variable> {
    std::iter::once(&CASE_CODE).chain(CASE_GROUPS.iter().flat_map(|group| group.variables)).collect()
}

/// The variables of one complication.
pub fn complication_variables() -> Vec<&'static Variable> {
    Complication::VARIABLES.iter().collect()
}

/// The variables of a follow-up.
pub fn follow_up_variables() -> Vec<&'static Variable> {
    FollowUp::VARIABLES.iter().collect()
}

/// The variables of a part of the record.
pub fn variables_of(part: Part) -> Vec<&'static Variable> {
    match part {
        Part::Case => case_variables(),
        Part::Complication(_) => complication_variables(),
        Part::FollowUp => follow_up_variables(),
    }
}

/// The missing codes, for whoever documents them.
pub const MISSING_CODES: [MissingCode; 5] = MissingCode::ALL;
