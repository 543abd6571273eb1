//! The sheets of an OpenDocument workbook (.ods, ISO/IEC 26300; OASIS OpenDocument 1.3, part 3).
//! It is read as a stream: a cell or a row may say that it is repeated millions of times, and a
//! reader that lays them out needs gigabytes for a few bytes.

use super::sheet::{DAY_OR_TIME, Sheet, WIDEST};
use super::{Archive, WorkbookTrouble, kind_of};
use crate::intake::Files;
use crate::intake::bounds::Limits;
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesRef, BytesStart, Event};
use quick_xml::name::ResolveResult::{self, Bound};
use quick_xml::name::{Namespace, NamespaceResolver};
use quick_xml::{NsReader, XmlVersion};
use std::io::{BufReader, Read};

/// The part that holds the sheets.
const CONTENT: &str = "content.xml";
/// The list of parts, which says how locked ones were locked.
const MANIFEST: &str = "META-INF/manifest.xml";

const OFFICE: Namespace<'_> = Namespace("urn:oasis:names:tc:opendocument:xmlns:office:1.0");
const TABLE: Namespace<'_> = Namespace("urn:oasis:names:tc:opendocument:xmlns:table:1.0");
const TEXT: Namespace<'_> = Namespace("urn:oasis:names:tc:opendocument:xmlns:text:1.0");

/// Deepest nesting; a cell of a real workbook lies some ten deep.
const DEEPEST: usize = 100;

/// Whether these are the parts of an OpenDocument file.
pub(super) fn is_one(archive: &Archive<'_>) -> bool {
    archive.index_for_name(CONTENT).is_some()
}

/// Reads the sheets of known names.
pub(super) fn read(archive: &mut Archive<'_>) -> Result<Files, WorkbookTrouble> {
    if is_locked(archive)? {
        return Err(WorkbookTrouble::OldOrLocked);
    }
    let content = archive.by_name(CONTENT).map_err(|_| WorkbookTrouble::Damaged)?;
    let mut reader = NsReader::from_reader(BufReader::new(content));
    reader.config_mut().expand_empty_elements = true;
    let mut reading = Reading::default();
    let mut buffer = Vec::new();
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer).map_err(|_| WorkbookTrouble::Damaged)? {
            Event::Start(element) => reading.open(&Element { element, names: reader.resolver() })?,
            Event::End(_) => reading.close()?,
            Event::Text(text) => reading.write(&text.xml10_content()),
            Event::CData(text) => reading.write(&text.xml10_content()),
            Event::GeneralRef(entity) => reading.write(character(&entity)?.encode_utf8(&mut [0; 4])),
            Event::Eof => return reading.end(),
            Event::Empty(_) | Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => {}
        }
    }
}

/// Whether a part is locked with a password: its entry in the manifest then says how.
fn is_locked(archive: &mut Archive<'_>) -> Result<bool, WorkbookTrouble> {
    let Some(manifest) = archive.index_for_name(MANIFEST) else { return Ok(false) };
    let mut text = Vec::new();
    let mut part = archive.by_index(manifest).map_err(|_| WorkbookTrouble::Damaged)?;
    part.read_to_end(&mut text).map_err(|_| WorkbookTrouble::Damaged)?;
    Ok(text.windows(15).any(|word| word == b"encryption-data"))
}

/// The character that an entity stands for. A file's own entities are not taken: they can grow
/// without end.
fn character(entity: &BytesRef<'_>) -> Result<char, WorkbookTrouble> {
    let number = entity.resolve_char_ref().map_err(|_| WorkbookTrouble::Damaged)?;
    let named = || resolve_xml_entity(entity).and_then(|text| text.chars().next());
    number.or_else(named).ok_or(WorkbookTrouble::Damaged)
}

/// An element that begins.
struct Element<'e> {
    element: BytesStart<'e>,
    names: &'e NamespaceResolver,
}

