//! A file given back with its problems in a column of their own, written as it came. A cell
//! that a spreadsheet would take for a formula is given back as text.

use encoding_rs::WINDOWS_1252;
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::value::Kind;
use rust_xlsxwriter::{Workbook, Worksheet, XlsxError};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io;

use super::guard::{guarded, unguarded};
use super::layout::Encoding;
use super::staged::{Staged, holds};
use super::withheld::{Holds, NOT_KEPT, is_number};

/// The header of the column that says what must be mended. A file that comes back with it is
/// read as if it were not there.
pub(super) const PROBLEMS: &str = "to mend";

/// What is wrong, by row.
pub type Marked = BTreeMap<u64, Vec<String>>;

/// A cell that no spreadsheet takes for a formula, and that is read again as what it was.
fn given_back(holds: Option<Holds>, cell: &str) -> String {
    match holds {
        Some(Holds::Value(Variable { kind: Kind::Text { .. }, .. })) => guarded(&unguarded(cell)),
        Some(Holds::Reason) | None => guarded(cell),
        // A number stays one; nothing else that is right begins like a formula.
        Some(_) if cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && !is_number(cell) => {
            format!("'{cell}")
        }
        Some(_) => cell.to_owned(),
    }
}

/// A cell as it was before [`given_back`].
pub(super) fn as_it_was(holds: Holds, cell: &str) -> Cow<'_, str> {
    match holds {
        // The reading of a free text takes the guard away itself.
        Holds::Value(Variable { kind: Kind::Text { .. }, .. }) => Cow::Borrowed(cell),
        Holds::Reason => Cow::Owned(unguarded(cell)),
        _ => match cell.strip_prefix('\'') {
            Some(rest) if rest.starts_with(['=', '+', '-', '@']) => Cow::Borrowed(rest),
            _ => Cow::Borrowed(cell),
        },
    }
}

impl Staged {
    /// The file as it came, with the problems of each row in a last column.
    ///
    /// # Errors
    /// When the text is no longer what was written.
    pub fn marked(&self, problems: &Marked) -> io::Result<Vec<u8>> {
        let delimiter = u8::try_from(self.layout.delimiter).unwrap_or(b',');
        let mut out = csv::WriterBuilder::new().delimiter(delimiter).flexible(true).from_writer(Vec::new());
        let kind = self.layout.kind;
        let columns: Vec<Option<Holds>> =
            self.layout.columns.iter().map(|column| holds(kind, &column.key)).collect();
        self.lines(problems, |cells| {
            let of = |place: usize| columns.get(place).copied().flatten();
            let cells = cells.iter().enumerate().map(|(place, cell)| given_back(of(place), cell));
            Ok(out.write_record(cells)?)
        })?;
        let bytes = out.into_inner().map_err(|error| io::Error::other(error.to_string()))?;
        match self.layout.encoding {
            Encoding::Utf8 => Ok(bytes),
            Encoding::Windows1252 => {
                let text = String::from_utf8(bytes).map_err(io::Error::other)?;
                Ok(WINDOWS_1252.encode(&text).0.into_owned())
            }
        }
    }

    fn lines(&self, problems: &Marked, mut write: impl FnMut(&[String]) -> io::Result<()>) -> io::Result<()> {
        let mut head: Vec<String> = self.layout.columns.iter().map(|column| column.given.clone()).collect();
        let width = head.len();
        head.push(PROBLEMS.to_owned());
        write(&head)?;
        self.each(|row, record| {
            let kept = |text: &str| if text == NOT_KEPT { String::new() } else { text.to_owned() };
            let mut cells: Vec<String> = record.iter().take(width).map(kept).collect();
            cells.resize(width, String::new());
            cells.push(problems.get(&row).map(|all| all.join(" ")).unwrap_or_default());
            write(&cells)
        })
    }
}

/// Sheets of a workbook as they came, each with its problems in a last column.
///
/// # Errors
/// When a text is no longer what was written, or is larger than a workbook takes.
pub fn marked_workbook(files: &[(&Staged, Marked)]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    for (staged, problems) in files {
        let sheet = workbook.add_worksheet().set_name(staged.layout.kind.to_string())?;
        let mut row = 0;
        let mut trouble = None;
        let read = staged.lines(problems, |cells| {
            trouble = trouble.take().or(write_row(sheet, row, cells).err());
            row += 1;
            Ok(())
        });
        read.map_err(XlsxError::IoError)?;
        if let Some(trouble) = trouble {
            return Err(trouble);
        }
    }
    workbook.save_to_buffer()
}

/// Every cell is written as text, which no spreadsheet computes.
fn write_row(sheet: &mut Worksheet, row: u32, cells: &[String]) -> Result<(), XlsxError> {
    for (place, cell) in (0_u16..).zip(cells) {
        sheet.write_string(row, place, cell)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::FileKind;

    #[test]
    fn a_formula_becomes_text_and_is_read_again_as_what_it_was() {
        let kap = holds(FileKind::Cases, "kap");
        for (holds, text, expected) in [
            (Some(Holds::Reason), "=1+1", "'=1+1"),
            (Some(Holds::Reason), "+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
            (kap, "@SUM(A1)", "'@SUM(A1)"),
            (kap, "-2.5", "-2.5"),
            (kap, "-2,5", "-2,5"),
            (None, "=1+1", "'=1+1"),
        ] {
            assert_eq!(given_back(holds, text), expected);
            if let Some(holds) = holds {
                assert_eq!(as_it_was(holds, expected), text);
            }
        }
    }
}
