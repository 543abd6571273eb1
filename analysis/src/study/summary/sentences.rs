//! What a summary says in plain sentences, made of numbers that are shown and of no other.

use super::super::numerals;
use super::super::published::{Published, PublishedPart};
use super::{SafetySummary, TableCell};
use quietbeam_schema::vocabulary::{Coded, SummaryTable};

impl SafetySummary {
    /// Whose cases it counts: the period that was asked for where it is not of whole years, else the
    /// years with cases.
    pub fn period_in_words(&self) -> String {
        let period = self.design.period();
        let first = period.first.filter(|first| first.quarter() != 1);
        let last = period.last.filter(|last| last.quarter() != 4);
        if first.is_some() || last.is_some() {
            return period.to_string();
        }
        match (self.first_year, self.last_year) {
            (Some(first), Some(last)) if first != last => format!("{first} to {last}"),
            (Some(year), _) => year.to_string(),
            _ => "none".to_owned(),
        }
    }

    /// How many of the eligible procedures were sent in, where both are told.
    pub fn capture_in_words(&self) -> Option<String> {
        let table = self.tables.iter().find(|table| table.key == SummaryTable::Capture.code())?;
        let cells = &table.rows.iter().find(|row| row.key == "all")?.cells;
        let (Some(TableCell::Count(Published::Shown(eligible))), Some(TableCell::Part(sent))) =
            (cells.first(), cells.get(1))
        else {
            return None;
        };
        let PublishedPart { count: Published::Shown(sent_in), .. } = sent else { return None };
        let percent = sent.percent()?;
        Some(format!(
            "Of {} eligible procedures in signed screening logs, {} ({percent}) were sent in.",
            numerals::count(*eligible),
            numerals::count(*sent_in)
        ))
    }
}
