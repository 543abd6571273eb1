//! From what a person gave to a case record, or to the list of what must be mended.

use super::{
    AcuteResult, Beam, CASE_CODE, CaseRecord, Complication, Exposure, FollowUp, Guidance, Identity, Patient,
    Procedure, ZEROS, case_variables, complication_variables, follow_up_variables,
};
use crate::dictionary::{Reader, Section, Variable};
use crate::entries::{Entries, StrictJson};
use crate::finding::{Finding, Part, Place, Weight};
use crate::ids::CaseCode;
use crate::period::Quarter;
use crate::reported::MissingCode;
use crate::rules;
use crate::value::FieldValue;
use crate::vocabulary::{Coded, FluoroUsed};

/// The most complications one case may list.
pub const MAX_COMPLICATIONS: usize = 20;

/// A case as a person gave it: from JSON, from rows of files, or from a page.
#[derive(Default, Clone, PartialEq, Eq)]
pub struct CaseForm {
    /// The case's own fields.
    pub case: Entries,
    /// The fields of each complication.
    pub complications: Vec<Entries>,
    /// The fields of the follow-up, if any was given.
    pub follow_up: Option<Entries>,
    /// What could not be taken from JSON at all.
    untaken: Vec<Finding>,
}

/// A case that may be stored, with what is still to answer.
pub struct Checked {
    /// The code that the form asked for, if any.
    pub code: Option<CaseCode>,
    /// The record.
    pub record: CaseRecord,
    /// Findings that raise a data query each.
    pub queries: Vec<Finding>,
}

impl CaseForm {
    /// A case from rows of files or from a page.
    pub fn new(case: Entries, complications: Vec<Entries>, follow_up: Option<Entries>) -> Self {
        Self { case, complications, follow_up, untaken: Vec::new() }
    }

    /// The fields of one part, if the form has it.
    pub fn part(&self, part: Part) -> Option<&Entries> {
        match part {
            Part::Case => Some(&self.case),
            Part::Complication(position) => self.complications.get(position),
            Part::FollowUp => self.follow_up.as_ref(),
        }
    }

    /// The same, to be changed.
    pub fn part_mut(&mut self, part: Part) -> Option<&mut Entries> {
        match part {
            Part::Case => Some(&mut self.case),
            Part::Complication(position) => self.complications.get_mut(position),
            Part::FollowUp => self.follow_up.as_mut(),
        }
    }

    /// The parts that this form or another has, in the order of the work.
    pub fn parts_beside(&self, other: &Self) -> Vec<Part> {
        let complications = self.complications.len().max(other.complications.len());
        let follow_up = self.follow_up.is_some() || other.follow_up.is_some();
        std::iter::once(Part::Case)
            .chain((0..complications).map(Part::Complication))
            .chain(follow_up.then_some(Part::FollowUp))
            .collect()
    }

    /// Takes a case from JSON. What cannot be taken is told by [`Self::check`],
    /// together with everything else that must be mended.
    pub fn from_json(json: StrictJson) -> Self {
        let mut form = Self::default();
        let mut own = Vec::new();
        for (key, value) in fields_of(json, Part::Case, &mut form.untaken) {
            match (key.as_str(), value) {
                ("complications", StrictJson::List(items)) => {
                    for (position, item) in items.into_iter().enumerate() {
                        let part = Part::Complication(position);
                        let fields = fields_of(item, part, &mut form.untaken);
                        let variables = complication_variables();
                        form.complications.push(Entries::from_json(
                            &fields,
                            part,
                            &variables,
                            &mut form.untaken,
                        ));
                    }
                }
                ("complications", _) => form.untaken.push(Finding::at(
                    Place::new(Part::Case, "complications"),
                    "json_type",
                    Weight::Hard,
                    "\"complications\" is a list of objects; send [] if there were none.",
                )),
                ("follow_up", value) => form.put_follow_up(value),
                (_, value) => own.push((key, value)),
            }
        }
        form.case = Entries::from_json(&own, Part::Case, &case_variables(), &mut form.untaken);
        form
    }

    /// Puts a follow-up from JSON in the place of the one there is.
    pub fn put_follow_up(&mut self, json: StrictJson) {
        let fields = fields_of(json, Part::FollowUp, &mut self.untaken);
        let entries = Entries::from_json(&fields, Part::FollowUp, &follow_up_variables(), &mut self.untaken);
        self.follow_up = Some(entries);
    }

    /// Checks the form by every rule that looks at one case. `today` is the
    /// current quarter, after which no case can have taken place.
    ///
    /// # Errors
    /// All findings, hard and query, when at least one is hard.
    pub fn check(&self, today: Quarter) -> Result<Checked, Vec<Finding>> {
        let mut findings = Vec::new();
        let code = self.read_code(&mut findings);
        let record = self.read(&mut findings);
        // What was not taken is also blank to the reader: told once.
        let untaken = |finding: &Finding| self.untaken.iter().any(|told| covers(told, finding));
        findings.retain(|finding| !untaken(finding));
        findings.splice(0..0, self.untaken.iter().cloned());
        let Some(record) = record.filter(|_| !has_hard(&findings)) else {
            return Err(findings);
        };
        rules::check(&record, today, &mut findings);
        if has_hard(&findings) { Err(findings) } else { Ok(Checked { code, record, queries: findings }) }
    }

