//! Which column alone separates events from non-events.

use super::column::Column;
use super::design::Design;

/// The first column, from 1, of which some value divides events from non-events: no event lies
/// on one side and no non-event on the other, ties at the value itself allowed.
///
/// Formula: max over non-events ≤ min over events, or max over events ≤ min over non-events.
/// Units: columns are counted from 1.
/// Edges: a constant column separates nothing; `None` does not exclude that a combination does.
/// Source: [albert_anderson1984].
/// Checked: tests/numbers/logistic.rs.
pub fn separating_column(design: &Design, events: &[bool]) -> Option<usize> {
    let separates = |column: &Column| {
        // Smallest and largest value without and with the event.
        let mut range = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
        for (value, event) in column.iter().zip(events) {
            let [low, high] = &mut range[usize::from(*event)];
            (*low, *high) = (low.min(value), high.max(value));
        }
        let [without, with] = range;
        let varies = without[0].min(with[0]) < without[1].max(with[1]);
        varies && (without[1] <= with[0] || with[1] <= without[0])
    };
    (0..design.columns()).find(|j| separates(design.column(*j))).map(|j| j + 1)
}
