//! The tables of a summary as delimited text, and the mark of what they do not show.

use csv::{Terminator, WriterBuilder};
use maud::{Markup, html};
use quietbeam_analysis::study::summary::{NamedTable, PublishedComparison, TableCell};

use super::Published;
use crate::api::Problem;

/// What the mark of everything that is not shown means.
pub(super) fn hatched() -> Markup {
    html! { "Hatched: not shown, so that nobody can be recognised, directly or by subtraction." }
}

/// Every table of a summary as one, a line a cell: easy to read for programs, and complete. The numbers by
/// which counts were hidden are the last of them.
pub(super) fn as_text(published: &Published) -> Result<Vec<u8>, Problem> {
    let summary = &published.said.summary;
    let mut tables = summary.all_tables();
    tables.extend(summary.comparison.iter().map(PublishedComparison::differences));
    tables.push(summary.disclosure.table());
    written(&tables).map_err(|error| {
        tracing::error!(%error, "the tables of a summary cannot be written");
        Problem::broken()
    })
}

fn written(tables: &[NamedTable]) -> Result<Vec<u8>, csv::Error> {
    let mut lines = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    lines.write_record([
        "table",
        "row",
        "row_label",
        "column",
        "column_label",
        "shown",
        "value",
        "share_of_cases",
    ])?;
    for table in tables {
        for row in &table.rows {
            for (column, cell) in table.columns.iter().zip(&row.cells) {
                let [shown, value, share] = values(cell);
                lines.write_record([
                    &table.key,
                    &row.key,
                    &row.label,
                    &column.key,
                    &column.label,
                    &shown,
                    &value,
                    &share,
                ])?;
            }
        }
    }
    lines.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

/// Whether it is shown (yes, no, or none where there is nothing to show), its value and its share of the cases.
fn values(cell: &TableCell) -> [String; 3] {
    let share = match cell {
        TableCell::Part(part) => {
            part.share_of_cases.or_else(|| part.whole_percent.map(|percent| f64::from(percent) / 100.0))
        }
        _ => None,
    };
    let value = match cell {
        TableCell::Quantity(number) => number.to_string(),
        other => other.count().map_or_else(String::new, |count| count.to_string()),
    };
    let shown = match cell {
        TableCell::OfNone => "none",
        cell if cell.is_hidden() => "no",
        _ => "yes",
    };
    [shown.to_owned(), value, share.map_or_else(String::new, |share| share.to_string())]
}
