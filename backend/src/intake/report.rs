//! The report on a set of files: what became of the rows, and one line a problem.

use super::FileKind;
use super::problem::{At, Problem};
use quietbeam_schema::finding::Weight;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use std::io::{self, Write};

/// Problems told one by one; beyond these only their number is told, so that
/// the report of a hopeless file stays small.
const MOST_PROBLEMS: usize = 10_000;

/// Problems up to a bound, and how many there were beyond it.
#[derive(Default)]
pub(super) struct Problems {
    told: Vec<Problem>,
    left_out: u64,
}

impl Problems {
    pub(super) fn add(&mut self, problem: Problem) {
        if self.told.len() < MOST_PROBLEMS {
            self.told.push(problem);
        } else {
            self.left_out += 1;
        }
    }
}

/// What became of the rows of one file.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// Rows read, blank ones aside.
    pub read: u64,
    /// Rows that can be stored.
    pub accepted: u64,
    /// Of these, rows with something to answer.
    pub with_query: u64,
    /// Rows that must be mended first.
    pub refused: u64,
}

/// The counts of one file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileCounts {
    /// Which file.
    pub file: FileKind,
    /// Its rows.
    #[serde(flatten)]
    pub counts: Counts,
}

/// What a check found.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Report {
    /// The counts of each file that was given.
    pub files: Vec<FileCounts>,
    /// Whether a file was refused whole, so that nothing at all can be taken.
    pub refused_whole: bool,
    /// Whether there was no cases file, so that each complication and each
    /// follow-up was looked at by itself only.
    pub without_cases: bool,
    /// What was found, by file and row.
    pub problems: Vec<Problem>,
    /// How many more problems there are than are listed.
    pub problems_left_out: u64,
}

impl Report {
    /// Whether every row can be stored.
    pub fn all_accepted(&self) -> bool {
        !self.refused_whole && self.files.iter().all(|file| file.counts.refused == 0)
    }

    /// The counts of the file of this kind; zero if it was not given.
    pub fn counts(&self, kind: FileKind) -> Counts {
        self.files.iter().find(|file| file.file == kind).map(|file| file.counts).unwrap_or_default()
    }

    /// Writes one line a problem, then one line a file.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_lines(&self, out: &mut dyn Write) -> io::Result<()> {
        for problem in &self.problems {
            writeln!(out, "{problem}")?;
        }
        if self.problems_left_out > 0 {
            writeln!(out, "and {} more problems, not listed", self.problems_left_out)?;
        }
        for FileCounts { file, counts } in &self.files {
            let Counts { read, accepted, with_query, refused } = counts;
            writeln!(
                out,
                "{file}: {read} rows read, {accepted} can be taken ({with_query} with something to answer), {refused} refused"
            )?;
        }
        if self.refused_whole {
            writeln!(out, "A file is refused whole, so nothing can be taken until it is mended.")?;
        }
        if self.without_cases {
            writeln!(out, "No cases file was given, so the rows were not compared with their cases.")?;
        }
        Ok(())
    }
}

/// Keeps count while rows go by. A row can be refused for the sake of another.
#[derive(Default)]
pub struct Tally {
    problems: Problems,
    read: [u64; 3],
    refused: HashSet<(FileKind, u64)>,
    to_answer: HashSet<(FileKind, u64)>,
    refused_whole: bool,
}

impl Tally {
    /// Counts a row.
    pub fn read(&mut self, file: FileKind) {
        self.read[file as usize] += 1;
    }

    /// The rows of all files that were read so far.
    pub fn rows_read(&self) -> u64 {
        self.read.iter().sum()
    }

    /// Refuses a row for a reason told elsewhere.
    pub fn refuse(&mut self, file: FileKind, at: At) {
        self.refused.insert((file, at.row));
    }

    /// The rows that are refused so far.
    pub fn refused_rows(&self) -> &HashSet<(FileKind, u64)> {
        &self.refused
    }

    /// Notes a problem, and refuses its row if it is hard.
    pub fn add(&mut self, problem: Problem) {
        let row = (problem.file, problem.at.row);
        match problem.weight {
            Weight::Hard => self.refused.insert(row),
            Weight::Query => self.to_answer.insert(row),
        };
        self.problems.add(problem);
    }

    /// Notes that a file is refused whole.
    pub fn refuse_whole(&mut self, problems: Vec<Problem>) {
        self.refused_whole = true;
        for problem in problems {
            self.problems.add(problem);
        }
    }

    /// The report; `given` tells which files there were.
    pub fn into_report(mut self, given: impl Fn(FileKind) -> bool) -> Report {
        let files = FileKind::ALL.into_iter().filter(|kind| given(*kind));
        let files = files.map(|file| FileCounts { file, counts: self.counts(file) }).collect();
        self.problems.told.sort_by_key(|problem| (problem.file, problem.at));
        Report {
            files,
            refused_whole: self.refused_whole,
            without_cases: !given(FileKind::Cases),
            problems: self.problems.told,
            problems_left_out: self.problems.left_out,
        }
    }

    fn counts(&self, file: FileKind) -> Counts {
        let read = self.read[file as usize];
        let of_file = |row: &&(FileKind, u64)| row.0 == file;
        let refused =
            if self.refused_whole { read } else { self.refused.iter().filter(of_file).count() as u64 };
        let asked = self.to_answer.difference(&self.refused).filter(of_file).count() as u64;
        Counts {
            read,
            accepted: read - refused,
            with_query: if self.refused_whole { 0 } else { asked },
            refused,
        }
    }
}
