//! How a text file is written: its encoding and what separates its columns.
//! Spreadsheets write what the country and the year suggest; nobody is asked.

use encoding_rs::WINDOWS_1252;
use serde::{Deserialize, Serialize};
use std::io::{self, Read};

/// How the bytes stand for letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Encoding {
    /// UTF-8, with or without a mark at its beginning.
    Utf8,
    /// One byte a letter, as older spreadsheets write western languages.
    Windows1252,
}

/// How a file is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Layout {
    pub(super) encoding: Encoding,
    /// What separates the columns.
    pub(super) delimiter: u8,
}

const CHUNK: usize = 64 * 1024;

impl Layout {
    /// Looks through a file, up to `most` bytes.
    pub(super) fn of(source: impl Read, most: u64) -> io::Result<Self> {
        let mut source = source.take(most);
        let mut letters = Letters::default();
        let mut separators = Separators::default();
        let mut chunk = vec![0; CHUNK];
        loop {
            let read = source.read(&mut chunk)?;
            if read == 0 {
                break;
            }
            letters.look(&chunk[..read]);
            separators.look(&chunk[..read]);
        }
        Ok(Self { encoding: letters.encoding(), delimiter: separators.most() })
    }
}

/// Which encodings the bytes seen so far can be.
#[derive(Default)]
struct Letters {
    /// The beginning of a sequence whose end is in the next chunk.
    begun: Vec<u8>,
    /// A sequence of several bytes that is UTF-8; text of one byte a letter hardly has one.
    seen_utf8: bool,
    broken_utf8: bool,
    /// A byte that Windows-1252 leaves without a letter, or that no text holds.
    no_letter: bool,
}

impl Letters {
    fn look(&mut self, bytes: &[u8]) {
        self.no_letter |= bytes.iter().any(|byte| matches!(byte, 0 | 0x81 | 0x8D | 0x8F | 0x90 | 0x9D));
        self.begun.extend_from_slice(bytes);
        let all = std::mem::take(&mut self.begun);
        let mut rest = all.as_slice();
        while !rest.is_empty() {
            match std::str::from_utf8(rest) {
                Ok(text) => {
                    self.seen_utf8 |= !text.is_ascii();
                    return;
                }
                Err(error) => {
                    let (good, bad) = rest.split_at(error.valid_up_to());
                    self.seen_utf8 |= !good.is_ascii();
                    match error.error_len() {
                        None => {
                            self.begun = bad.to_vec();
                            return;
                        }
                        Some(length) => {
                            self.broken_utf8 = true;
                            rest = &bad[length..];
                        }
                    }
                }
            }
        }
    }

    /// A file that is broken UTF-8 rather than another encoding stays UTF-8, so that the
    /// broken place is told and no letter is guessed.
    fn encoding(&self) -> Encoding {
        let broken = self.broken_utf8 || !self.begun.is_empty();
        if broken && !self.seen_utf8 && !self.no_letter { Encoding::Windows1252 } else { Encoding::Utf8 }
    }
}

/// Counts what could separate the names of the header.
#[derive(Default)]
struct Separators {
    commas: usize,
    semicolons: usize,
    tabs: usize,
    quoted: bool,
    begun: bool,
    over: bool,
}

impl Separators {
    fn look(&mut self, bytes: &[u8]) {
        for byte in bytes {
            if self.over {
                return;
            }
            match byte {
                b'"' => self.quoted = !self.quoted,
                _ if self.quoted => {}
                b',' => self.commas += 1,
                b';' => self.semicolons += 1,
                b'\t' => self.tabs += 1,
                // A blank first line is no header.
                b'\n' | b'\r' => self.over = self.begun,
                _ => {}
            }
            self.begun |= !byte.is_ascii_whitespace();
        }
    }

    fn most(&self) -> u8 {
        let most = self.commas.max(self.semicolons).max(self.tabs);
        match most {
            _ if most == self.commas => b',',
            _ if most == self.semicolons => b';',
            _ => b'\t',
        }
    }
}

/// Text of one byte a letter, read as UTF-8.
pub(super) struct Transcoded<R> {
    source: R,
    /// Read and not yet handed out.
    waiting: Vec<u8>,
    handed: usize,
}

impl<R: Read> Transcoded<R> {
    pub(super) fn new(source: R) -> Self {
        Self { source, waiting: Vec::new(), handed: 0 }
    }
}

impl<R: Read> Read for Transcoded<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if self.handed == self.waiting.len() {
            let mut bytes = vec![0; CHUNK];
            let read = self.source.read(&mut bytes)?;
            let (text, _) = WINDOWS_1252.decode_without_bom_handling(&bytes[..read]);
            self.waiting = text.into_owned().into_bytes();
            self.handed = 0;
        }
        let ready = &self.waiting[self.handed..];
        let length = ready.len().min(out.len());
        out[..length].copy_from_slice(&ready[..length]);
        self.handed += length;
        Ok(length)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn layout(bytes: &[u8]) -> Layout {
        // A reader of one byte at a time meets every way in which a chunk can end.
        struct OneByOne<'a>(&'a [u8]);
        impl Read for OneByOne<'_> {
            fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
                self.0.read(&mut out[..1])
            }
        }
        let whole = Layout::of(bytes, u64::MAX).unwrap();
        assert_eq!(Layout::of(OneByOne(bytes), u64::MAX).unwrap(), whole, "{bytes:?}");
        whole
    }

    /// Code points of Windows-1252: the WHATWG encoding standard, index windows-1252.
    #[test]
    fn letters_of_one_byte_are_told_from_utf_8() {
        for (bytes, encoding) in [
            (b"sex\nf\n".as_slice(), Encoding::Utf8),
            ("µGy·m²".as_bytes(), Encoding::Utf8),
            (b"\xB5Gy\xB7m\xB2", Encoding::Windows1252),
            (b"\x80 and \x9C", Encoding::Windows1252),
            // Some of each: broken UTF-8, not another encoding.
            (b"\xC2\xB5Gy \xB5Gy", Encoding::Utf8),
            // Bytes without a letter in Windows-1252.
            (b"\xB5 \x81", Encoding::Utf8),
            // Cut in the middle of a letter.
            (b"\xC2", Encoding::Windows1252),
        ] {
            assert_eq!(layout(bytes).encoding, encoding, "{bytes:?}");
        }
        let mut text = String::new();
        Transcoded::new(b"\x80 \xB5Gy\xB7m\xB2 \xE9".as_slice()).read_to_string(&mut text).unwrap();
        assert_eq!(text, "€ µGy·m² é");
    }

    #[test]
    fn the_header_tells_the_separator() {
        for (text, delimiter) in [
            ("a,b,c\n1;2;3;4;5\n", b','),
            ("a;b;c\n1,5;2,5;3,5\n", b';'),
            ("a\tb\n1,5\t2,5\n", b'\t'),
            ("\r\n\na;b\n", b';'),
            ("\"a,b,c\";d\n", b';'),
            ("alone\n", b','),
            ("", b','),
        ] {
            assert_eq!(layout(text.as_bytes()).delimiter, delimiter, "{text:?}");
        }
    }
}
