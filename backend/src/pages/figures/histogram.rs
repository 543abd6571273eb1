//! How often values fall into each of a row of classes.

use maud::html;
use quietbeam_analysis::study::numerals::count;

use super::{Axis, Drawings, Figure, Svg, number, ticks};
use crate::pages::components::{Cell, Column, Table};

/// One class.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Bin {
    /// Its name under the axis: "1 to 2".
    pub(crate) label: String,
    /// How many fall into it; `None` where the count is not shown.
    pub(crate) cases: Option<u32>,
}

/// The classes in order.
pub(crate) struct Histogram {
    /// What is measured, with its unit.
    pub(crate) axis: String,
    /// What the reader should see in it.
    pub(crate) in_words: String,
    /// The classes.
    pub(crate) bins: Vec<Bin>,
}

impl Histogram {
    /// The figure.
    pub(crate) fn figure(&self, lead: &str, caption: &str) -> Figure<2> {
        Figure {
            lead: lead.to_owned(),
            caption: caption.to_owned(),
            drawings: Drawings { wide: self.draw(1_180.0, 300.0), narrow: self.draw(340.0, 280.0) },
            in_words: self.in_words.clone(),
            numbers: self.table(),
        }
    }

    fn table(&self) -> Table<2> {
        let cell = |bin: &Bin| bin.cases.map_or(Cell::NotShown, |cases| Cell::text(count(cases)));
        Table {
            caption: self.axis.clone(),
            columns: [Column::words(&self.axis), Column::numbers("Cases")],
            rows: self.bins.iter().map(|bin| [Cell::text(&bin.label), cell(bin)]).collect(),
        }
    }

    fn draw(&self, width: f64, height: f64) -> Svg {
        let bottom = height - 56.0;
        let highest = self.bins.iter().filter_map(|bin| bin.cases).max().unwrap_or(0);
        let marks = ticks(f64::from(highest));
        let top = marks.last().copied().unwrap_or(1.0);
        let y = Axis { values: (0.0, top), pixels: (bottom, 24.0) };
        let step = (width - 64.0) / self.bins.len().max(1) as f64;
        let every = (62.0 / step).ceil().max(1.0) as usize;
        let content = html! {
            defs {
                pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    path.hair d="M0 0V7" stroke-width="2" {}
                }
            }
            path.ink d={ "M48 24V" (number(bottom)) "H" (number(width - 12.0)) } {}
            @for tick in &marks {
                path.ink d={ "M43 " (number(y.at(*tick))) "h5" } {}
                text x="38" y=(number(y.at(*tick) + 5.0)) text-anchor="end" { (number(*tick)) }
            }
            text.quiet x="0" y="12" { "cases" }
            @for (at, bin) in self.bins.iter().enumerate() {
                @let x = 52.0 + step * at as f64;
                @match bin.cases {
                    Some(cases) => rect.ink-fill x=(number(x + 1.0)) y=(number(y.at(f64::from(cases))))
                        width=(number((step - 2.0).max(1.0))) height=(number(bottom - y.at(f64::from(cases)))) {},
                    None => rect x=(number(x + 1.0)) y=(number(bottom - 40.0)) width=(number((step - 2.0).max(1.0)))
                        height="40" fill="url(#hatch)" {},
                }
                @if at % every == 0 {
                    text x=(number(x + step / 2.0)) y=(number(bottom + 20.0)) text-anchor="middle" { (bin.label) }
                }
            }
            text.quiet x=(number(width / 2.0)) y=(number(height - 10.0)) text-anchor="middle" { (self.axis) }
        };
        Svg { width, height, content }
    }
}

#[cfg(test)]
mod tests {
    use maud::Render;

    use super::*;

    #[test]
    fn what_is_not_shown_has_no_bar_and_no_number() {
        let bin = |label: &str, cases| Bin { label: label.to_owned(), cases };
        let histogram = Histogram {
            axis: "air kerma, mGy".to_owned(),
            in_words: "most lie between 1 and 2 mGy.".to_owned(),
            bins: vec![bin("0 to 1", Some(7)), bin("1 to 2", None), bin("2 to 3", Some(0))],
        };
        let drawn = histogram.figure("Dose.", "Air kerma.").render().into_string();
        assert_eq!(drawn.matches("url(#hatch)").count(), 2);
        assert_eq!(drawn.matches("not shown").count(), 1);
        assert!(!drawn.contains("NaN"));
        let none = Histogram { bins: Vec::new(), ..histogram }.figure("Dose.", "").render().into_string();
        assert!(!none.contains("NaN") && !none.contains("inf"));
    }
}
