//! `quietbeam check`: files against the dictionary, with no registry.

use super::Failure;
use crate::clock::Clock;
use crate::intake::{FileKind, Files, Report, Source, check_files, is_workbook};
use clap::Args;
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// Check files of cases, complications and follow-ups against the dictionary.
/// Nothing is stored and nothing leaves this computer. The kind of a file is
/// told by its name; a single workbook (.xlsx or .ods) holds all three as sheets.
///
/// Example: quietbeam check cases.csv complications.csv follow_ups.csv
///
/// Exit codes: 0 every row can be taken, though there may be something to
/// answer; 1 something is refused; 3 a file cannot be read.
#[derive(Args)]
pub(super) struct CheckArgs {
    /// Up to three files, one of each kind.
    #[arg(required = true, num_args = 1..=3)]
    files: Vec<PathBuf>,
    /// What a single file holds, where its name does not tell.
    #[arg(long, value_enum)]
    kind: Option<FileKind>,
    /// Print the report as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &CheckArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let files = files_of(args)?;
    let report = check_files(&files, Clock::system().now().quarter())
        .map_err(|(file, error)| Failure::Broken(format!("the {file} file cannot be read: {error}")))?;
    print(&report, args.json, out)?;
    if report.all_accepted() {
        Ok(())
    } else {
        Err(Failure::Refused("the files need mending, see above".to_owned()))
    }
}

fn files_of(args: &CheckArgs) -> Result<Files, Failure> {
    let mut files = Files::default();
    if args.kind.is_some() && args.files.len() > 1 {
        return Err(Failure::Refused("--kind goes with a single file; give the files one by one".to_owned()));
    }
    if let [only] = args.files.as_slice()
        && begins_like_a_workbook(only)?
    {
        return Files::of_workbook_at(only)?.map_err(|trouble| Failure::Refused(trouble.to_string()));
    }
    for path in &args.files {
        let kind = args.kind.map_or_else(|| kind_of(path), Ok)?;
        if files.put(kind, Source::Path(path.clone())).is_some() {
            return Err(Failure::Refused(format!("two of the files hold {kind}; give one of each kind")));
        }
    }
    Ok(files)
}

fn begins_like_a_workbook(path: &Path) -> Result<bool, Failure> {
    let mut start = Vec::new();
    let named = |error: std::io::Error| Failure::Broken(format!("{}: {error}", path.display()));
    File::open(path).map_err(named)?.take(4).read_to_end(&mut start).map_err(named)?;
    Ok(is_workbook(&start))
}

fn kind_of(path: &Path) -> Result<FileKind, Failure> {
    let name = path.file_name().map(|name| name.to_string_lossy()).unwrap_or_default();
    FileKind::of_name(&name).ok_or_else(|| {
        Failure::Refused(format!(
            "the name {name} does not tell what the file holds; add --kind cases, complications or follow_ups"
        ))
    })
}

fn print(report: &Report, json: bool, out: &mut dyn Write) -> Result<(), Failure> {
    if json {
        serde_json::to_writer_pretty(&mut *out, report)?;
        writeln!(out)?;
    } else {
        report.write_lines(out)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;

    /// Writes the files into a folder of their own and checks them.
    fn check(files: &[(&str, &str)], kind: Option<FileKind>, json: bool) -> (String, Result<(), Failure>) {
        let folder = tempfile::tempdir().unwrap();
        let write = |(name, text): &(&str, &str)| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).unwrap();
            path
        };
        let args = CheckArgs { files: files.iter().map(write).collect(), kind, json };
        let mut out = Vec::new();
        let outcome = run(&args, &mut out);
        (String::from_utf8(out).unwrap(), outcome)
    }

    #[test]
    fn tells_one_line_a_problem_and_refuses() {
        let (out, outcome) = check(&[("cases.csv", "period|sex\n")], None, false);
        assert_eq!(
            out,
            "refused: cases header: The columns are separated by vertical bars; save the file with commas, semicolons or tabs between the columns.\n\
             cases: 0 rows read, 0 can be taken (0 with something to answer), 0 refused\n\
             A file is refused whole, so nothing can be taken until it is mended.\n"
        );
        assert!(matches!(outcome, Err(Failure::Refused(_))));
    }

    #[test]
    fn prints_the_same_as_json() {
        let (out, _) = check(&[("export.csv", "period|sex\n")], Some(FileKind::Cases), true);
        let report: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!(report["problems"][0]["rule"], "wrong_delimiter");
        assert_eq!(report["problems"][0]["row"], 0);
        assert_eq!(report["files"][0]["file"], "cases");
    }

    #[test]
    fn asks_for_the_kind_where_no_name_tells_it() {
        let refusal = |files: &[(&str, &str)], kind| match check(files, kind, false).1 {
            Err(Failure::Refused(sentence)) => sentence,
            _ => panic!("this must be refused"),
        };
        assert_eq!(
            refusal(&[("export.csv", "")], None),
            "the name export.csv does not tell what the file holds; add --kind cases, complications or follow_ups"
        );
        assert_eq!(
            refusal(&[("cases_1.csv", ""), ("cases_2.csv", "")], None),
            "two of the files hold cases; give one of each kind"
        );
        assert_eq!(
            refusal(&[("a.csv", ""), ("b.csv", "")], Some(FileKind::Cases)),
            "--kind goes with a single file; give the files one by one"
        );
    }

    #[test]
    fn a_file_that_is_not_there_is_broken_not_refused() {
        let args = CheckArgs { files: vec!["nowhere/cases.csv".into()], kind: None, json: false };
        let outcome = run(&args, &mut Vec::new());
        assert!(
            matches!(outcome, Err(Failure::Broken(sentence)) if sentence.starts_with("nowhere/cases.csv: "))
        );
    }
}
