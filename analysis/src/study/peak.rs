//! The highest point of a chart.

/// The height and the case, from 1, at which it was first reached.
pub(super) fn peak(heights: impl Iterator<Item = f64>) -> Option<(usize, f64)> {
    // The first of equal heights.
    let highest =
        heights.enumerate().max_by(|one, other| one.1.total_cmp(&other.1).then(other.0.cmp(&one.0)));
    highest.map(|(place, height)| (place + 1, height))
}
