//! Files as a person sends them: told apart by their first bytes, and taken in only without
//! what could point to a person.

use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::screen::screen;
use std::fs::File;
use std::io::{self, Read};
use std::path::PathBuf;

use super::hash_of;
use crate::intake::{FileKind, Files, IntakeError, Limits, Source, Staged, is_workbook};

/// A file that was sent.
pub struct Sent {
    /// What its rows are; of a workbook, any.
    pub kind: FileKind,
    /// What it is called at the centre.
    pub name: String,
    /// Where it lies.
    pub path: PathBuf,
}

impl Sent {
    /// A file with the name that was given to it, unless that could point to a person.
    pub fn new(kind: FileKind, given: &str, path: PathBuf) -> Self {
        let name: String = given.chars().filter(|c| !c.is_control()).take(80).collect();
        let words = name.replace(['_', '-', '.'], " ");
        let plain = !name.is_empty() && screen(&words).is_ok() && screen(&name).is_ok();
        Self { kind, name: if plain { name } else { kind.to_string() }, path }
    }
}

/// Files that can be looked through.
pub struct Brought {
    /// Whose they are.
    pub centre: CentreCode,
    /// SHA-256 over them as they came.
    pub files_hash: String,
    /// As they are kept.
    pub files: Vec<Staged>,
}

/// What must be mended before a file can be looked through at all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfit {
    /// The file.
    pub kind: FileKind,
    /// What is wrong and how to mend it.
    pub sentence: String,
}

impl Brought {
    /// Takes files in; inside, what must be mended in them.
    ///
    /// # Errors
    /// When a file cannot be read.
    pub fn of(centre: CentreCode, sent: &[Sent]) -> io::Result<Result<Self, Vec<Unfit>>> {
        let (files, workbook) = match opened(sent)? {
            Ok(opened) => opened,
            Err(unfit) => return Ok(Err(vec![unfit])),
        };
        let mut unfit = Vec::new();
        let mut staged = Vec::new();
        for kind in FileKind::ALL {
            let Some(source) = files.of(kind) else { continue };
            let name =
                sent.iter().find(|one| workbook || one.kind == kind).map_or("", |one| one.name.as_str());
            match Staged::of(kind, name, source, Limits::default()) {
                Ok(mut file) => {
                    file.layout.workbook = workbook;
                    staged.push(file);
                }
                Err(IntakeError::Refused(refused)) => {
                    let kind = if workbook { FileKind::Cases } else { kind };
                    unfit.extend(refused.problems.into_iter().map(|problem| Unfit {
                        kind,
                        sentence: match problem.at.row {
                            0 => problem.sentence,
                            row => format!("Row {row}: {}", problem.sentence),
                        },
                    }));
                }
                Err(IntakeError::Unreadable(_, error)) => return Err(error),
            }
        }
        if !unfit.is_empty() {
            return Ok(Err(unfit));
        }
        let files_hash = hash_of(centre, &files).map_err(|(_, error)| error)?;
        Ok(Ok(Self { centre, files_hash, files: staged }))
    }
}

/// The tables of what was sent, and whether they are sheets of a workbook.
fn opened(sent: &[Sent]) -> io::Result<Result<(Files, bool), Unfit>> {
    let unfit = |kind, sentence: &str| Ok(Err(Unfit { kind, sentence: sentence.to_owned() }));
    let mut files = Files::default();
    for one in sent {
        let mut start = Vec::with_capacity(4);
        File::open(&one.path)?.take(4).read_to_end(&mut start)?;
        if is_workbook(&start) {
            if sent.len() > 1 {
                return unfit(one.kind, "A workbook comes alone, with a sheet for each table.");
            }
            return match Files::of_workbook_at(&one.path)? {
                Ok(files) => Ok(Ok((files, true))),
                Err(trouble) => unfit(one.kind, &trouble.to_string()),
            };
        }
        files.put(one.kind, Source::Path(one.path.clone()));
    }
    match sent.is_empty() {
        true => unfit(FileKind::Cases, "No file was chosen; choose at least one."),
        false => Ok(Ok((files, false))),
    }
}
