//! Rows in, results out, one set in memory at a time.

use super::{Failure, of_input};
use crate::intake::PlainRows;
use quietbeam_analysis::calculate::{Calculation, Results, Sheet, Trouble};
use std::fmt;
use std::io::{self, Read, Write};
use std::path::Path;

/// The most troubles that are told before the rest is left unread.
const MOST_TROUBLES: usize = 20;

/// What is to be done with the rows.
pub(super) struct Job<'a> {
    pub(super) calculation: &'a Calculation,
    pub(super) given: &'a [(String, String)],
    pub(super) input: &'a Path,
}

/// What was done.
#[derive(Default)]
pub(super) struct Counts {
    rows: u64,
    results: u64,
    without: u64,
}

impl fmt::Display for Counts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { rows, results, without } = self;
        let one = |count: &u64, word: &str| format!("{count} {word}{}", if *count == 1 { "" } else { "s" });
        write!(f, "{} from {}", one(results, "result"), one(rows, "row"))?;
        if *without > 0 {
            write!(f, "; {without} not fully estimated, the column reason says why")?;
        }
        Ok(())
    }
}

/// Calculates row after row.
pub(super) fn run<R: Read>(
    job: &Job<'_>,
    rows: &mut PlainRows<R>,
    out: impl Write,
) -> Result<Counts, Failure> {
    let header: Vec<&str> = rows.header().iter().collect();
    let sheet = Sheet::new(job.calculation, &header, job.given);
    let mut sheet = sheet.map_err(|error| Failure::Refused(format!("{error}{}", hint(job))))?;
    tell_replaced(&sheet);
    let mut writing =
        Writing { out: csv::Writer::from_writer(out), counts: Counts::default(), troubles: Vec::new() };
    writing.out.write_record(sheet.header())?;
    while let Some((at, record)) = rows.next().map_err(|error| of_input(job.input, error))? {
        let row: Vec<&str> = record.iter().collect();
        writing.counts.rows += 1;
        if writing.take(sheet.take(at.line, &row))?.is_enough() {
            break;
        }
    }
    writing.take(sheet.finish())?;
    writing.end(job)
}

fn hint(job: &Job<'_>) -> String {
    format!("; see: quietbeam calculate list {}", job.calculation.name())
}

/// Columns that vanish are told beside the results, which may stand on standard output.
fn tell_replaced(sheet: &Sheet<'_>) {
    if !sheet.replaced().is_empty() {
        let names = sheet.replaced().join(", ");
        let _ =
            writeln!(io::stderr(), "quietbeam: not carried through, because the result has its own: {names}");
    }
}

struct Writing<W: Write> {
    out: csv::Writer<W>,
    counts: Counts,
    troubles: Vec<Trouble>,
}

impl<W: Write> Writing<W> {
    /// Writes results while nothing is wrong; afterwards only what is wrong counts.
    fn take(&mut self, taken: Result<Option<Results>, Trouble>) -> Result<&Self, Failure> {
        match taken {
            Ok(Some(results)) if self.troubles.is_empty() => {
                for row in results.rows() {
                    self.out.write_record(&row)?;
                }
                let lines = results.lines();
                self.counts.results += lines.len() as u64;
                self.counts.without += lines.iter().filter(|line| line.reason.is_some()).count() as u64;
            }
            Ok(_) => {}
            Err(trouble) => self.troubles.push(trouble),
        }
        Ok(self)
    }

    /// Whether reading on would tell nothing more.
    fn is_enough(&self) -> bool {
        self.troubles.len() >= MOST_TROUBLES
            || self.troubles.last().is_some_and(|trouble| trouble.line.is_none())
    }

    fn end(mut self, job: &Job<'_>) -> Result<Counts, Failure> {
        self.out.flush()?;
        if !self.troubles.is_empty() {
            let mut told: Vec<String> = self.troubles.iter().map(Trouble::to_string).collect();
            if self.troubles.len() >= MOST_TROUBLES {
                told.push("there may be more; what follows was not read".to_owned());
            }
            return Err(Failure::Refused(format!("{}{}", told.join("\n"), hint(job))));
        }
        if self.counts.rows == 0 {
            return Err(Failure::Refused("the input has a header and no rows; add the rows".to_owned()));
        }
        Ok(self.counts)
    }
}
