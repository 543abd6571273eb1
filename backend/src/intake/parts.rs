//! Complications and follow-ups, kept as compact text by case code until the
//! row of their case comes by.

use super::FileKind;
use super::header::Header;
use super::problem::At;
use super::report::Tally;
use super::source::Files;
use super::table::TableRow;
use super::trouble::{IntakeError, RowTrouble};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::ids::CaseCode;
use std::collections::BTreeMap;

/// Stands between the fields of a kept row. It is a control character that no
/// field may hold, see [`kept`].
const BETWEEN: char = '\u{1f}';

/// One row as text, a third the size of its parsed form.
struct Kept {
    code: CaseCode,
    at: At,
    text: Box<str>,
}

/// The rows of one file, sorted by case code and then by row.
struct Rows {
    header: Header,
    rows: Vec<Kept>,
}

/// The complications and follow-ups of one import.
#[derive(Default)]
pub struct Parts {
    complications: Option<Rows>,
    follow_ups: Option<Rows>,
    /// Cases with a row that cannot be taken, and the first such row.
    spoilt: BTreeMap<CaseCode, (FileKind, At)>,
}

/// What belongs to one case, apart from its own row.
#[derive(Default)]
pub struct OfCase {
    /// The complications, in the order of their rows.
    pub complications: Vec<(At, Entries)>,
    /// The follow-up, if any.
    pub follow_up: Option<(At, Entries)>,
}

/// Complications and a follow-up whose case is not in the cases file.
pub struct Leftover {
    /// The case they name.
    pub code: CaseCode,
    /// What belongs to it.
    pub parts: OfCase,
    /// A row of the same case that cannot be taken, so that none of it can.
    pub spoilt: Option<(FileKind, At)>,
}

impl Parts {
    /// Reads both files, as far as there are any, and tallies their rows.
    ///
    /// # Errors
    /// When one is refused whole or cannot be read.
    pub fn read(files: &Files, tally: &mut Tally) -> Result<Self, IntakeError> {
        let mut parts = Self::default();
        parts.complications = parts.take(files, FileKind::Complications, tally)?;
        parts.follow_ups = parts.take(files, FileKind::FollowUps, tally)?;
        parts.refuse_second_follow_ups(tally);
        Ok(parts)
    }

    fn take(
        &mut self,
        files: &Files,
        kind: FileKind,
        tally: &mut Tally,
    ) -> Result<Option<Rows>, IntakeError> {
        let Some(mut table) = files.table(kind)? else { return Ok(None) };
        let mut rows = Vec::new();
        while let Some(row) = table.next()? {
            tally.read(kind);
            match row {
                TableRow::Ragged(code, problem) => {
                    if let Some(Ok(code)) = code.map(str::parse::<CaseCode>) {
                        self.spoilt.entry(code).or_insert((kind, problem.at));
                    }
                    tally.add(problem);
                }
                TableRow::Whole(at, header, record) => match code_of(header.code(record)) {
                    Ok(code) => rows.push(Kept { code, at, text: kept(record.iter()) }),
                    Err(trouble) => tally.add(trouble.at(kind, at)),
                },
            }
        }
        rows.shrink_to_fit();
        rows.sort_by_key(|row| (row.code, row.at));
        Ok(Some(Rows { header: table.into_header(), rows }))
    }

    fn refuse_second_follow_ups(&mut self, tally: &mut Tally) {
        let Some(rows) = &self.follow_ups else { return };
        for same in rows.rows.chunk_by(|one, next| one.code == next.code).filter(|same| same.len() > 1) {
            let first = same[0].at;
            for row in &same[1..] {
                tally.add(RowTrouble::FollowUpTwice(first).at(FileKind::FollowUps, row.at));
                self.spoilt.entry(row.code).or_insert((FileKind::FollowUps, row.at));
            }
        }
    }

    /// What belongs to this case.
    pub(super) fn of(&self, code: CaseCode) -> OfCase {
        let rows = |rows: &Option<Rows>| rows.as_ref().map(|rows| rows.of(code)).unwrap_or_default();
        OfCase {
            complications: rows(&self.complications),
            follow_up: rows(&self.follow_ups).into_iter().next(),
        }
    }

    /// A row of this case that cannot be taken.
    pub(super) fn spoilt(&self, code: CaseCode) -> Option<(FileKind, At)> {
        self.spoilt.get(&code).copied()
    }

    /// Everything whose case `is_taken` does not know, by case code.
    pub(super) fn leftovers(&self, is_taken: impl Fn(CaseCode) -> bool) -> impl Iterator<Item = Leftover> {
        let mut codes: Vec<CaseCode> = [&self.complications, &self.follow_ups]
            .into_iter()
            .flatten()
            .flat_map(|rows| rows.rows.iter().map(|row| row.code))
            .filter(|code| !is_taken(*code))
            .collect();
        codes.sort_unstable();
        codes.dedup();
        codes.into_iter().map(|code| Leftover { code, parts: self.of(code), spoilt: self.spoilt(code) })
    }
}

impl Rows {
    fn of(&self, code: CaseCode) -> Vec<(At, Entries)> {
        let start = self.rows.partition_point(|row| row.code < code);
        self.rows[start..]
            .iter()
            .take_while(|row| row.code == code)
            .map(|row| (row.at, self.header.entries(row.text.split(BETWEEN))))
            .collect()
    }
}

/// Joins the fields. The separator within a field becomes another control
/// character: the reading of the field refuses either.
fn kept<'r>(fields: impl Iterator<Item = &'r str>) -> Box<str> {
    let mut text = String::new();
    for (position, field) in fields.enumerate() {
        if position > 0 {
            text.push(BETWEEN);
        }
        text.extend(field.chars().map(|c| if c == BETWEEN { '\u{1e}' } else { c }));
    }
    text.into_boxed_str()
}

fn code_of(text: Option<&str>) -> Result<CaseCode, RowTrouble> {
    text.ok_or(RowTrouble::CodeBlank)?.parse().map_err(RowTrouble::Code)
}
