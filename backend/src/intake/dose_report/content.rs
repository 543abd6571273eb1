//! The content tree of a structured report (PS3.3 C.17), read token by token
//! into a flat list that holds nothing but coded concepts and numbers.

use dicom_core::Tag;
use dicom_parser::StatefulDecode;
use dicom_parser::dataset::LazyDataToken;

use super::DoseReportProblem;
use super::concept::Concept;
use super::file::{Parts, pass_over, short_text};

const MODALITY: Tag = Tag(0x0008, 0x0060);
const CODE_VALUE: Tag = Tag(0x0008, 0x0100);
const CODING_SCHEME: Tag = Tag(0x0008, 0x0102);
const CONTENT: Tag = Tag(0x0040, 0xA730);
const CONCEPT_NAME: Tag = Tag(0x0040, 0xA043);
const CONCEPT_CODE: Tag = Tag(0x0040, 0xA168);
const MEASURED_VALUE: Tag = Tag(0x0040, 0xA300);
const NUMERIC_VALUE: Tag = Tag(0x0040, 0xA30A);
const UNITS: Tag = Tag(0x0040, 0x08EA);
const PIXEL_DATA: Tag = Tag(0x7FE0, 0x0010);

/// Deepest nesting of sequences and items; the templates need about a dozen.
const DEEPEST: usize = 64;
/// Most content items; a report has some thirty an irradiation.
const MOST_ITEMS: usize = 200_000;

/// A number of the report, as written.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Number {
    /// The digits.
    pub(super) value: Option<String>,
    /// The unit, when it is coded in UCUM.
    pub(super) unit: Option<String>,
}

/// One content item; the report itself is the first.
#[derive(Clone, Debug, Default)]
pub(super) struct Item {
    /// Place of the item that contains it.
    pub(super) parent: Option<usize>,
    /// What it is about.
    pub(super) concept: Option<Concept>,
    /// What it says, when it says a code.
    pub(super) code: Option<Concept>,
    /// What it says, when it says a number.
    pub(super) number: Option<Number>,
}

/// Where the walk is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Place {
    /// In a content item.
    Item(usize),
    /// In a sequence of a content item.
    Sequence(usize, Part),
    /// In the one entry of such a sequence.
    Entry(usize, Part),
    /// In something that is passed over.
    Elsewhere { sequence: bool },
}

/// A sequence of a content item that is read.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Part {
    Content,
    Name,
    Code,
    Measured,
    Unit,
}

/// All content items in the order of the file.
pub(super) fn walk(parts: &Parts<'_>) -> Result<Vec<Item>, DoseReportProblem> {
    let mut tokens = parts.tokens()?;
    let mut walk = Walk::default();
    while let Some(token) = tokens.advance() {
        walk.take(token.map_err(|_| DoseReportProblem::Truncated)?)?;
    }
    // A value that ran over the end of the file is passed over without a word by the library.
    let read = tokens.into_decoder().position();
    if walk.places.len() > 1 || read > parts.data_set.len() as u64 {
        return Err(DoseReportProblem::Truncated);
    }
    if !walk.is_report {
        return Err(DoseReportProblem::NotStructuredReport);
    }
    Ok(walk.items)
}

struct Walk {
    items: Vec<Item>,
    places: Vec<Place>,
    /// Code value and scheme of the entry being read.
    code: (Option<String>, Option<String>),
    is_report: bool,
}

impl Default for Walk {
    fn default() -> Self {
        Self {
            items: vec![Item::default()],
            places: vec![Place::Item(0)],
            code: (None, None),
            is_report: false,
        }
    }
}

impl Walk {
    fn place(&self) -> Place {
        self.places.last().copied().unwrap_or(Place::Elsewhere { sequence: false })
    }

    fn take<D: StatefulDecode>(&mut self, token: LazyDataToken<D>) -> Result<(), DoseReportProblem> {
        match token {
            LazyDataToken::SequenceStart { tag, .. } => self.begin_sequence(tag),
            LazyDataToken::ItemStart { .. } => self.begin_entry(),
            LazyDataToken::SequenceEnd => self.end(true),
            LazyDataToken::ItemEnd => self.end(false),
            LazyDataToken::PixelSequenceStart => Err(DoseReportProblem::Image),
            LazyDataToken::LazyValue { header, .. } => self.value(header.tag, token),
            LazyDataToken::LazyItemValue { .. } => pass_over(token),
            _ => Ok(()),
        }
    }

