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
    /// Takes a form from JSON.
    ///
    /// # Errors
    /// A hard finding for each field that is unknown or of the wrong type.
    pub fn from_json(json: StrictJson) -> Result<Self, Vec<Finding>> {
        let whole = |sentence: &str| {
            vec![Finding::at(Place::new(Part::Case, ""), "json_type", Weight::Hard, sentence)]
        };
        let StrictJson::Object(fields) = json else {
            return Err(whole("A case is a JSON object with the dictionary's keys; send one."));
        };
        let mut form = Self::default();
        let mut findings = Vec::new();
        let mut own = Vec::new();
        for (key, value) in fields {
            match (key.as_str(), value) {
                ("complications", StrictJson::List(items)) => {
                    for (position, item) in items.into_iter().enumerate() {
                        match part_of(item, Part::Complication(position), &complication_variables()) {
                            Ok(entries) => form.complications.push(entries),
                            Err(found) => findings.extend(found),
                        }
                    }
                }
                ("complications", _) => findings.extend(whole("\"complications\" is a list of objects.")),
                ("follow_up", value) => match part_of(value, Part::FollowUp, &follow_up_variables()) {
                    Ok(entries) => form.follow_up = Some(entries),
                    Err(found) => findings.extend(found),
                },
                (_, value) => own.push((key, value)),
            }
        }
        match Entries::from_json(&own, Part::Case, &case_variables()) {
            Ok(entries) => form.case = entries,
            Err(found) => findings.extend(found),
        }
        if findings.is_empty() { Ok(form) } else { Err(findings) }
    }

    /// Takes a follow-up alone from JSON.
    ///
    /// # Errors
    /// A hard finding for each field that is unknown or of the wrong type.
    pub fn follow_up_from_json(json: StrictJson) -> Result<Entries, Vec<Finding>> {
        part_of(json, Part::FollowUp, &follow_up_variables())
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

    fn read(&self, findings: &mut Vec<Finding>) -> Option<CaseRecord> {
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

fn has_hard(findings: &[Finding]) -> bool {
    findings.iter().any(|finding| finding.weight == Weight::Hard)
}

fn read<S: Section>(part: Part, entries: &Entries, findings: &mut Vec<Finding>) -> Option<S> {
    let mut reader = Reader::new(part, entries);
    let section = S::read(&mut reader);
    findings.extend(reader.into_findings());
    section
}

fn part_of(json: StrictJson, part: Part, variables: &[&'static Variable]) -> Result<Entries, Vec<Finding>> {
    match json {
        StrictJson::Object(fields) => Entries::from_json(&fields, part, variables),
        _ => Err(vec![Finding::at(
            Place::new(part, ""),
            "json_type",
            Weight::Hard,
            "This part of a case is a JSON object with the dictionary's keys; send one.",
        )]),
    }
}
