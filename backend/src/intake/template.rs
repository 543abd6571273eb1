//! The workbook that a centre can fill in, made from the dictionary: the three
//! tables with drop-down lists, units and help, and the lists themselves.

use super::FileKind;
use super::header::{header, variables};
use quietbeam_schema::case::CASE_CODE;
use quietbeam_schema::dictionary::{Variable, column};
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::value::Kind;
use rust_xlsxwriter::{
    DataValidation, DocProperties, ExcelDateTime, Format, Formula, Note, Workbook, Worksheet, XlsxError,
};
use std::io::Write;

/// Rows that are ready to be filled in; further ones are read as well.
const ROWS: u32 = 2_000;
/// The sheet of the lists that the drop-downs offer.
const LISTS: &str = "lists";

/// The template as the bytes of an .xlsx file; the same bytes each time.
///
/// # Errors
/// When the dictionary holds something that a workbook cannot.
pub fn workbook_template() -> Result<Vec<u8>, XlsxError> {
    Book::new()?.workbook.save_to_buffer()
}

/// A workbook with the three tables, to which rows may be added. Its rows wait on disk, so
/// that memory does not grow with them.
pub(crate) struct Book {
    workbook: Workbook,
}

impl Book {
    /// One without any row.
    pub(crate) fn new() -> Result<Self, XlsxError> {
        let mut workbook = Workbook::new();
        workbook.set_properties(
            &DocProperties::new()
                .set_title("Cases for the registry")
                .set_comment("For research: not for an individual patient's care. Nothing in it may name a person, a date or a number of the hospital.")
                .set_creation_datetime(&ExcelDateTime::from_ymd(2026, 1, 1)?),
        );
        let mut lists = Lists::default();
        for kind in FileKind::ALL {
            table(workbook.add_worksheet_with_constant_memory()?, kind, &mut lists)?;
        }
        help(workbook.add_worksheet())?;
        lists.write(workbook.add_worksheet())?;
        Ok(Self { workbook })
    }

    /// The sheet of a table; its first row is the header, and rows only go down.
    pub(crate) fn sheet(&mut self, kind: FileKind) -> Result<&mut Worksheet, XlsxError> {
        self.workbook.worksheet_from_index(kind as usize)
    }

    /// Writes the whole workbook.
    pub(crate) fn save<W: Write + Send>(mut self, to: W) -> Result<(), XlsxError> {
        self.workbook.save_to_writer(to)
    }
}

/// The format of cells that no spreadsheet may take for a day or a formula.
pub(crate) fn as_text() -> Format {
    Format::new().set_num_format("@")
}

fn table(sheet: &mut Worksheet, kind: FileKind, lists: &mut Lists) -> Result<(), XlsxError> {
    let known = variables(kind);
    // As text, so that no spreadsheet turns a code such as 5_9 into a day or drops a zero.
    let (head, text) = (Format::new().set_bold().set_text_wrap(), as_text());
    sheet.set_name(kind.to_string())?.set_freeze_panes(1, 1)?;
    for (place, key) in (0_u16..).zip(header(kind)) {
        sheet.write_string_with_format(0, place, &key, &head)?;
        sheet.set_column_width(place, key.len().max(10) as f64 + 2.0)?;
        let Some((variable, is_unit)) = column(&known, &key) else { continue };
        let words = if is_unit { "The unit of the column before it.".to_owned() } else { told(variable) };
        sheet.insert_note(
            0,
            place,
            &Note::new(words).set_author("dictionary").set_width(320).set_height(150),
        )?;
        if !matches!(variable.kind, Kind::Whole { .. } | Kind::Decimal { .. })
            && (is_unit || !is_quantity(variable))
        {
            sheet.set_column_format(place, &text)?;
        }
        if let Some(list) = offered(variable, is_unit) {
            let rule = DataValidation::new()
                .allow_list_formula(lists.place_of(list))
                .ignore_blank(true)
                .set_error_title("Not in the list")?
                .set_error_message("Choose from the list; the codes are told in the sheet help.")?;
            sheet.add_data_validation(1, place, ROWS, place, &rule)?;
        }
    }
    Ok(())
}

