//! Bounds on what is read, enforced before the text is split into fields, so
//! that no field, row or file of any size is ever held in memory whole.

use super::trouble::FileTrouble;
use std::io::{self, Cursor, Read};

/// The most that is taken.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Bytes of one field.
    pub field: usize,
    /// Bytes of one row.
    pub row: usize,
    /// Bytes of one file.
    pub file: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self { field: 64 * 1024, row: 256 * 1024, file: 64 * 1024 * 1024 }
    }
}

/// Where in the grammar of RFC 4180 the last byte stood.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    FieldStart,
    Plain,
    Quoted,
    /// After a quotation mark in a quoted field: its end, or half of a doubled mark.
    QuoteInQuoted,
}

/// A reader that ends with a [`FileTrouble`] where a bound is passed or the
/// bytes cannot be text. Everything before that place is still handed out, so
/// that the row can be named.
pub(super) struct Bounded<R> {
    source: io::Chain<Cursor<Vec<u8>>, R>,
    delimiter: u8,
    limits: Limits,
    place: Place,
    field: usize,
    row: usize,
    file: u64,
    trouble: Option<FileTrouble>,
}

impl<R: Read> Bounded<R> {
    /// Looks at the first bytes, which tell files that are no UTF-8 text.
    pub(super) fn new(mut source: R, delimiter: u8, limits: Limits) -> io::Result<Self> {
        let mut start = Vec::with_capacity(4);
        source.by_ref().take(4).read_to_end(&mut start)?;
        let trouble = match start.as_slice() {
            [b'P', b'K', 3, 4] => Some(FileTrouble::Workbook),
            [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => Some(FileTrouble::Utf16),
            _ => None,
        };
        if start.starts_with(&[0xEF, 0xBB, 0xBF]) {
            start.drain(..3);
        }
        let source = Cursor::new(start).chain(source);
        Ok(Self { source, delimiter, limits, place: Place::FieldStart, field: 0, row: 0, file: 0, trouble })
    }

    /// The first byte that must not be handed out, and why.
    fn scan(&mut self, bytes: &[u8]) -> Option<(usize, FileTrouble)> {
        bytes.iter().enumerate().find_map(|(position, byte)| Some((position, self.step(*byte)?)))
    }

    fn step(&mut self, byte: u8) -> Option<FileTrouble> {
        self.file += 1;
        self.row += 1;
        self.field += 1;
        self.place = match (self.place, byte) {
            (_, 0) => return Some(FileTrouble::Nul),
            (Place::Quoted, b'"') => Place::QuoteInQuoted,
            (Place::Quoted, _) => Place::Quoted,
            (Place::FieldStart | Place::QuoteInQuoted, b'"') => Place::Quoted,
            (_, byte) if byte == self.delimiter => {
                self.field = 0;
                Place::FieldStart
            }
            (_, b'\n' | b'\r') => {
                self.field = 0;
                self.row = 0;
                Place::FieldStart
            }
            _ => Place::Plain,
        };
        if self.file > self.limits.file {
            Some(FileTrouble::FileTooLong(self.limits.file))
        } else if self.field > self.limits.field {
            Some(FileTrouble::FieldTooLong(self.limits.field))
        } else {
            (self.row > self.limits.row).then_some(FileTrouble::RowTooLong(self.limits.row))
        }
    }
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if let Some(trouble) = self.trouble.take() {
            return Err(io::Error::other(trouble));
        }
        let read = self.source.read(out)?;
        if read == 0 && self.place == Place::Quoted {
            return Err(io::Error::other(FileTrouble::QuoteOpen));
        }
        match self.scan(&out[..read]) {
            None => Ok(read),
            Some((0, trouble)) => Err(io::Error::other(trouble)),
            Some((good, trouble)) => {
                self.trouble = Some(trouble);
                Ok(good)
            }
        }
    }
}
