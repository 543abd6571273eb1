//! The outer layer of a DICOM file (PS3.10): preamble, meta information, data set.

use dicom_core::Tag;
use dicom_parser::dataset::LazyDataToken;
use dicom_parser::dataset::lazy_read::LazyDataSetReader;
use dicom_transfer_syntax_registry::entries::{
    EXPLICIT_VR_BIG_ENDIAN, EXPLICIT_VR_LITTLE_ENDIAN, IMPLICIT_VR_LITTLE_ENDIAN,
};
use std::io::Cursor;

use super::DoseReportProblem;

const PREAMBLE: usize = 128;
const TRANSFER_SYNTAX: Tag = Tag(0x0002, 0x0010);
/// Longest value read of any element; longer ones are passed over.
const LONGEST_VALUE: u32 = 128;

/// How the data set is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Syntax {
    /// Without value representations.
    ImplicitLittle,
    /// The usual one.
    ExplicitLittle,
    /// Retired, but found in archives.
    ExplicitBig,
}

/// A file taken apart.
pub(super) struct Parts<'a> {
    syntax: Syntax,
    /// The data set, still encoded.
    pub(super) data_set: &'a [u8],
}

/// The library's token reader. It reads no value unless asked and does not recurse.
pub(super) type Tokens<'a> =
    LazyDataSetReader<dicom_parser::stateful::decode::DynStatefulDecoder<Cursor<&'a [u8]>>>;

impl<'a> Parts<'a> {
    /// The tokens of the data set.
    pub(super) fn tokens(&self) -> Result<Tokens<'a>, DoseReportProblem> {
        tokens(self.data_set, self.syntax)
    }
}

fn tokens(bytes: &[u8], syntax: Syntax) -> Result<Tokens<'_>, DoseReportProblem> {
    let source = Cursor::new(bytes);
    match syntax {
        Syntax::ImplicitLittle => LazyDataSetReader::new_with_ts(source, &IMPLICIT_VR_LITTLE_ENDIAN.erased()),
        Syntax::ExplicitLittle => LazyDataSetReader::new_with_ts(source, &EXPLICIT_VR_LITTLE_ENDIAN.erased()),
        Syntax::ExplicitBig => LazyDataSetReader::new_with_ts(source, &EXPLICIT_VR_BIG_ENDIAN.erased()),
    }
    .map_err(|_| DoseReportProblem::Broken)
}

/// Takes a file apart.
pub(super) fn open(bytes: &[u8]) -> Result<Parts<'_>, DoseReportProblem> {
    let rest = bytes.get(PREAMBLE..).and_then(|rest| rest.strip_prefix(b"DICM"));
    let rest = rest.ok_or(DoseReportProblem::NotDicom)?;
    // The first element is always the length of the meta group: (0002,0000) UL, four bytes.
    let body = rest.strip_prefix(b"\x02\x00\x00\x00UL\x04\x00").ok_or(DoseReportProblem::Broken)?;
    let (length, body) = body.split_first_chunk::<4>().ok_or(DoseReportProblem::Truncated)?;
    let length = usize::try_from(u32::from_le_bytes(*length)).map_err(|_| DoseReportProblem::Broken)?;
    if length > body.len() {
        return Err(DoseReportProblem::Truncated);
    }
    let (meta, data_set) = body.split_at(length);
    Ok(Parts { syntax: syntax_of(meta)?, data_set })
}

/// Source of the identifiers: DICOM PS3.6, annex A.
fn syntax_of(meta: &[u8]) -> Result<Syntax, DoseReportProblem> {
    let mut tokens = tokens(meta, Syntax::ExplicitLittle)?;
    while let Some(token) = tokens.advance() {
        let token = token.map_err(|_| DoseReportProblem::Broken)?;
        match &token {
            LazyDataToken::LazyValue { header, .. } if header.tag == TRANSFER_SYNTAX => {}
            LazyDataToken::ElementHeader(_) | LazyDataToken::LazyValue { .. } => {
                pass_over(token)?;
                continue;
            }
            // The group holds plain values. The library takes it for granted that what ends was
            // begun, and would panic at what comes after.
            _ => return Err(DoseReportProblem::Broken),
        }
        return match short_text(token)?.as_deref() {
            Some("1.2.840.10008.1.2") => Ok(Syntax::ImplicitLittle),
            Some("1.2.840.10008.1.2.1") => Ok(Syntax::ExplicitLittle),
            Some("1.2.840.10008.1.2.2") => Ok(Syntax::ExplicitBig),
            Some("1.2.840.10008.1.2.1.99") => Err(DoseReportProblem::Compressed),
            Some(_) => Err(DoseReportProblem::OtherSyntax),
            None => Err(DoseReportProblem::Broken),
        };
    }
    Err(DoseReportProblem::Broken)
}

/// Passes over a token's value, if it has one, without keeping it.
pub(super) fn pass_over<D: dicom_parser::StatefulDecode>(
    token: LazyDataToken<D>,
) -> Result<(), DoseReportProblem> {
    token.skip().map_err(|_| DoseReportProblem::Truncated)
}

/// A short text without its padding; `None`, and the value passed over, when it is long.
pub(super) fn short_text<D: dicom_parser::StatefulDecode>(
    token: LazyDataToken<D>,
) -> Result<Option<String>, DoseReportProblem> {
    let LazyDataToken::LazyValue { header, .. } = &token else { return Ok(None) };
    if header.len.get().is_none_or(|length| length > LONGEST_VALUE) {
        pass_over(token)?;
        return Ok(None);
    }
    let mut bytes = Vec::new();
    let length = header.len.0 as usize;
    token.read_value_into(&mut bytes).map_err(|_| DoseReportProblem::Truncated)?;
    if bytes.len() != length {
        return Err(DoseReportProblem::Truncated);
    }
    let text = String::from_utf8_lossy(&bytes);
    Ok(Some(text.trim_matches(|c: char| c == '\0' || c.is_whitespace()).to_owned()))
}