fn is_quantity(variable: &Variable) -> bool {
    matches!(variable.kind, Kind::Quantity(_))
}

/// What a cell can hold, where that is one of a few words. Several codes in one
/// cell cannot be chosen from a list.
fn offered(variable: &Variable, is_unit: bool) -> Option<Vec<&'static str>> {
    match variable.kind {
        Kind::Quantity(dimension) if is_unit => Some(dimension.units.iter().map(|unit| unit.ucum).collect()),
        Kind::Code(list) => {
            let missing =
                MissingCode::ALL.into_iter().filter(|_| variable.missing_allowed).map(MissingCode::code);
            Some(list.codes.iter().map(|code| code.code).chain(missing).collect())
        }
        _ => None,
    }
}

fn told(variable: &Variable) -> String {
    let mut words = format!("{}. {}", variable.label, variable.help);
    match variable.kind {
        Kind::Codes(_) => words += " Several codes are separated by semicolons.",
        Kind::Quantity(_) => words += " Its unit stands in the next column.",
        _ if !variable.unit.is_empty() => words += &format!(" Unit: {}.", variable.unit),
        _ => {}
    }
    words
}

/// Every column in words.
fn help(sheet: &mut Worksheet) -> Result<(), XlsxError> {
    let (bold, wrap) = (Format::new().set_bold(), Format::new().set_text_wrap());
    sheet.set_name("help")?.set_freeze_panes(1, 0)?;
    for (place, (name, width)) in
        (0..).zip([("sheet", 16.0), ("column", 28.0), ("meaning", 80.0), ("codes", 80.0)])
    {
        sheet.write_string_with_format(0, place, name, &bold)?.set_column_width(place, width)?;
    }
    let mut row = 1;
    for kind in FileKind::ALL {
        for variable in std::iter::once(&CASE_CODE).filter(|_| kind != FileKind::Cases).chain(variables(kind))
        {
            let code = |list: &quietbeam_schema::vocabulary::CodeList| {
                let line =
                    |code: &quietbeam_schema::vocabulary::Code| format!("{} = {}", code.code, code.label);
                list.codes.iter().map(line).collect::<Vec<_>>().join("\n")
            };
            let codes = variable.codes().map(code).unwrap_or_default();
            for (place, text) in (0..).zip([kind.to_string(), variable.key.to_owned(), told(variable), codes])
            {
                sheet.write_string_with_format(row, place, text, &wrap)?;
            }
            row += 1;
        }
    }
    Ok(())
}

/// Lists that drop-downs offer; equal ones are kept once.
#[derive(Default)]
struct Lists(Vec<Vec<&'static str>>);

impl Lists {
    fn place_of(&mut self, list: Vec<&'static str>) -> Formula {
        let place = self.0.iter().position(|known| *known == list).unwrap_or(self.0.len());
        let last = list.len();
        if place == self.0.len() {
            self.0.push(list);
        }
        let name = letters(place);
        Formula::new(format!("={LISTS}!${name}$1:${name}${last}"))
    }

    fn write(&self, sheet: &mut Worksheet) -> Result<(), XlsxError> {
        sheet.set_name(LISTS)?.set_hidden(true);
        for (place, list) in (0_u16..).zip(&self.0) {
            for (row, code) in (0_u32..).zip(list) {
                sheet.write_string(row, place, *code)?;
            }
        }
        Ok(())
    }
}

/// A spreadsheet's name of a column.
fn letters(place: usize) -> String {
    let letter = |place: usize| char::from(b'A' + (place % 26) as u8);
    if place < 26 {
        letter(place).to_string()
    } else {
        format!("{}{}", letter(place / 26 - 1), letter(place))
    }
}
