//! Rows of bars: a label, a stretch to draw on, a value. On a desk they stand beside one
//! another, on a phone the label stands above.

use maud::{Markup, html};

use super::figure::Size;
use super::number;

/// Where the parts of each row lie.
#[derive(Clone, Copy)]
pub(super) struct Rows {
    size: Size,
}

impl Rows {
    pub(super) fn new(size: Size) -> Self {
        Self { size }
    }

    /// The height of so many rows.
    pub(super) fn height(self, rows: usize) -> f64 {
        self.step() * rows.max(1) as f64 + 4.0
    }

    fn step(self) -> f64 {
        match self.size {
            Size::Wide => 34.0,
            Size::Narrow => 52.0,
        }
    }

    /// From where to where bars are drawn.
    pub(super) fn stretch(self) -> (f64, f64) {
        match self.size {
            Size::Wide => (330.0, 930.0),
            Size::Narrow => (1.0, 208.0),
        }
    }

    /// The height of the middle of a row's bar.
    pub(super) fn middle(self, row: usize) -> f64 {
        self.step() * row as f64
            + match self.size {
                Size::Wide => 17.0,
                Size::Narrow => 34.0,
            }
    }

    pub(super) fn label(self, row: usize, label: &str) -> Markup {
        let y = match self.size {
            Size::Wide => self.middle(row) + 5.0,
            Size::Narrow => self.middle(row) - 17.0,
        };
        html! { text x="0" y=(number(y)) { (label) } }
    }

    pub(super) fn value(self, row: usize, value: &str) -> Markup {
        let y = number(self.middle(row) + 5.0);
        html! {
            @match self.size {
                Size::Wide => text x="950" y=(y) { (value) },
                Size::Narrow => text x="340" y=(y) text-anchor="end" { (value) },
            }
        }
    }

    /// The line at which bars begin.
    pub(super) fn base(self, rows: usize) -> Markup {
        let (from, _) = self.stretch();
        html! {
            @match self.size {
                Size::Wide => path.ink d={ "M" (number(from)) " 0V" (number(self.height(rows))) } {},
                Size::Narrow => @for row in 0..rows {
                    path.ink d={ "M" (number(from)) " " (number(self.middle(row) - 12.0)) "v24" } {}
                },
            }
        }
    }
}
