//! The frame of a figure: caption, drawing, what it says in words, its numbers as a table.

use maud::{Markup, Render, html};

use super::number;
use crate::pages::components::{Table, as_blocks};

/// One figure of a page.
pub(crate) struct Figure<const N: usize> {
    /// Its anchor.
    pub(crate) id: &'static str,
    /// "Figure 1."
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

impl<const N: usize> Render for Figure<N> {
    fn render(&self) -> Markup {
        html! {
            figure.figure id=(self.id) {
                figcaption { b { (self.lead) } " " (self.caption) }
                (self.drawings.wide.draw("on-a-desk", &self.in_words))
                (self.drawings.narrow.draw("on-a-phone", &self.in_words))
                p.words-of { "In words: " (self.in_words) }
                details { summary { "Numbers as a table" } @if N > 3 { (as_blocks(&self.numbers)) } @else { (self.numbers) } }
            }
        }
    }
}

/// Which of the two drawings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Size {
    /// For a desk.
    Wide,
    /// For a phone, and for paper.
    Narrow,
}

/// The width on a desk beside the margin of a page: less than the whole.
pub(crate) const BESIDE_A_MARGIN: f64 = 760.0;

impl Size {
    /// Its width.
    pub(crate) fn width(self) -> f64 {
        match self {
            Self::Wide => 1_180.0,
            Self::Narrow => 340.0,
        }
    }
}

/// The drawing, once for a wide and once for a narrow page; never one shrunk.
pub(crate) struct Drawings {
    wide: Svg,
    narrow: Svg,
}

impl Drawings {
    /// Both, by the same hand.
    pub(crate) fn of(draw: impl Fn(Size) -> Svg) -> Self {
        Self { wide: draw(Size::Wide), narrow: draw(Size::Narrow) }
    }
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

/// The height of a heading inside a drawing.
const HEADING: f64 = 34.0;

impl Svg {
    /// Drawings under one another, each under its heading.
    pub(crate) fn stack(parts: Vec<(&str, Svg)>) -> Self {
        let width = parts.iter().map(|(_, part)| part.width).fold(0.0, f64::max);
        let whole = |part: &Svg| HEADING + part.height + 14.0;
        let tops = parts.iter().scan(0.0, |next, (_, part)| {
            let top = *next;
            *next += whole(part);
            Some(top)
        });
        let height = parts.iter().map(|(_, part)| whole(part)).sum();
        let content = html! {
            @for ((heading, part), top) in parts.iter().zip(tops) {
                text.strong x="0" y=(number(top + 16.0)) { (heading) }
                g transform={ "translate(0 " (number(top + HEADING)) ")" } { (part.content) }
            }
        };
        Self { width, height, content }
    }

    /// A drawing without a mark is none; the words stand beside it all the same.
    fn is_blank(&self) -> bool {
        !["<path", "<line", "<rect", "<circle", "<poly", "<text", "<use"]
            .iter()
            .any(|mark| self.content.0.contains(mark))
    }

    /// The drawing as it stands in a page; `says` is read out in its place.
    pub(crate) fn draw(&self, class: &str, says: &str) -> Markup {
        if self.is_blank() {
            return Markup::default();
        }
        html! {
            svg class=(class) viewBox={ "0 0 " (number(self.width)) " " (number(self.height)) } role="img"
                aria-label=(says) { (self.content) }
        }
    }
}