    fn read_code(&self, findings: &mut Vec<Finding>) -> Option<CaseCode> {
        match CaseCode::parse(self.case.given(CASE_CODE.key)?) {
            Ok(code) => Some(code),
            Err(problem) => {
                let sentence = format!("{} {problem}.", CASE_CODE.label);
                findings.push(Finding::at(
                    Place::new(Part::Case, CASE_CODE.key),
                    "case_code",
                    Weight::Hard,
                    sentence,
                ));
                None
            }
        }
    }

    /// Reads every field; `None` leaves at least one hard finding.
    pub(crate) fn read(&self, findings: &mut Vec<Finding>) -> Option<CaseRecord> {
        let identity = read::<Identity>(Part::Case, &self.case, findings);
        let guidance = read::<Guidance>(Part::Case, &self.case, findings);
        let patient = read::<Patient>(Part::Case, &self.case, findings);
        let procedure = read::<Procedure>(Part::Case, &self.case, findings);
        let beam = self.read_beam(findings);
        let acute_result = read::<AcuteResult>(Part::Case, &self.case, findings);
        if self.complications.len() > MAX_COMPLICATIONS {
            findings.push(Finding::at(
                Place::new(Part::Case, "complications"),
                "too_many_complications",
                Weight::Hard,
                format!(
                    "{} complications are listed; {MAX_COMPLICATIONS} at the most.",
                    self.complications.len()
                ),
            ));
        }
        let complications: Option<Vec<_>> = self
            .complications
            .iter()
            .enumerate()
            .map(|(position, entries)| read::<Complication>(Part::Complication(position), entries, findings))
            .collect::<Vec<_>>()
            .into_iter()
            .collect();
        let follow_up = match &self.follow_up {
            Some(entries) => Some(read::<FollowUp>(Part::FollowUp, entries, findings)?),
            None => None,
        };
        Some(CaseRecord {
            identity: identity?,
            patient: patient?,
            guidance: guidance?,
            procedure: procedure?,
            beam: beam?,
            acute_result: acute_result?,
            complications: complications?,
            follow_up,
        })
    }

    fn read_beam(&self, findings: &mut Vec<Finding>) -> Option<Beam> {
        let used = FluoroUsed::from_code(self.case.given("fluoro_used")?)?;
        if used.beam_on() {
            return read::<Exposure>(Part::Case, &self.case, findings)
                .map(|exposure| Beam::On(Box::new(exposure)));
        }
        for variable in Exposure::VARIABLES {
            if let Some(text) =
                self.case.given(variable.key).filter(|text| !is_zero_or_absent(variable, text))
            {
                let said = if text.chars().all(|c| c.is_ascii_digit() || ".,:-".contains(c)) {
                    text
                } else {
                    "given"
                };
                findings.push(Finding {
                    rule: "beam_off_means_zero",
                    weight: Weight::Hard,
                    places: vec![Place::new(Part::Case, variable.key), Place::new(Part::Case, "fluoro_used")],
                    sentence: format!(
                        "{} is {said}, but fluoroscopy was not used; leave it blank, or correct whether the beam was on.",
                        variable.label
                    ),
                });
            }
        }
        Some(Beam::Off)
    }
}

/// Zero for a quantity that the beam makes zero, or a missing code, says
/// nothing against a beam that was never on.
fn is_zero_or_absent(variable: &Variable, text: &str) -> bool {
    let zero = ZEROS.iter().any(|(key, _)| *key == variable.key) || variable.key == "contrast_ml";
    (zero && text.parse() == Ok(0.0)) || MissingCode::from_code(text).is_some()
}

/// Whether what could not be taken is the found field or the whole part it is in.
fn covers(told: &Finding, found: &Finding) -> bool {
    told.places == found.places
        || told.places.iter().any(|place| {
            place.key.is_empty() && found.places.first().is_some_and(|other| other.part == place.part)
        })
}

fn has_hard(findings: &[Finding]) -> bool {
    findings.iter().any(|finding| finding.weight == Weight::Hard)
}

fn read<S: Section>(part: Part, entries: &Entries, findings: &mut Vec<Finding>) -> Option<S> {
    let mut reader = Reader::new(part, entries);
    let section = S::read(&mut reader);
    findings.extend(reader.into_findings());
    section
}

/// The fields of a JSON object; anything else leaves a finding.
fn fields_of(json: StrictJson, part: Part, findings: &mut Vec<Finding>) -> Vec<(String, StrictJson)> {
    match json {
        StrictJson::Object(fields) => fields,
        _ => {
            findings.push(Finding::at(
                Place::new(part, ""),
                "json_type",
                Weight::Hard,
                "A case, a complication and a follow-up are JSON objects with the dictionary's keys; send one.",
            ));
            Vec::new()
        }
    }
}
