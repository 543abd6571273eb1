//! A file that was looked through: how its cases divide, the one question, what to mend, how
//! its columns were read, and what to press.

use maud::{Markup, Render, html};
use quietbeam_analysis::study::numerals::count;

use super::job::wait_for_unit;
use super::kind_words;
use super::problems::Problems;
use crate::intake::{ColumnRead, Encoding, FileKind, FileLayout, Question};
use crate::pages::components::Mark;
use crate::pages::figures::PartsBar;
use crate::pages::frame::Frame;
use crate::pages::words::counted;
use crate::registry::imports::jobs::Job;
use crate::registry::imports::preview::Preview;

/// The page of a file that was looked through.
pub(super) struct Checked<'c> {
    pub(super) frame: &'c Frame,
    pub(super) job: &'c Job,
    pub(super) preview: &'c Preview,
    /// What was wrong with the answers.
    pub(super) trouble: Option<&'c str>,
}

/// The name of the file, how it is written, and where it stands.
pub(super) fn heading(job: &Job, state: &str) -> Markup {
    html! {
        div.title {
            div {
                h1.file-name { (job.files.first().map_or("Files", |file| file.name.as_str())) }
                @for file in &job.files { p.quiet { (written(file)) } }
            }
            span.quiet { (state) }
        }
    }
}

/// "171 rows, 24 columns · semicolon · Windows-1252".
fn written(file: &FileLayout) -> String {
    let columns = file.columns.len() + file.without_field.len();
    let size = format!("{} rows, {columns} columns", count(file.rows));
    let how = match (file.workbook, file.delimiter, file.encoding) {
        (true, ..) => "workbook".to_owned(),
        (_, delimiter, encoding) => {
            let separator = match delimiter {
                ';' => "semicolon",
                '\t' => "tab",
                _ => "comma",
            };
            let letters = match encoding {
                Encoding::Utf8 => "UTF-8",
                Encoding::Windows1252 => "Windows-1252",
            };
            format!("{separator} · {letters}")
        }
    };
    match file.kind {
        FileKind::Cases => format!("{size} · {how}"),
        other => format!("{}: {size} · {how}", kind_words(other)),
    }
}

impl Render for Checked<'_> {
    fn render(&self) -> Markup {
        let Self { frame, job, preview, trouble } = self;
        html! {
            (heading(job, "Nothing is stored yet"))
            @if let Some(trouble) = trouble {
                p.message.hard role="alert" { b { "Not yet." } " " (trouble) }
            }
            (counts(preview))
            form method="post" action={ "/imports/" (job.row.id) } {
                (frame.token())
                input type="hidden" name="version" value=(job.row.version);
                @if let Some(question) = &preview.question { (asked(question)) }
                (Problems(preview))
                (columns(preview))
                (self.foot())
            }
        }
    }
}

fn counts(preview: &Preview) -> Markup {
    let rows = &preview.rows;
    let parts = [
        ("ready", "new, ready", rows.ready, Mark::Saved),
        ("asked", "new, with a query", rows.with_query, Mark::ToAnswer),
        ("refused", "refused", preview.refused, Mark::MustBeMended),
        ("alike", "may be duplicates", rows.maybe_duplicate, Mark::Draft),
        ("same", "unchanged, skipped", rows.unchanged, Mark::Locked),
    ];
    let drawn = parts.map(|(look, name, number, _)| (look, name, number));
    html! {
        section.sheet.parts aria-label="What becomes of the rows" {
            (PartsBar { parts: &drawn })
            dl { @for (_, name, number, mark) in parts {
                div {
                    dt { (name) }
                    dd { (mark.shape()) span { (count(number)) } }
                }
            } }
        }
    }
}

