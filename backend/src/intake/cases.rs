//! Case rows joined with what belongs to them, one case in memory at a time.

use super::FileKind;
use super::parts::{Leftover, OfCase, Parts};
use super::problem::{At, Problem};
use super::source::Files;
use super::table::{Table, TableRow};
use super::trouble::{IntakeError, RowTrouble};
use quietbeam_schema::case::{CaseForm, Checked};
use quietbeam_schema::finding::{Finding, Part};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::{FieldValue, ScreenedText};
use std::collections::HashMap;

/// One case with everything that belongs to it.
pub struct Row {
    /// Where the case stands.
    pub at: At,
    /// Its code, if the row names one that can be read.
    pub code: Option<CaseCode>,
    /// The case as given.
    pub form: CaseForm,
    /// Why a stored case changes, if the row says so.
    pub change_reason: Option<String>,
    /// Where each complication and the follow-up stand.
    pub places: Places,
    /// What is wrong with the rows themselves, apart from their fields.
    problems: Vec<Problem>,
}

/// Where the parts of one case stand in their files.
#[derive(Default)]
pub struct Places {
    /// The row of the case, if it is in the cases file.
    pub case: Option<At>,
    /// The row of each complication, in the record's order.
    pub complications: Vec<At>,
    /// The row of the follow-up.
    pub follow_up: Option<At>,
}

impl Places {
    /// Every row, with its file.
    pub fn iter(&self) -> impl Iterator<Item = (FileKind, At)> + '_ {
        let complications = self.complications.iter().map(|at| (FileKind::Complications, *at));
        let case = self.case.map(|at| (FileKind::Cases, at));
        case.into_iter().chain(complications).chain(self.follow_up.map(|at| (FileKind::FollowUps, at)))
    }

    /// The finding as a line about the row in which it can be mended.
    pub fn problem(&self, finding: Finding) -> Problem {
        let place = finding.places.into_iter().next();
        let of_part = match place.as_ref().map(|place| place.part) {
            Some(Part::Complication(position)) => {
                self.complications.get(position).map(|at| (FileKind::Complications, *at))
            }
            Some(Part::FollowUp) => self.follow_up.map(|at| (FileKind::FollowUps, at)),
            Some(Part::Case) | None => None,
        };
        // A finding about the case of rows that came without it stays with the first of them.
        let (file, at) = of_part.or_else(|| self.iter().next()).unwrap_or((FileKind::Cases, At::HEADER));
        // Lists within a case have no column of their own.
        let column = place
            .map(|place| place.key)
            .filter(|key| !matches!(key.as_str(), "" | "complications" | "follow_up"));
        Problem { file, at, column, rule: finding.rule, weight: finding.weight, sentence: finding.sentence }
    }
}

impl Row {
    /// Checks the case by every rule that looks at one case.
    ///
    /// # Errors
    /// Everything found, when at least one problem is hard.
    pub fn check(&self, today: Quarter) -> Result<Checked, Vec<Problem>> {
        self.check_as(&self.form, today)
    }

    /// Checks the row with another form in place of its own, such as one that
    /// was completed from what is stored.
    ///
    /// # Errors
    /// As for [`Self::check`].
    pub fn check_as(&self, form: &CaseForm, today: Quarter) -> Result<Checked, Vec<Problem>> {
        let mut problems = self.problems.clone();
        match form.check(today) {
            Ok(checked) if problems.is_empty() => Ok(checked),
            Ok(checked) => {
                problems.extend(checked.queries.into_iter().map(|finding| self.places.problem(finding)));
                Err(problems)
            }
            Err(findings) => {
                problems.extend(findings.into_iter().map(|finding| self.places.problem(finding)));
                Err(problems)
            }
        }
    }
}

/// A case row that cannot be taken whatever its fields say.
pub struct RefusedRow {
    /// What is wrong with it.
    pub problem: Problem,
    /// Rows of other files that cannot be taken without it.
    pub along: Vec<(FileKind, At)>,
}

/// What a row of the cases file turned out to be.
pub enum CaseRow {
    /// A case to check.
    Whole(Box<Row>),
    /// A row to refuse.
    Refused(RefusedRow),
}

/// The cases file, row by row.
pub struct CaseRows<'a> {
    table: Option<Table<'a>>,
    parts: &'a Parts,
    seen: HashMap<CaseCode, Seen>,
}

/// The first two rows in which a code stands.
struct Seen {
    first: At,
    second: Option<At>,
}

impl Seen {
    /// Another row with the same code.
    fn beside(&self, at: At) -> Option<At> {
        self.second.map(|second| if at == self.first { second } else { self.first })
    }
}

