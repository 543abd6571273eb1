//! A centre's own counts beside those that were published of the whole network.

use super::counted::{Asked, Counted, Names};
use super::layouts::layouts;
use super::table::{NamedTable, TableCell, outcomes};
use super::{SafetySummary, SummaryError, lines};
use crate::methods::disclosure::Profile;
use crate::study::cohort::Cohort;
use std::collections::BTreeSet;

/// A table of a summary with what one centre has in the same places.
#[derive(Debug, Clone, PartialEq)]
pub struct TableBeside {
    /// As it was published.
    pub published: NamedTable,
    /// For each row and column what the centre has; nothing where none of its cases stands.
    pub own: Vec<Vec<Option<TableCell>>>,
}

/// Every table of a summary with a centre's own counts beside. Nothing of the centre's own is
/// hidden from it; of all others it sees what everyone sees.
///
/// # Errors
/// When the cases cannot be counted.
pub fn beside(own: &Cohort, summary: &SafetySummary) -> Result<Vec<TableBeside>, SummaryError> {
    let own = own_tables(own, summary)?;
    let beside = |published: NamedTable| {
        let of = own.iter().find(|table| table.key == published.key);
        let own = rows_of(of, &published);
        TableBeside { published, own }
    };
    Ok(summary.all_tables().into_iter().map(beside).collect())
}

/// The tables as they would be if nobody else had taken part, with nothing hidden.
fn own_tables(own: &Cohort, summary: &SafetySummary) -> Result<Vec<NamedTable>, SummaryError> {
    // Quartiles of one centre's doses are the centre's own, if there are enough of them to say anything.
    let alone = Profile { least_centres: 1, dominance: 0, ..Profile::STRICT };
    let plan = summary.plan();
    let names = Names::of([(own, plan)].into_iter());
    let per_protocol = summary.tells_per_protocol();
    let asked = Asked { cohort: own, design: &summary.design, plan, per_protocol, names: &names };
    let counted = Counted::new(asked)?;
    let nothing = BTreeSet::new();
    let further = layouts(&summary.design, &counted).into_iter();
    let further = further.map(|layout| layout.filled(&counted, &nothing, alone));
    Ok([outcomes(&lines(&counted, &nothing))].into_iter().chain(further).collect())
}

/// A centre's cells in the places of a published table, found by the keys: its years may be others.
fn rows_of(own: Option<&NamedTable>, published: &NamedTable) -> Vec<Vec<Option<TableCell>>> {
    let cell = |row: &str, column: &str| {
        let own = own?;
        let row = own.rows.iter().find(|own| own.key == row)?;
        let at = own.columns.iter().position(|own| own.key == column)?;
        row.cells.get(at).copied()
    };
    let row =
        |row: &super::TableRow| published.columns.iter().map(|column| cell(&row.key, &column.key)).collect();
    published.rows.iter().map(row).collect()
}
