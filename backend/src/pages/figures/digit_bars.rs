//! How often each digit stood last, beside what chance would give.

use maud::{Markup, html};

use super::figure::{Size, Svg};
use super::hatch::not_shown;
use super::number;

/// The digits of one quantity.
pub(crate) struct DigitPanel {
    /// The quantity, and how many numbers.
    pub(crate) name: String,
    /// Each digit with how often it stood last; `None` where that is not shown.
    pub(crate) digits: Option<Vec<(u8, u32)>>,
}

/// The panels.
pub(crate) struct DigitBars(pub(crate) Vec<DigitPanel>);

const PANEL: f64 = 174.0;
const TALLEST: f64 = 96.0;

impl DigitBars {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let (across, height) = match size {
            Size::Wide => (410.0, PANEL),
            Size::Narrow => (0.0, PANEL * self.0.len() as f64),
        };
        let content = html! {
            @for (at, panel) in self.0.iter().enumerate() {
                @let down = if size == Size::Narrow { PANEL * at as f64 } else { 0.0 };
                g transform={ "translate(" (number(across * at as f64)) " " (number(down)) ")" } { (panel.draw()) }
            }
        };
        Svg { width: size.width(), height, content }
    }
}

impl DigitPanel {
    fn draw(&self) -> Markup {
        let (base, width) = (140.0, 330.0);
        html! {
            text.strong x="0" y="16" { (self.name) }
            @match &self.digits {
                Some(digits) => {
                    @let all: u32 = digits.iter().map(|(_, times)| times).sum();
                    @let even = f64::from(all) / digits.len().max(1) as f64;
                    @let most = digits.iter().map(|(_, times)| f64::from(*times)).fold(1.3 * even, f64::max).max(1.0);
                    @let step = width / digits.len().max(1) as f64;
                    @for (at, (digit, times)) in digits.iter().enumerate() {
                        @let height = TALLEST * f64::from(*times) / most;
                        @let x = step * at as f64;
                        rect.grey-fill x=(number(x + 3.0)) y=(number(base - height)) width=(number(step - 6.0)) height=(number(height)) {}
                        text x=(number(x + step / 2.0)) y=(number(base + 20.0)) text-anchor="middle" { (digit) }
                    }
                    @let y = number(base - TALLEST * even / most);
                    path.ink.dashed stroke-width="1.6" d={ "M0 " (y) "H" (number(width)) } {}
                },
                None => (not_shown(0.0, base - TALLEST, width, TALLEST)),
            }
            path.ink d={ "M0 " (number(base)) "H" (number(width)) } {}
        }
    }
}
