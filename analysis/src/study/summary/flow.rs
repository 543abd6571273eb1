//! From every case of a summary to those that its comparison compares, and how they went, as far as its
//! tables tell.

use super::super::arm::{Arm, ByArm};
use super::super::numerals;
use super::super::published::Published;
use super::{NamedTable, SafetySummary};
use quietbeam_schema::vocabulary::{Coded, SummaryTable};

/// How many cases were compared. What follows from two counts that are told is told too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublishedFlow {
    /// Eligible procedures by signed logs, where the summary tells how many.
    pub eligible: Option<PublishedEligible>,
    /// Cases of the summary.
    pub cases: Published,
    /// Those in neither arm.
    pub in_neither_arm: Published,
    /// Both arms.
    pub arms: ByArm<PublishedArm>,
}

/// Eligible procedures before they were cases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublishedEligible {
    /// By the signed logs.
    pub eligible: Published,
    /// Of these, not sent in.
    pub not_sent_in: Published,
    /// Cases of quarters whose log is not signed.
    pub without_log: Published,
}

/// One arm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublishedArm {
    /// Cases as intended.
    pub as_intended: Published,
    /// Less: crossed over.
    pub crossed_over: Published,
    /// Went as intended.
    pub per_protocol: Published,
}

impl SafetySummary {
    /// The flow of the comparison that it publishes; nothing where it tells neither arm.
    pub fn comparison_flow(&self) -> Option<PublishedFlow> {
        let mut tables = self.comparison_tables();
        let as_intended = tables.next()?;
        let per_protocol = tables.next();
        let arm = |arm: Arm| {
            let told = |table: Option<&NamedTable>| {
                table.map_or(Published::Hidden, |table| told_in(table, "cases", column_of(arm)))
            };
            let (as_intended, per_protocol) = (told(Some(as_intended)), told(per_protocol));
            let crossed_over = match (as_intended, per_protocol) {
                (Published::Shown(all), Published::Shown(kept)) => Published::Shown(all.saturating_sub(kept)),
                _ => Published::Hidden,
            };
            PublishedArm { as_intended, crossed_over, per_protocol }
        };
        let arms = ByArm::from_fn(arm);
        let capture = self.tables.iter().find(|table| table.key == SummaryTable::Capture.code());
        let flow = PublishedFlow {
            eligible: capture.map(eligible_of).filter(|of| of.eligible != Published::Hidden),
            cases: told_in(as_intended, "cases", "all"),
            in_neither_arm: told_in(as_intended, "cases", "in_neither_arm"),
            arms,
        };
        arms.each().iter().any(|(_, arm)| arm.as_intended != Published::Hidden).then_some(flow)
    }
}

fn eligible_of(capture: &NamedTable) -> PublishedEligible {
    let all = |column| told_in(capture, "all", column);
    PublishedEligible {
        eligible: all("eligible"),
        not_sent_in: all("not_sent_in"),
        without_log: all("without_log"),
    }
}

/// What the tables of a comparison call the column of an arm.
fn column_of(arm: Arm) -> &'static str {
    match arm {
        Arm::ZeroFluoroscopy => "zero_fluoroscopy",
        Arm::Conventional => "conventional",
    }
}

/// A count by the keys of its row and column.
fn told_in(table: &NamedTable, row: &str, column: &str) -> Published {
    let row = table.rows.iter().find(|own| own.key == row);
    let column = table.columns.iter().position(|own| own.key == column);
    let cell = row.zip(column).and_then(|(row, column)| row.cells.get(column));
    cell.and_then(|cell| cell.count()).map_or(Published::Hidden, Published::Shown)
}

impl PublishedFlow {
    /// The same in two sentences.
    pub fn in_words(&self) -> String {
        let told = |count: Published| match count {
            Published::Shown(count) => numerals::count(count),
            Published::Hidden => "a number not shown".to_owned(),
        };
        let all = match self.cases {
            Published::Shown(cases) => format!("{} cases", numerals::count(cases)),
            Published::Hidden => "all cases".to_owned(),
        };
        let [zero, conventional] = [self.arms.zero_fluoroscopy, self.arms.conventional];
        format!(
            "Of {all}, {} are in the zero-fluoroscopy arm, {} in the conventional one and {} in neither. Of the first arm {} crossed over, of the second {}.",
            told(zero.as_intended),
            told(conventional.as_intended),
            told(self.in_neither_arm),
            told(zero.crossed_over),
            told(conventional.crossed_over),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_hidden_still_reads_as_a_sentence() {
        let arm = |as_intended| PublishedArm {
            as_intended: Published::Shown(as_intended),
            crossed_over: Published::Hidden,
            per_protocol: Published::Hidden,
        };
        let flow = PublishedFlow {
            eligible: None,
            cases: Published::Hidden,
            in_neither_arm: Published::Hidden,
            arms: ByArm { zero_fluoroscopy: arm(2_147), conventional: arm(2_006) },
        };
        assert_eq!(
            flow.in_words(),
            "Of all cases, 2,147 are in the zero-fluoroscopy arm, 2,006 in the conventional one and a number not shown in neither. Of the first arm a number not shown crossed over, of the second a number not shown."
        );
    }
}
