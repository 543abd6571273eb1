//! Figures as SVG, drawn by ourselves. Each says in words what it shows and gives its
//! numbers as a table, so that nothing can be seen that cannot be read.

// Some parts are laid down before the page that will be made of them.
#![allow(dead_code, unused_imports)]

mod axis;
mod course;
mod denominator_bar;
mod histogram;
mod strand;
mod time_share;

use maud::{Markup, Render, html};

use super::components::Table;

pub(crate) use axis::{Axis, ticks};
pub(crate) use course::Course;
pub(crate) use denominator_bar::DenominatorBar;
pub(crate) use histogram::{Bin, Histogram};
pub(crate) use strand::{Place, Strand, Stretch};
pub(crate) use time_share::{QuarterShare, TimeShare};

/// One figure of a page.
pub(crate) struct Figure<const N: usize> {
    /// "Figure 1.", or what it is about in one word.
    pub(crate) lead: String,
    /// What against what, and what lines and sizes mean.
    pub(crate) caption: String,
    /// The drawing for a desk and the one for a phone.
    pub(crate) drawings: Drawings,
    /// What it shows, in one or two sentences.
    pub(crate) in_words: String,
    /// Its numbers.
    pub(crate) numbers: Table<N>,
}

/// The drawing, once for a wide and once for a narrow page; never one shrunk.
pub(crate) struct Drawings {
    /// About 1,180 wide.
    pub(crate) wide: Svg,
    /// About 340 wide.
    pub(crate) narrow: Svg,
}

/// A drawing with its size.
pub(crate) struct Svg {
    /// Its width in px at full size.
    pub(crate) width: f64,
    /// Its height.
    pub(crate) height: f64,
    /// What is drawn.
    pub(crate) content: Markup,
}

impl Svg {
    fn draw(&self, class: &str, says: &str) -> Markup {
        html! {
            svg class=(class) viewBox={ "0 0 " (number(self.width)) " " (number(self.height)) } role="img"
                aria-label=(says) { (self.content) }
        }
    }
}

impl<const N: usize> Render for Figure<N> {
    fn render(&self) -> Markup {
        html! {
            figure.figure {
                figcaption { b { (self.lead) } " " (self.caption) }
                (self.drawings.wide.draw("wide-only", &self.in_words))
                (self.drawings.narrow.draw("narrow-only", &self.in_words))
                p.words-of { "In words: " (self.in_words) }
                details { summary { "Numbers as a table" } (self.numbers) }
            }
        }
    }
}

/// A coordinate with at most two decimals.
pub(crate) fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short() {
        for (value, expected) in [(0.0, "0"), (-0.001, "0"), (12.5, "12.5"), (2.71499, "2.71"), (-7.0, "-7")]
        {
            assert_eq!(number(value), expected);
        }
    }
}
