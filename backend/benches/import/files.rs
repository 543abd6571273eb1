//! The files: what the centres of the demonstration would send, as if one centre sent all.

use crate::measured::{Measured, timed};
use crate::whole;
use quietbeam::demo::Scenario;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

pub(crate) const CASES: &str = "cases.csv";
pub(crate) const COMPLICATIONS: &str = "complications.csv";
pub(crate) const FOLLOW_UPS: &str = "follow_ups.csv";

/// Writes files with so many cases.
pub(crate) fn make(folder: &Path, rows: usize) -> Measured {
    timed(|| {
        let scratch = folder.join("scratch.sqlite");
        let codes = whole::issue(scratch.to_str().expect("a plain path"), rows);
        let mut rest = codes.as_slice();
        let mut files = [CASES, COMPLICATIONS, FOLLOW_UPS]
            .map(|name| BufWriter::new(File::create(folder.join(name)).expect("a file")));
        for (place, centre) in Scenario::generate(1, rows).centres.iter().enumerate() {
            let (own, others) = rest.split_at(centre.case_rows());
            rest = others;
            let texts = centre.files(own);
            for (file, text) in files.iter_mut().zip([texts.cases, texts.complications, texts.follow_ups]) {
                // The header stands once.
                let begin = if place == 0 { 0 } else { text.find('\n').map_or(0, |end| end + 1) };
                file.write_all(&text.as_bytes()[begin..]).expect("to write");
            }
        }
        assert!(rest.is_empty(), "{} codes are left over", rest.len());
        files.iter_mut().for_each(|file| file.flush().expect("to write"));
        rows as u64
    })
}
