//! The place of a number that is not shown: diagonal lines behind the words, without any
//! height or position that could tell what stands there.

use maud::{Markup, html};

use super::number;

/// The distance of two lines.
const STEP: f64 = 8.0;

/// A rectangle of hatching with "not shown" on it, upright where there is no room across.
pub(super) fn not_shown(x: f64, y: f64, width: f64, height: f64) -> Markup {
    let (middle, centre) = (x + width / 2.0, y + height / 2.0);
    let turned = (width < 76.0).then(|| format!("rotate(-90 {} {})", number(middle), number(centre)));
    html! {
        path.hatch d=(lines(x, y, width, height)) {}
        text.quiet.halo x=(number(middle)) y=(number(centre + 5.0)) text-anchor="middle" transform=[turned] {
            "not shown"
        }
    }
}

/// Rising lines, cut off at the rectangle.
fn lines(x: f64, y: f64, width: f64, height: f64) -> String {
    let mut path = String::new();
    let mut offset = STEP;
    while offset < width + height {
        // The line goes from the left or lower side to the upper or right one.
        let from = (x + (offset - height).max(0.0), y + offset.min(height));
        let to = (x + offset.min(width), y + (offset - width).max(0.0));
        path.push_str(&format!("M{} {}L{} {}", number(from.0), number(from.1), number(to.0), number(to.1)));
        offset += STEP;
    }
    path
}