impl<'a> CaseRows<'a> {
    /// Opens the cases file, if there is one, to join it with `parts`. It is
    /// read through once for its codes, so that a code which stands twice is
    /// known at its first row, and a file to refuse whole before any row.
    ///
    /// # Errors
    /// When it is refused whole or cannot be read.
    pub fn open(files: &'a Files, parts: &'a Parts) -> Result<Self, IntakeError> {
        let seen = match files.table(FileKind::Cases)? {
            Some(table) => codes(table)?,
            None => HashMap::new(),
        };
        Ok(Self { table: files.table(FileKind::Cases)?, parts, seen })
    }

    /// The next case.
    ///
    /// # Errors
    /// When the file was changed meanwhile, or cannot be read.
    pub fn next_row(&mut self) -> Result<Option<CaseRow>, IntakeError> {
        let Some(table) = &mut self.table else { return Ok(None) };
        let Some(row) = table.next()? else { return Ok(None) };
        // A code that cannot be read is left to the check of the form.
        let code = row.code().and_then(|text| text.parse::<CaseCode>().ok());
        let (at, header, record) = match row {
            TableRow::Whole(at, header, record) => (at, header, record),
            TableRow::Ragged(_, problem) => return Ok(Some(refused(self.parts, code, problem))),
        };
        if let Some(other) = code.and_then(|code| self.seen.get(&code)).and_then(|seen| seen.beside(at)) {
            let problem = RowTrouble::CodeTwice(other).at(FileKind::Cases, at);
            return Ok(Some(refused(self.parts, code, problem)));
        }
        let mut row = Row {
            at,
            code,
            form: CaseForm::new(header.entries(record.iter()), Vec::new(), None),
            change_reason: header.reason(record).map(str::to_owned),
            places: Places { case: Some(at), ..Places::default() },
            problems: Vec::new(),
        };
        row.screen_change_reason();
        if let Some(code) = code {
            row.join(self.parts.of(code), self.parts.spoilt(code));
        }
        Ok(Some(CaseRow::Whole(Box::new(row))))
    }

    /// Complications and follow-ups whose case is not in the cases file.
    pub fn leftovers(&self) -> impl Iterator<Item = Leftover> {
        self.parts.leftovers(|code| self.seen.contains_key(&code))
    }
}

impl Row {
    fn screen_change_reason(&mut self) {
        let Some(reason) = &self.change_reason else { return };
        if let Err(problem) = ScreenedText::<500>::parse(reason) {
            self.problems.push(RowTrouble::ChangeReason(problem).at(FileKind::Cases, self.at));
        }
    }

    fn join(&mut self, of_case: OfCase, spoilt: Option<(FileKind, At)>) {
        if let Some(spoilt) = spoilt {
            self.problems.push(part_spoilt(spoilt, FileKind::Cases, self.at));
        }
        (self.places.complications, self.form.complications) = of_case.complications.into_iter().unzip();
        (self.places.follow_up, self.form.follow_up) = of_case.follow_up.unzip();
    }
}

fn part_spoilt((file, spoilt): (FileKind, At), about: FileKind, at: At) -> Problem {
    let what = match file {
        FileKind::FollowUps => "The follow-up",
        FileKind::Cases | FileKind::Complications => "A complication",
    };
    RowTrouble::PartSpoilt { what, at: spoilt }.at(about, at)
}

/// The codes of the file and where they stand.
fn codes(mut table: Table<'_>) -> Result<HashMap<CaseCode, Seen>, IntakeError> {
    let mut seen: HashMap<CaseCode, Seen> = HashMap::new();
    while let Some(row) = table.next()? {
        let at = row.at();
        let Some(Ok(code)) = row.code().map(str::parse) else { continue };
        seen.entry(code)
            .and_modify(|seen| seen.second = seen.second.or(Some(at)))
            .or_insert(Seen { first: at, second: None });
    }
    Ok(seen)
}

fn refused(parts: &Parts, code: Option<CaseCode>, problem: Problem) -> CaseRow {
    let along = code.map(|code| parts.of(code).places().iter().collect()).unwrap_or_default();
    CaseRow::Refused(RefusedRow { problem, along })
}

impl OfCase {
    /// Where its rows stand.
    pub fn places(&self) -> Places {
        Places {
            case: None,
            complications: self.complications.iter().map(|(at, _)| *at).collect(),
            follow_up: self.follow_up.as_ref().map(|(at, _)| *at),
        }
    }
}

impl Leftover {
    /// One line a row: there is no case to which it could belong. `place` says
    /// where a case was looked for.
    pub fn without_case(&self, place: &'static str) -> Vec<Problem> {
        let places = self.parts.places();
        let problems = places.iter().map(|(file, at)| {
            let what = if file == FileKind::FollowUps { "follow-up" } else { "complication" };
            RowTrouble::WithoutCase { what, place }.at(file, at)
        });
        problems.collect()
    }

    /// The refusal of the rows of which one cannot be taken.
    pub fn spoilt_problem(&self) -> Option<Problem> {
        let (file, at) = self.parts.places().iter().next()?;
        self.spoilt.map(|spoilt| part_spoilt(spoilt, file, at))
    }
}
