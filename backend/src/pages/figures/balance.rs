//! How alike the arms are, a line a variable: a cross before, a dot after, joined; the band
//! in which arms count as alike is shaded.

use maud::html;

use super::figure::{Size, Svg};
use super::{Axis, number};

/// One variable; sizes of standardised differences without their sign.
pub(crate) struct BalanceRow {
    /// Its name.
    pub(crate) name: String,
    /// Before weighting.
    pub(crate) before: Option<f64>,
    /// After.
    pub(crate) after: Option<f64>,
}

/// The figure.
pub(crate) struct BalancePlot {
    /// The lines.
    pub(crate) rows: Vec<BalanceRow>,
    /// Above it arms count as unlike.
    pub(crate) alike: f64,
}

impl BalancePlot {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let width = size.width();
        let (left, row, gap) = match size {
            Size::Wide => (300.0, 28.0, 0.0),
            Size::Narrow => (8.0, 46.0, 20.0),
        };
        let most = self.rows.iter().flat_map(|row| [row.before, row.after]).flatten().fold(0.25, f64::max);
        let most = (most * 10.0).ceil() / 10.0;
        let axis = Axis { values: (0.0, most), pixels: (left, width - 24.0) };
        let base = 30.0 + row * self.rows.len() as f64 + 6.0;
        let content = html! {
            rect.side-fill x=(number(left)) y="24" width=(number(axis.at(self.alike) - left)) height=(number(base - 24.0)) {}
            text.quiet x=(number(axis.at(self.alike) + 6.0)) y="16" text-anchor="middle" { "below " (self.alike) }
            path.ink.dashed d={ "M" (number(axis.at(self.alike))) " 24V" (number(base)) } {}
            path.ink d={ "M" (number(left)) " 24V" (number(base)) "H" (number(width - 24.0)) } {}
            @for (at, line) in self.rows.iter().enumerate() {
                @let top = 30.0 + row * at as f64;
                @let y = top + gap + 14.0;
                text.halo x=(number(if gap > 0.0 { left + 6.0 } else { 0.0 })) y=(number(top + 18.0)) { (line.name) }
                @if let (Some(before), Some(after)) = (line.before, line.after) {
                    path.grey-line d={ "M" (number(axis.at(before))) " " (number(y)) "H" (number(axis.at(after))) } {}
                }
                @if let Some(before) = line.before {
                    path.ink stroke-width="1.8" d={ "M" (number(axis.at(before) - 5.0)) " " (number(y - 5.0)) "l10 10m0 -10l-10 10" } {}
                }
                @if let Some(after) = line.after { circle.ink-fill cx=(number(axis.at(after))) cy=(number(y)) r="5" {} }
                @if line.before.is_none() && line.after.is_none() {
                    text.quiet.halo x=(number(axis.at(self.alike) + 10.0)) y=(number(y + 5.0)) { "cannot be estimated" }
                }
            }
            @for tenth in 0..=((most * 10.0).round() as u32) {
                @let x = axis.at(f64::from(tenth) / 10.0);
                @if most < 1.05 || tenth % 5 == 0 {
                    path.ink d={ "M" (number(x)) " " (number(base)) "v6" } {}
                    text x=(number(x)) y=(number(base + 22.0)) text-anchor="middle" { (f64::from(tenth) / 10.0) }
                }
            }
            text.quiet x=(number((left + width) / 2.0)) y=(number(base + 44.0)) text-anchor="middle" { "standardised difference (size)" }
        };
        Svg { width, height: base + 50.0, content }
    }
}
