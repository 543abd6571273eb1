//! Rows of a set told apart by their group.

use super::column::Column;
use super::table::{Row, Table};
use super::trouble::{Shown, Trouble, Wrong};

/// What the rows of two groups say, in the order of the rows.
pub(super) struct TwoGroups<T> {
    pub(super) first: Vec<T>,
    pub(super) second: Vec<T>,
}

const TWO: &str = "1 for the first group, 2 or 0 for the second";

/// The column that tells two groups apart.
pub(super) const OF_TWO: Column = Column::value("group", TWO);

impl<T> TwoGroups<T> {
    pub(super) fn read(
        table: &Table,
        value: impl Fn(Row<'_>) -> Result<T, Trouble>,
    ) -> Result<Self, Trouble> {
        let (mut first, mut second) = (Vec::new(), Vec::new());
        let mut code = None;
        for row in table.rows() {
            if row.one_of("group", TWO, &[("1", true), ("2", false), ("0", false)])? {
                first.push(value(row)?);
                continue;
            }
            let this = row.text("group");
            let before = *code.get_or_insert(this);
            if before != this {
                return Err(row.trouble("group", Wrong::GroupCodes(Shown::of(before), Shown::of(this))));
            }
            second.push(value(row)?);
        }
        Ok(Self { first, second })
    }
}

/// What the rows of each group say, the groups in the order in which they appear.
pub(super) struct ByGroup<T>(pub(super) Vec<(String, Vec<T>)>);

/// The column that names a group, where there is more than one.
pub(super) const NAMED: Column =
    Column::value("group", "the name of the group; each has a result").optional();

impl<T> ByGroup<T> {
    pub(super) fn read(
        table: &Table,
        value: impl Fn(Row<'_>) -> Result<T, Trouble>,
    ) -> Result<Self, Trouble> {
        let mut groups: Vec<(String, Vec<T>)> = Vec::new();
        for row in table.rows() {
            let name = if table.has("group") { row.filled("group", "the name of the group")? } else { "" };
            let place = groups.iter().rposition(|(known, _)| known == name).unwrap_or_else(|| {
                groups.push((name.to_owned(), Vec::new()));
                groups.len() - 1
            });
            groups[place].1.push(value(row)?);
        }
        Ok(Self(groups))
    }
}
