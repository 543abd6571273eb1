//! Two bars a row, one for each arm: open above for zero-fluoroscopy, filled below for
//! conventional, both by the length that stands beside them.

use maud::html;

use super::figure::{Size, Svg};
use super::rows::Rows;
use super::{Axis, number};

/// One row.
pub(crate) struct PairRow {
    /// What is counted.
    pub(crate) label: String,
    /// The length of each bar.
    pub(crate) lengths: [f64; 2],
    /// What is said beside them.
    pub(crate) value: String,
}

/// The rows, on one scale from 0.
pub(crate) struct PairRows(pub(crate) Vec<PairRow>);

const KEY: f64 = 26.0;

impl PairRows {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let rows = Rows::new(size);
        let most = self.0.iter().flat_map(|row| row.lengths).fold(0.0, f64::max);
        let axis = Axis { values: (0.0, most.max(f64::MIN_POSITIVE)), pixels: rows.stretch() };
        let bar = |length: f64| number((axis.at(length) - axis.at(0.0)).max(0.0));
        let second = if size == Size::Wide { 190.0 } else { 160.0 };
        let content = html! {
            rect.open-bar x="1" y="4" width="24" height="9" {}
            text x="32" y="14" { "zero-fluoroscopy" }
            rect.ink-fill x=(number(second)) y="4" width="24" height="9" {}
            text x=(number(second + 32.0)) y="14" { "conventional" }
            g transform={ "translate(0 " (number(KEY)) ")" } {
                @for (at, row) in self.0.iter().enumerate() {
                    (rows.label(at, &row.label))
                    @let middle = rows.middle(at);
                    rect.open-bar x=(number(axis.at(0.0))) y=(number(middle - 10.0)) width=(bar(row.lengths[0])) height="9" {}
                    rect.ink-fill x=(number(axis.at(0.0))) y=(number(middle + 1.0)) width=(bar(row.lengths[1])) height="9" {}
                    (rows.value(at, &row.value))
                }
                (rows.base(self.0.len()))
            }
        };
        Svg { width: size.width(), height: KEY + rows.height(self.0.len()), content }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_share_one_scale_and_nothing_is_no_number() {
        let row = |lengths| PairRow { label: "Echo".to_owned(), lengths, value: "1 against 2".to_owned() };
        let drawn = PairRows(vec![row([1.0, 2.0]), row([0.0, 0.5])]).draw(Size::Wide).content.into_string();
        assert!(drawn.contains("width=\"300\"") && drawn.contains("width=\"600\""), "{drawn}");
        let none = PairRows(vec![row([0.0, 0.0])]).draw(Size::Narrow).content.into_string();
        assert!(!none.contains("NaN") && !none.contains("inf"), "{none}");
    }
}
