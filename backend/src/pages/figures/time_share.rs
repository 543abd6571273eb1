//! A share over quarters, with how many cases stand behind each point.

use maud::html;
use quietbeam_analysis::study::numerals::{count, share};
use quietbeam_schema::period::Quarter;

use super::{Axis, Drawings, Figure, Svg, number};
use crate::pages::components::{Cell, Column, Table};

/// One quarter.
#[derive(Debug, Clone, Copy)]
pub(crate) struct QuarterShare {
    /// The quarter.
    pub(crate) quarter: Quarter,
    /// Cases of the kind that is counted.
    pub(crate) with: u32,
    /// All cases of the quarter.
    pub(crate) of: u32,
}

/// The share of one kind of case over time.
pub(crate) struct TimeShare {
    /// What is counted: "cases without X-ray".
    pub(crate) what: &'static str,
    /// The quarters in order.
    pub(crate) quarters: Vec<QuarterShare>,
}

impl TimeShare {
    /// The figure.
    pub(crate) fn figure(&self, lead: &str) -> Figure<3> {
        Figure {
            lead: lead.to_owned(),
            caption: format!(
                "Share of {} by quarter. Below each point: how many cases stand behind it.",
                self.what
            ),
            drawings: Drawings { wide: self.draw(1_180.0, 300.0), narrow: self.draw(340.0, 260.0) },
            in_words: self.sentence(),
            numbers: self.table(),
        }
    }

    fn sentence(&self) -> String {
        let known: Vec<&QuarterShare> = self.quarters.iter().filter(|point| point.of > 0).collect();
        match known.as_slice() {
            [] => format!("there are no cases yet of which {} could be a share.", self.what),
            [only] => format!("{} in {}.", share(only.with, only.of, 0), only.quarter),
            [first, .., last] => format!(
                "{}: {} in {}, {} in {}.",
                self.what,
                share(first.with, first.of, 0),
                first.quarter,
                share(last.with, last.of, 0),
                last.quarter
            ),
        }
    }

    fn table(&self) -> Table<3> {
        let row = |point: &QuarterShare| {
            [
                Cell::text(point.quarter.to_string()),
                Cell::text(share(point.with, point.of, 1)),
                Cell::text(count(point.of)),
            ]
        };
        Table {
            caption: format!("Share of {} by quarter", self.what),
            columns: [Column::words("Quarter"), Column::numbers("Share"), Column::numbers("Cases")],
            rows: self.quarters.iter().map(row).collect(),
        }
    }

    fn draw(&self, width: f64, height: f64) -> Svg {
        let bottom = height - 56.0;
        let last = self.quarters.len().saturating_sub(1).max(1) as f64;
        let x = Axis { values: (0.0, last), pixels: (66.0, width - 30.0) };
        let y = Axis { values: (0.0, 1.0), pixels: (bottom, 24.0) };
        // Narrow drawings name every other quarter, so that names never touch.
        let every = (self.quarters.len() as f64 * 58.0 / (width - 96.0)).ceil().max(1.0) as usize;
        let known = self.quarters.iter().enumerate().filter(|(_, point)| point.of > 0);
        let points: Vec<(f64, f64)> = known
            .map(|(at, point)| (x.at(at as f64), y.at(f64::from(point.with) / f64::from(point.of))))
            .collect();
        let line: String = points
            .iter()
            .enumerate()
            .map(|(at, (px, py))| {
                format!("{}{} {}", if at == 0 { "M" } else { "L" }, number(*px), number(*py))
            })
            .collect();
        let content = html! {
            path.ink d={ "M48 24V" (number(bottom)) "H" (number(width - 12.0)) } {}
            @for tick in [0.0, 0.25, 0.5, 0.75, 1.0] {
                path.ink d={ "M43 " (number(y.at(tick))) "h5" } {}
                text x="38" y=(number(y.at(tick) + 5.0)) text-anchor="end" { (number(100.0 * tick)) }
            }
            text.quiet x="0" y="12" { "share, %" }
            path.ink stroke-width="2" d=(line) {}
            @for (px, py) in &points { circle.ink-fill cx=(number(*px)) cy=(number(*py)) r="4" {} }
            @for (at, point) in self.quarters.iter().enumerate() {
                @let px = number(x.at(at as f64));
                path.ink d={ "M" (px) " " (number(bottom)) "v5" } {}
                @if at % every == 0 {
                    text x=(px) y=(number(bottom + 22.0)) text-anchor="middle" { (point.quarter) }
                    text.quiet x=(px) y=(number(bottom + 40.0)) text-anchor="middle" { (count(point.of)) }
                }
            }
        };
        Svg { width, height, content }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use maud::Render;

    use super::*;

    fn shares(points: &[(u32, u32)]) -> TimeShare {
        let mut quarter = Quarter::new(2025, 1).unwrap();
        let quarters = points
            .iter()
            .map(|(with, of)| {
                let point = QuarterShare { quarter, with: *with, of: *of };
                quarter = quarter.next();
                point
            })
            .collect();
        TimeShare { what: "cases without X-ray", quarters }
    }

    #[test]
    fn says_the_first_and_the_last_quarter() {
        let said = shares(&[(3, 10), (0, 0), (18, 24)]).sentence();
        assert_eq!(said, "cases without X-ray: 3/10 (30 %) in 2025Q1, 18/24 (75 %) in 2025Q3.");
    }

    #[test]
    fn quarters_without_cases_leave_no_point() {
        for points in [&[][..], &[(0, 0)], &[(1, 1)], &[(0, 5), (0, 0), (5, 5)]] {
            let drawn = shares(points).figure("Figure 1.").render().into_string();
            assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
            let known = points.iter().filter(|(_, of)| *of > 0).count();
            assert_eq!(drawn.matches("<circle").count(), 2 * known);
        }
    }
}