impl Element<'_> {
    fn name(&self) -> (ResolveResult<'_>, &str) {
        let (namespace, local) = self.names.resolve_element(self.element.name());
        (namespace, local.into_inner())
    }

    fn attribute(&self, of: Namespace<'_>, name: &str) -> Result<Option<String>, WorkbookTrouble> {
        for attribute in self.element.attributes() {
            let attribute = attribute.map_err(|_| WorkbookTrouble::Damaged)?;
            let (namespace, local) = self.names.resolve_attribute(attribute.key);
            if namespace == Bound(of) && local.into_inner() == name {
                let value = attribute.normalized_value(XmlVersion::Implicit1_0);
                return value.map(|value| Some(value.into_owned())).map_err(|_| WorkbookTrouble::Damaged);
            }
        }
        Ok(None)
    }

    /// How many times a row or a cell stands there.
    fn repeated(&self, name: &str) -> Result<u32, WorkbookTrouble> {
        match self.times(TABLE, name)? {
            0 => Err(WorkbookTrouble::Damaged),
            times => Ok(times),
        }
    }

    /// A number of times; once, where nothing is said.
    fn times(&self, of: Namespace<'_>, name: &str) -> Result<u32, WorkbookTrouble> {
        let Some(said) = self.attribute(of, name)? else { return Ok(1) };
        said.parse().map_err(|_| WorkbookTrouble::Damaged)
    }

    /// The value of a cell, where it is not what its paragraphs show.
    fn value(&self) -> Result<Option<String>, WorkbookTrouble> {
        match self.attribute(OFFICE, "value-type")?.as_deref() {
            Some("float" | "percentage" | "currency") => {
                let said = self.attribute(OFFICE, "value")?.ok_or(WorkbookTrouble::Damaged)?;
                let number: f64 = said.parse().map_err(|_| WorkbookTrouble::Damaged)?;
                Ok(Some(number.to_string()))
            }
            Some("date" | "time") => Ok(Some(DAY_OR_TIME.to_owned())),
            Some("boolean") => self.attribute(OFFICE, "boolean-value"),
            Some("string") => self.attribute(OFFICE, "string-value"),
            _ => Ok(None),
        }
    }
}

/// Where in the document the reader stands. Whatever is not named here lies aside and is not
/// read: remarks on a cell, drawings, tracked changes, tables linked from elsewhere, and what a
/// merged cell hides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Outside,
    Document,
    Body,
    Workbook,
    Sheet,
    Rows,
    Row,
    Cell,
    Covered,
    Paragraph,
    Aside,
}

impl Place {
    /// Where an element of this name leads to from here.
    fn inner(self, name: &(ResolveResult<'_>, &str)) -> Self {
        match (self, name) {
            (Self::Outside, (Bound(OFFICE), "document-content")) => Self::Document,
            (Self::Document, (Bound(OFFICE), "body")) => Self::Body,
            (Self::Body, (Bound(OFFICE), "spreadsheet")) => Self::Workbook,
            (Self::Workbook, (Bound(TABLE), "table")) => Self::Sheet,
            (
                Self::Sheet | Self::Rows,
                (Bound(TABLE), "table-rows" | "table-header-rows" | "table-row-group"),
            ) => Self::Rows,
            (Self::Sheet | Self::Rows, (Bound(TABLE), "table-row")) => Self::Row,
            (Self::Row, (Bound(TABLE), "table-cell")) => Self::Cell,
            (Self::Row, (Bound(TABLE), "covered-table-cell")) => Self::Covered,
            (Self::Cell, (Bound(TEXT), "p" | "h")) => Self::Paragraph,
            (Self::Paragraph, (Bound(TEXT), within)) if !matches!(*within, "note" | "ruby-text") => {
                Self::Paragraph
            }
            _ => Self::Aside,
        }
    }
}

/// A row that is being read.
#[derive(Default)]
struct Row {
    /// How many times it stands there.
    times: u32,
    /// Its cells that hold anything, by column.
    filled: Vec<(u32, String)>,
    /// The column of the cell that is being read.
    column: u32,
    cell: Cell,
}

/// A cell that is being read.
#[derive(Default)]
struct Cell {
    /// How many columns of the row it fills.
    times: u32,
    value: Option<String>,
    /// What its paragraphs show.
    shown: String,
}

#[derive(Default)]
struct Reading {
    files: Files,
    /// From the outermost element inwards.
    path: Vec<Place>,
    is_workbook: bool,
    sheet: Option<Sheet>,
    /// The number of the row that is being read, from 0.
    number: u32,
    row: Row,
}

impl Reading {
    fn place(&self) -> Place {
        self.path.last().copied().unwrap_or(Place::Outside)
    }

