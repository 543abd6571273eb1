//! A share as squares of a hundred: filled where the beam was on. Rounded with the printed rate, so
//! that the drawing says no more than the words.

use maud::{Markup, html};

use super::figure::{BESIDE_A_MARGIN, Size, Svg};
use super::hatch::not_shown;
use super::number;

/// One group.
pub(crate) struct Hundred {
    /// Whose hundred, with the number in words.
    pub(crate) name: String,
    /// How many of the hundred are filled; `None` where it is not shown.
    pub(crate) filled: Option<u8>,
}

/// The groups beside one another, or on a phone below.
pub(crate) struct Squares(pub(crate) [Hundred; 2]);

const STEP: f64 = 15.5;
const SIDE: f64 = 11.0;
const ROWS: usize = 5;
const A_ROW: usize = 20;
const HEIGHT: f64 = 26.0 + STEP * ROWS as f64;

impl Squares {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let place = |at: usize| match size {
            Size::Wide => (at as f64 * 400.0, 0.0),
            Size::Narrow => (0.0, at as f64 * (HEIGHT + 18.0)),
        };
        let content = html! {
            @for (at, hundred) in self.0.iter().enumerate() {
                @let (x, y) = place(at);
                g transform={ "translate(" (number(x)) " " (number(y)) ")" } { (hundred.draw()) }
            }
        };
        let height = place(1).1 + HEIGHT;
        let width = match size {
            Size::Wide => BESIDE_A_MARGIN,
            Size::Narrow => size.width(),
        };
        Svg { width, height, content }
    }
}

impl Hundred {
    fn draw(&self) -> Markup {
        html! {
            text.strong x="0" y="14" { (self.name) }
            @match self.filled {
                Some(filled) => @for square in 0..ROWS * A_ROW {
                    @let (x, y) = ((square % A_ROW) as f64 * STEP, 24.0 + (square / A_ROW) as f64 * STEP);
                    rect class=(if square < usize::from(filled) { "ink-fill" } else { "edge" })
                        x=(number(x + 0.5)) y=(number(y + 0.5)) width=(SIDE) height=(SIDE) {}
                },
                None => (not_shown(0.0, 24.0, STEP * A_ROW as f64, STEP * ROWS as f64)),
            }
        }
    }
}