    fn go(&mut self, place: Place) -> Result<(), DoseReportProblem> {
        if self.places.len() >= DEEPEST {
            return Err(DoseReportProblem::Unreasonable);
        }
        self.places.push(place);
        Ok(())
    }

    fn begin_sequence(&mut self, tag: Tag) -> Result<(), DoseReportProblem> {
        let part = |item, part| Place::Sequence(item, part);
        self.go(match (self.place(), tag) {
            (Place::Item(item), CONTENT) => part(item, Part::Content),
            (Place::Item(item), CONCEPT_NAME) => part(item, Part::Name),
            (Place::Item(item), CONCEPT_CODE) => part(item, Part::Code),
            (Place::Item(item), MEASURED_VALUE) => part(item, Part::Measured),
            (Place::Entry(item, Part::Measured), UNITS) => part(item, Part::Unit),
            _ => Place::Elsewhere { sequence: true },
        })
    }

    fn begin_entry(&mut self) -> Result<(), DoseReportProblem> {
        let place = match self.place() {
            Place::Sequence(parent, Part::Content) => {
                if self.items.len() >= MOST_ITEMS {
                    return Err(DoseReportProblem::Unreasonable);
                }
                self.items.push(Item { parent: Some(parent), ..Item::default() });
                Place::Item(self.items.len() - 1)
            }
            Place::Sequence(item, part) => {
                self.code = (None, None);
                Place::Entry(item, part)
            }
            Place::Elsewhere { sequence: true } => Place::Elsewhere { sequence: false },
            _ => return Err(DoseReportProblem::Broken),
        };
        self.go(place)
    }

    /// Leaves a sequence or an entry. A close without its opening is refused at once: the
    /// library would go on and end the process.
    fn end(&mut self, sequence: bool) -> Result<(), DoseReportProblem> {
        let left = if self.places.len() > 1 { self.places.pop() } else { None };
        let left = left.ok_or(DoseReportProblem::Broken)?;
        let is_sequence = matches!(left, Place::Sequence(..) | Place::Elsewhere { sequence: true });
        if is_sequence != sequence {
            return Err(DoseReportProblem::Broken);
        }
        if let Place::Entry(item, part) = left {
            self.keep(item, part);
        }
        Ok(())
    }

    fn keep(&mut self, item: usize, part: Part) {
        let (Some(value), Some(scheme)) = std::mem::take(&mut self.code) else { return };
        let Some(item) = self.items.get_mut(item) else { return };
        match part {
            Part::Name => item.concept = Concept::of(&value, &scheme),
            Part::Code => item.code = Concept::of(&value, &scheme),
            Part::Unit if scheme == "UCUM" => item.number.get_or_insert_default().unit = Some(value),
            Part::Unit | Part::Measured | Part::Content => {}
        }
    }

    fn value<D: StatefulDecode>(
        &mut self,
        tag: Tag,
        token: LazyDataToken<D>,
    ) -> Result<(), DoseReportProblem> {
        match (self.place(), tag) {
            (Place::Item(0), MODALITY) => match short_text(token)?.as_deref() {
                Some("SR") => self.is_report = true,
                Some("XA" | "RF" | "CT" | "MR" | "US" | "CR" | "DX" | "IVUS" | "MG" | "NM" | "PT" | "OT") => {
                    return Err(DoseReportProblem::Image);
                }
                _ => return Err(DoseReportProblem::NotStructuredReport),
            },
            (Place::Item(0), PIXEL_DATA) => return Err(DoseReportProblem::Image),
            (Place::Entry(_, Part::Name | Part::Code | Part::Unit), CODE_VALUE) => {
                self.code.0 = short_text(token)?;
            }
            (Place::Entry(_, Part::Name | Part::Code | Part::Unit), CODING_SCHEME) => {
                self.code.1 = short_text(token)?;
            }
            (Place::Entry(item, Part::Measured), NUMERIC_VALUE) => {
                let value = short_text(token)?;
                if let Some(item) = self.items.get_mut(item) {
                    item.number.get_or_insert_default().value = value;
                }
            }
            _ => pass_over(token)?,
        }
        Ok(())
    }
}