/// The one question that comes first.
fn asked(question: &Question) -> Markup {
    let Question { given, rows, lowest, middle, highest, units, .. } = question;
    html! {
        section.lit.one-question id="question" {
            (Mark::MustBeMended.shape())
            div {
                p.small { "First: one question for " (count(*rows)) " rows" }
                h2 id="unit-label" { "In which unit is your column “" (given) "”?" }
                p.quiet {
                    "The file gives none. Your numbers run from " (lowest) " to " (highest) ", with " (middle) " in the middle."
                }
                div.choice.units role="radiogroup" aria-labelledby="unit-label" {
                    @for (at, unit) in units.iter().enumerate() {
                        label {
                            input type="radio" name="unit" value=(unit.ucum);
                            span.key aria-hidden="true" { (at + 1) }
                            span {
                                b { (unit.label) }
                                span.means { (unit.means) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn columns(preview: &Preview) -> Markup {
    let plain = preview.columns.iter().filter(|column| column.is_plain()).count();
    let without = preview.without_field().count();
    let told = preview.columns.iter().filter(|column| !column.is_plain());
    html! {
        section.columns-read id="columns" {
            h2 { "How your columns were read" }
            div.scroll { table {
                thead { tr {
                    th scope="col" { "Your header" }
                    th scope="col" { "Taken as" }
                    th scope="col" { "Read like this" }
                } }
                tbody {
                    @for column in told { (column_row(column)) }
                    @if plain > 0 {
                        tr { th scope="row" { (plain) " columns" } td { "understood without doubt" } td {
                            details { summary { "Show them" } (plain_columns(preview)) }
                        } }
                    }
                }
            } }
            @if without > 0 {
                p.leave-out.must-be-mended { label {
                    input type="checkbox" name="leave_out" value="yes";
                    span {
                        "Leave out " (counted(without, "column that has no field", "columns that have no field"))
                        ". If one belongs to the record, name it as the codebook does and bring the file in again."
                    }
                } }
            }
        }
    }
}

fn column_row(column: &ColumnRead) -> Markup {
    html! {
        tr {
            th scope="row" {
                @if column.field.is_none() { (Mark::MustBeMended.with(&column.given)) } @else { (column.given) }
            }
            td { (column.field.as_deref().unwrap_or("no field")) }
            td {
                @if column.field.is_none() { "The record has no place for it. Nothing of it was kept." }
                @if let Some((text, number)) = &column.reading { (text) " is read as " (number) }
            }
        }
    }
}

fn plain_columns(preview: &Preview) -> Markup {
    html! {
        ul.plain { @for column in preview.columns.iter().filter(|column| column.is_plain()) {
            li { code { (column.given) } " " (column.field.as_deref().unwrap_or_default()) }
        } }
    }
}

impl Checked<'_> {
    fn foot(&self) -> Markup {
        let Self { job, preview, .. } = self;
        let open = preview.question.is_some() || preview.without_field().next().is_some();
        let mend = open || preview.refused > 0;
        let storable = preview.storable();
        html! {
            div.form-foot.import-foot {
                @if mend {
                    button.button.main type="submit" name="do" value="check" { "Check again" }
                    @if !open && preview.any_good() {
                        button.button type="submit" name="do" value="store_good" {
                            "Store " (cases(storable)) ", leave " (count(preview.refused)) " out"
                        }
                    }
                } @else {
                    @if preview.any_good() {
                        button.button.main type="submit" name="do" value="store" { "Store " (cases(storable)) }
                    }
                    button.button type="submit" name="do" value="check" { "Check again" }
                }
                button.as-link type="submit" name="do" value="drop" { "Throw the file away" }
                span.aside { (self.aside()) }
            }
            p.small.marked-files {
                @for file in &job.files {
                    a href={ "/imports/" (job.row.id) "/marked/" (file.kind) } { "Download " (file.name) " with the problems marked" }
                    @if preview.refused > 0 {
                        " · "
                        a href={ "/imports/" (job.row.id) "/marked/" (file.kind) "?only_to_mend=true" } { "only the rows to mend" }
                    }
                    br;
                }
            }
        }
    }

    fn aside(&self) -> Markup {
        let preview = self.preview;
        let waiting = wait_for_unit(preview);
        let storable = preview.storable();
        html! {
            @if waiting > 0 { (count(waiting)) " rows wait for the unit." }
            @else if preview.refused > 0 { (cases(storable)) " can be stored now." }
            @else if storable == 0 { "There is nothing new in it." }
            @else { "Queries can be answered later." }
        }
    }
}

fn cases(number: u64) -> String {
    if number == 1 { "one case".to_owned() } else { format!("{} cases", count(number)) }
}
