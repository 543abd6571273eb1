//! A bar of parts that make a whole, each told apart by its outline and filling.

use maud::{Markup, Render, html};

use super::number;

/// The parts.
pub(crate) struct PartsBar<'a> {
    /// How each looks, what it is called, and how many.
    pub(crate) parts: &'a [(&'static str, &'static str, u64)],
}

const WIDTH: f64 = 1000.0;
/// A part of one in thousands is still seen.
const LEAST: f64 = 6.0;

impl PartsBar<'_> {
    fn sentence(&self) -> String {
        let said = self.parts.iter().filter(|(.., count)| *count > 0);
        said.map(|(_, name, count)| format!("{count} {name}")).collect::<Vec<_>>().join(", ")
    }

    /// Where each part begins and how wide it is; together they fill the bar.
    fn places(&self) -> Vec<(&'static str, f64, f64)> {
        let whole: u64 = self.parts.iter().map(|(.., count)| count).sum();
        let width = |count: u64| match count {
            0 => 0.0,
            count => (WIDTH * count as f64 / whole.max(1) as f64).max(LEAST),
        };
        let drawn: f64 = self.parts.iter().map(|(.., count)| width(*count)).sum();
        let shrunk = if drawn > 0.0 { WIDTH / drawn } else { 0.0 };
        let mut at = 0.0;
        let mut places = Vec::new();
        for (look, _, count) in self.parts.iter().filter(|(.., count)| *count > 0) {
            let wide = width(*count) * shrunk;
            places.push((*look, at, wide));
            at += wide;
        }
        places
    }
}

impl Render for PartsBar<'_> {
    fn render(&self) -> Markup {
        html! {
            svg.parts-bar viewBox="0 0 1000 24" width="100%" height="24" preserveAspectRatio="none" role="img"
                aria-label=(self.sentence()) {
                @for (look, at, wide) in self.places() {
                    rect class={ "part " (look) } x=(number(at + 1.0)) y="1" width=(number((wide - 2.0).max(1.0)))
                        height="22" {}
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_fill_the_bar_and_a_small_one_is_seen() {
        let bar = PartsBar { parts: &[("a", "ready", 99_999), ("b", "refused", 1), ("c", "unchanged", 0)] };
        let places = bar.places();
        let drawn: f64 = places.iter().map(|(.., wide)| wide).sum();
        assert!((drawn - WIDTH).abs() < 1e-9 && places.len() == 2, "{places:?}");
        assert!(places.iter().all(|(.., wide)| *wide > 5.0), "{places:?}");
        assert_eq!(bar.sentence(), "99999 ready, 1 refused");
        assert!(PartsBar { parts: &[("a", "ready", 0)] }.places().is_empty());
    }
}