    fn open(&mut self, element: &Element<'_>) -> Result<(), WorkbookTrouble> {
        if self.path.len() == DEEPEST {
            return Err(WorkbookTrouble::Damaged);
        }
        let name = element.name();
        let mut place = self.place().inner(&name);
        match place {
            Place::Workbook => self.is_workbook = true,
            Place::Sheet => {
                let kind = element.attribute(TABLE, "name")?.and_then(|name| kind_of(&name));
                self.number = 0;
                self.sheet = kind.map(Sheet::new);
                if kind.is_none() {
                    place = Place::Aside;
                }
            }
            Place::Row => {
                let times = element.repeated("number-rows-repeated")?;
                self.row = Row { times, ..Row::default() };
            }
            Place::Cell | Place::Covered => {
                let times = element.repeated("number-columns-repeated")?;
                let value = if place == Place::Cell { element.value()? } else { None };
                self.row.cell = Cell { times, value, shown: String::new() };
            }
            Place::Paragraph => match name.1 {
                "p" | "h" if !self.row.cell.shown.is_empty() => self.row.cell.show("\n"),
                "s" => {
                    let spaces = element.times(TEXT, "c")? as usize;
                    self.row.cell.show(&" ".repeat(spaces.min(Limits::default().field)));
                }
                "tab" | "line-break" => self.row.cell.show(" "),
                _ => {}
            },
            _ => {}
        }
        self.path.push(place);
        Ok(())
    }

    fn write(&mut self, text: &str) {
        if self.place() == Place::Paragraph {
            self.row.cell.show(text);
        }
    }

    fn close(&mut self) -> Result<(), WorkbookTrouble> {
        let left = self.path.pop();
        let Some(sheet) = &mut self.sheet else { return Ok(()) };
        match left {
            Some(Place::Cell | Place::Covered) => self.row.end_cell(sheet),
            Some(Place::Row) => {
                self.row.write(self.number, sheet)?;
                self.number = self.number.saturating_add(self.row.times);
                Ok(())
            }
            Some(Place::Sheet) => self.sheet.take().map_or(Ok(()), |sheet| self.files.take(sheet)),
            _ => Ok(()),
        }
    }

    fn end(self) -> Result<Files, WorkbookTrouble> {
        match (self.path.is_empty(), self.is_workbook) {
            (false, _) => Err(WorkbookTrouble::Damaged),
            (true, false) => Err(WorkbookTrouble::OtherKind),
            (true, true) => Ok(self.files),
        }
    }
}

impl Cell {
    /// Adds to what is shown, up to one letter more than a field may have: who reads the table
    /// then says which cell is too long.
    fn show(&mut self, text: &str) {
        if self.shown.len() <= Limits::default().field {
            self.shown.push_str(text);
        }
    }
}

impl Row {
    fn end_cell(&mut self, sheet: &Sheet) -> Result<(), WorkbookTrouble> {
        let Cell { times, value, shown } = std::mem::take(&mut self.cell);
        let text = value.unwrap_or(shown);
        let first = self.column;
        self.column = first.saturating_add(times);
        if text.trim().is_empty() {
            return Ok(());
        }
        if self.column > WIDEST {
            return Err(WorkbookTrouble::TooWide(sheet.kind()));
        }
        self.filled.extend((first..self.column).map(|column| (column, text.clone())));
        Ok(())
    }

    /// Writes the row as many times as it stands there; an empty one costs nothing.
    fn write(&self, first: u32, sheet: &mut Sheet) -> Result<(), WorkbookTrouble> {
        if self.filled.is_empty() {
            return Ok(());
        }
        for again in 0..self.times {
            // A row beyond 32 bits is a row beyond every sheet.
            let row = first.saturating_add(again);
            for (column, text) in &self.filled {
                sheet.put(row, *column, text)?;
            }
        }
        Ok(())
    }
}
