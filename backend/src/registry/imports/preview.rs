//! What a centre sees before anything is stored: how its cases divide, what must be mended or
//! answered, how its columns are read, and the one question that cannot be answered for it.

use quietbeam_schema::finding::Weight;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::io;

use super::{Outcome, PossibleDuplicate, Rows};
use crate::intake::{ColumnRead, FileCounts, FileKind, Marked, Problem, Question, Report, Staged};

/// Rows that have the same cell refused for the same reason, so that one mend serves all.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Group {
    /// Which file.
    pub file: FileKind,
    /// Which column, where one can be named.
    pub column: Option<String>,
    /// Whether it must be mended; otherwise it is to be answered.
    pub hard: bool,
    /// What is wrong and how to mend it.
    pub sentence: String,
    /// What stands in the cells; nothing where there is no cell to mend.
    pub cell: Option<String>,
    /// Whether what stood there was not kept.
    pub withheld: bool,
    /// The rows.
    pub rows: Vec<u64>,
}

/// What is seen before anything is stored.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Preview {
    /// The rows of each file.
    pub files: Vec<FileCounts>,
    /// How the cases divide.
    pub rows: Rows,
    /// Rows of any file that cannot be stored as they are.
    pub refused: u64,
    /// Whether not a single row can be taken.
    pub refused_whole: bool,
    /// What was found, alike cells together: what must be mended first.
    pub groups: Vec<Group>,
    /// Problems beyond those that are told.
    pub left_out: u64,
    /// How the columns are read.
    pub columns: Vec<ColumnRead>,
    /// The question that comes first.
    pub question: Option<Question>,
    /// Cases that may be there twice.
    pub possible_duplicates: Vec<PossibleDuplicate>,
}

impl Preview {
    /// Makes it of what a check found in these files.
    ///
    /// # Errors
    /// When a text is no longer what was written.
    pub fn of(outcome: Outcome, files: &[Staged]) -> io::Result<Self> {
        let Outcome { report, rows, possible_duplicates, .. } = outcome;
        let mut columns = Vec::new();
        let mut question = None;
        for file in files {
            let (read, asked) = file.understood()?;
            columns.extend(read);
            question = question.or(asked);
        }
        let mut groups = groups(&report, files)?;
        // The one question stands for every row that waits for its answer.
        if let Some(question) = &question {
            let unit = format!("{}_unit", question.key);
            groups.retain(|group| {
                group.file != question.file
                    || group.column.as_deref() != Some(unit.as_str())
                    || group.cell.as_deref().is_some_and(|cell| !cell.trim().is_empty())
            });
        }
        groups.sort_by_key(|group| !group.hard);
        Ok(Self {
            refused: report.files.iter().map(|file| file.counts.refused).sum(),
            refused_whole: report.refused_whole,
            left_out: report.problems_left_out,
            files: report.files,
            rows,
            groups,
            columns,
            question,
            possible_duplicates,
        })
    }

    /// Whether something can be stored now.
    pub fn any_good(&self) -> bool {
        !self.refused_whole && self.storable() > 0
    }

    /// Cases that would be stored.
    pub fn storable(&self) -> u64 {
        self.rows.ready + self.rows.with_query + self.rows.maybe_duplicate
    }

    /// Columns without a field, which nobody left out yet.
    pub fn without_field(&self) -> impl Iterator<Item = &ColumnRead> {
        self.columns.iter().filter(|column| column.field.is_none())
    }
}

/// A problem with the place at which it is mended.
struct Placed<'p> {
    problem: &'p Problem,
    column: Option<&'p str>,
    withheld: Option<String>,
}

/// What must be mended in each row of a file, for its last column.
pub fn marks(report: &Report, files: &[Staged], kind: FileKind) -> Marked {
    let mut marks: BTreeMap<u64, Vec<String>> = BTreeMap::new();
    for placed in placed(report, files).filter(|placed| placed.problem.file == kind) {
        let sentence = placed.withheld.unwrap_or_else(|| placed.problem.sentence.clone());
        let row = marks.entry(placed.problem.at.row).or_default();
        if !row.contains(&sentence) {
            row.push(sentence);
        }
    }
    marks
}

/// What rows of one group have in common: file, column, sentence and cell.
type Alike<'p> = (FileKind, Option<&'p str>, String, Option<String>);

fn groups(report: &Report, files: &[Staged]) -> io::Result<Vec<Group>> {
    let all: Vec<Placed<'_>> = placed(report, files).collect();
    let cells = cells(&all, files)?;
    let mut groups: Vec<Group> = Vec::new();
    let mut known: HashMap<Alike<'_>, usize> = HashMap::new();
    for placed in &all {
        let Placed { problem, column, withheld } = placed;
        let row = problem.at.row;
        let cell = column
            .filter(|_| row > 0)
            .map(|column| cells.get(&(problem.file, row, column.to_owned())).cloned().unwrap_or_default());
        let sentence = withheld.clone().unwrap_or_else(|| problem.sentence.clone());
        let key = (problem.file, *column, sentence, cell);
        if let Some(group) = known.get(&key).and_then(|at| groups.get_mut(*at)) {
            if group.rows.last() != Some(&row) {
                group.rows.push(row);
            }
            continue;
        }
        groups.push(Group {
            file: key.0,
            column: column.map(str::to_owned),
            hard: problem.weight == Weight::Hard,
            sentence: key.2.clone(),
            cell: key.3.clone(),
            withheld: withheld.is_some() && column.is_some(),
            rows: vec![row],
        });
        known.insert(key, groups.len() - 1);
    }
    Ok(groups)
}

fn placed<'p>(report: &'p Report, files: &'p [Staged]) -> impl Iterator<Item = Placed<'p>> {
    report.problems.iter().map(|problem| {
        let file = files.iter().find(|file| file.layout.kind == problem.file);
        let column = problem.column.as_deref();
        // A row with too many fields came that way; the text here only keeps it refused.
        let key = if problem.rule == "row_shape" { Some("") } else { column };
        let withheld = file.zip(key).and_then(|(file, key)| file.withheld_at(problem.at.row, key));
        Placed { problem, column, withheld: withheld.map(|cell| cell.sentence.clone()) }
    })
}

fn cells(placed: &[Placed<'_>], files: &[Staged]) -> io::Result<HashMap<(FileKind, u64, String), String>> {
    let mut cells = HashMap::new();
    for file in files {
        let kind = file.layout.kind;
        let wanted: BTreeSet<(u64, &str)> = placed
            .iter()
            .filter(|placed| placed.problem.file == kind)
            .filter_map(|placed| Some((placed.problem.at.row, placed.column?)))
            .collect();
        let found = file.cells(&wanted)?;
        cells.extend(found.into_iter().map(|((row, key), text)| ((kind, row, key), text)));
    }
    Ok(cells)
}
