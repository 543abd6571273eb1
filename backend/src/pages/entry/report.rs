//! What a dose report offers while a case is entered. A person compares it with the console and
//! takes it field by field; nothing else of the file outlives the answer.

use actix_web::web;
use maud::{Markup, Render, html};
use quietbeam_schema::case::case_variables;
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::entries::Entries;

use super::field::becomes;
use crate::api::Problem;
use crate::intake::dose_report::{DoseReportProblem, Offer, OfferedField, read};
use crate::pages::form::Posted;
use crate::pages::shown::{entered, unit_sign};
use crate::pages::upload::File;

/// What came of a file.
pub(in crate::pages) enum Report {
    /// What it offers.
    Offers(Offer),
    /// Why it is not taken as a dose report.
    Refused(String),
}

impl Report {
    /// Reads a file; `None` where the form was sent without one.
    pub(in crate::pages) async fn of(file: Option<File>) -> Result<Option<Self>, Problem> {
        let refused = |problem: DoseReportProblem| Self::Refused(problem.to_string());
        let bytes = match file {
            None => return Ok(None),
            Some(File::TooLarge) => return Ok(Some(refused(DoseReportProblem::TooLarge))),
            Some(File::Held(bytes)) if bytes.is_empty() => {
                let sentence = "Choose the file of the dose report first, then have it read.";
                return Ok(Some(Self::Refused(sentence.to_owned())));
            }
            Some(File::Held(bytes)) => bytes,
        };
        let offer = web::block(move || read(&bytes)?.offer()).await.map_err(|_| Problem::busy())?;
        Ok(Some(offer.map_or_else(refused, Self::Offers)))
    }

    /// What it offers for a field, beside the field.
    pub(super) fn beside(&self, variable: &Variable, entries: &Entries) -> Option<Markup> {
        let Report::Offers(offer) = self else { return None };
        let offered = offer.fields.iter().find(|offered| offered.field == variable.key)?;
        let theirs = entries_of(offered);
        let said = entered(variable, &theirs)?;
        let same = match becomes(variable, &theirs) {
            Some(canonical) => becomes(variable, entries) == Some(canonical),
            None => entries.given(variable.key) == Some(offered.value.as_str()),
        };
        Some(html! {
            // The page's script leaves it where it stands until it is taken.
            p.offer data-own {
                @if same {
                    "The report says the same: " b { (said) } "."
                } @else {
                    "The report says " b { (said) } ". "
                    label { input type="checkbox" name={ "take-" (offered.field) } value="yes"; span { "Take it" } }
                }
            }
        })
    }
}

fn entries_of(offered: &OfferedField) -> Entries {
    let mut entries = Entries::default();
    entries.put(offered.field, offered.value.as_str());
    if let Some(unit) = offered.unit {
        entries.put(format!("{}_unit", offered.field), unit);
    }
    entries
}

/// The columns of the fields that were taken of the last report that was read.
pub(super) fn taken(posted: &Posted) -> Vec<(String, String)> {
    let all = posted.one("do") == TAKE_ALL;
    let fields = case_variables().into_iter().filter(|variable| {
        let ticked = all || posted.one(&format!("take-{}", variable.key)) == "yes";
        ticked && !posted.one(&offered_name(variable.key)).is_empty()
    });
    let columns = fields.flat_map(|variable| variable.columns().collect::<Vec<_>>());
    columns
        .map(|key| (posted.one(&offered_name(&key)).to_owned(), key))
        .map(|(text, key)| (key, text))
        .collect()
}

/// What the button says that takes everything.
const TAKE_ALL: &str = "take_all";

/// The name under which the page sends again what was offered.
fn offered_name(key: &str) -> String {
    format!("offered-{key}")
}

/// The place in the section on X-ray where a file is given, and what came of it.
pub(super) struct ReportPlace<'a> {
    /// Where the form with its file is sent.
    pub(super) to: &'a str,
    /// What came of the last file.
    pub(super) report: Option<&'a Report>,
    /// Whether the case's X-ray fields are asked; otherwise nothing can be taken.
    pub(super) beam_on: bool,
}

impl Render for ReportPlace<'_> {
    fn render(&self) -> Markup {
        let refused = match self.report {
            Some(Report::Refused(sentence)) => Some(sentence),
            _ => None,
        };
        html! {
            div class=(if refused.is_some() { "field must-be-mended" } else { "field" }) id="dose-report" {
                span.mark {}
                label.label for="dose-report-file" { "Dose report" span.second { "of the X-ray system" } }
                div.control {
                    div.controls {
                        input.input.file type="file" id="dose-report-file" name="report" accept=".dcm,application/dicom"
                            aria-describedby=[refused.map(|_| "dose-report-message")] aria-invalid=[refused.map(|_| "true")];
                        button.button type="submit" name="do" value="report" formaction=(self.to) formenctype="multipart/form-data" {
                            "Read it"
                        }
                    }
                    @if let Some(sentence) = refused {
                        p.message id="dose-report-message" { b { "Must be mended." } " " (sentence) }
                    }
                    @if let Some(Report::Offers(offer)) = self.report { (self.offer(offer)) }
                }
                div.note { "A radiation dose structured report (DICOM). It is read and forgotten: only what you take is kept." }
            }
        }
    }
}

impl ReportPlace<'_> {
    fn offer(&self, offer: &Offer) -> Markup {
        html! {
            div.offered role="status" {
                @for plane in &offer.planes {
                    p.plane { b { "Totals, " (plane.plane) } }
                    dl.totals {
                        @for total in &plane.totals {
                            div { dt { (total.total) } dd { (total.value) " " (sign(total.unit)) } }
                        }
                    }
                }
                @for note in &offer.notes { p.note-line { b { "To know." } " " (note) } }
                p.quiet { "Compare with the console. Air kerma at the reference point is not skin dose." }
                @if self.beam_on {
                    button.button type="submit" name="do" value=(TAKE_ALL) { "Take all of it" }
                    p.quiet { "Or tick single figures beside their fields, and save." }
                } @else {
                    p { b { "Say first that X-ray was used." } " Without it every dose is 0, and nothing of the report can be taken." }
                    button.button type="submit" name="do" value=(TAKE_ALL) { "X-ray was used as chosen above: take all of it" }
                }
                @for offered in &offer.fields {
                    input type="hidden" name=(offered_name(offered.field)) value=(offered.value);
                    @if let Some(unit) = offered.unit {
                        input type="hidden" name=(offered_name(&format!("{}_unit", offered.field))) value=(unit);
                    }
                }
            }
        }
    }
}

/// A unit of a total as people write it.
fn sign(ucum: &'static str) -> &'static str {
    match ucum {
        "Gy.cm2" => "Gy·cm²",
        "1" => "",
        other => unit_sign(other),
    }
}
