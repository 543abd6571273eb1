//! A safety summary as plain text.

use super::numerals::paragraph;
use super::published::PublishedPart;
use super::summary::{NamedTable, SafetySummary, SummaryLine};

/// The summary as text of at most 100 columns.
pub fn summary_words(summary: &SafetySummary) -> String {
    let years = match summary.first_year {
        Some(_) => format!("cases of {}", summary.period_in_words()),
        None => "no cases".to_owned(),
    };
    let mut text = format!("SAFETY SUMMARY: {years}, centres: {}\n\n", summary.centres);
    text.push_str(&table("Cases", "cases", summary, |line| {
        let counts = parts(line).map(|part| part.count.to_string());
        (line.cases.to_string(), counts)
    }));
    text.push('\n');
    text.push_str(&table("Per cent of the cases", "", summary, |line| {
        let share = |part: &PublishedPart| part.percent().unwrap_or("–".to_owned());
        (String::new(), parts(line).map(share))
    }));
    text.push('\n');
    if let Some(capture) = summary.capture_in_words() {
        text.push_str(&paragraph(&capture, 0));
        text.push('\n');
    }
    for table in &summary.tables {
        text.push_str(&further(table));
        text.push('\n');
    }
    for note in &summary.notes {
        text.push_str(&paragraph(note, 2));
    }
    text.push_str(&format!("\nWhat is not shown (profile {})\n", summary.disclosure.profile));
    for rule in &summary.disclosure.rules {
        text.push_str(&paragraph(rule, 2));
    }
    text.push('\n');
    text.push_str(&further(&summary.disclosure.table()));
    text
}

/// A further table, a paragraph a row: it may have more columns than a line of text has room for.
fn further(table: &NamedTable) -> String {
    let mut text = format!("{}\n", table.caption);
    for row in &table.rows {
        let named = table.columns.iter().zip(&row.cells);
        let cells: Vec<String> =
            named.map(|(column, cell)| format!("{} {}", column.label, cell.text())).collect();
        text.push_str(&paragraph(&format!("{}: {}", row.label, cells.join("; ")), 2));
    }
    text
}

fn parts(line: &SummaryLine) -> [&PublishedPart; 6] {
    [
        &line.no_x_ray,
        &line.acute_success,
        &line.major,
        &line.minor,
        &line.imaging_only,
        &line.drained_effusion,
    ]
}

type Cells = (String, [String; 6]);

fn table(title: &str, first: &str, summary: &SafetySummary, cells: impl Fn(&SummaryLine) -> Cells) -> String {
    let head = ["no X-ray", "success", "major", "minor", "imaging", "drained"].map(str::to_owned);
    let mut text = row(title, (first.to_owned(), head));
    let mut group = None;
    for line in &summary.lines {
        if group.replace(line.procedure_group) != Some(line.procedure_group) {
            text.push_str(line.procedure_group.label("All procedures"));
            text.push('\n');
        }
        let strategy = format!("  {}", line.strategy_intended.label("All strategies"));
        text.push_str(&row(&strategy, cells(line)));
    }
    text
}

fn row(label: &str, (first, others): Cells) -> String {
    let mut line = format!("{label:<29}");
    for cell in [first].into_iter().chain(others) {
        line.push_str(&format!("{:>10}", format!(" {cell}")));
    }
    format!("{}\n", line.trim_end())
}
