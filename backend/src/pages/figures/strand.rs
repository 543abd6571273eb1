//! The strand: a thin line for completeness. Continuous where filled, dotted where empty, a
//! spike up where something must be mended, an open dip where something is to be answered.

use maud::{Markup, Render, html};

use super::number;
use crate::pages::words::{capital, counted};

/// How one field stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// Filled in.
    Filled,
    /// Still empty.
    Empty,
    /// Refused until mended.
    MustBeMended,
    /// Refused until filled in.
    Missing,
    /// A question waits.
    ToAnswer,
}

/// The fields of one section, in order.
pub(crate) struct Stretch {
    /// The section's short name.
    pub(crate) label: String,
    /// Where its name leads.
    pub(crate) to: String,
    /// Its fields.
    pub(crate) places: Vec<Place>,
}

/// A strand of one or more sections.
pub(crate) struct Strand(pub(crate) Vec<Stretch>);

impl Strand {
    fn places(&self) -> impl Iterator<Item = Place> + '_ {
        self.0.iter().flat_map(|stretch| stretch.places.iter().copied())
    }

    /// How many fields stand so.
    pub(crate) fn count(&self, wanted: Place) -> usize {
        self.places().filter(|place| *place == wanted).count()
    }

    /// Filled and all fields; what must be mended or answered is filled in too.
    pub(crate) fn filled(&self) -> (usize, usize) {
        let all = self.places().count();
        (all - self.count(Place::Empty) - self.count(Place::Missing), all)
    }

    /// How many fields must be mended or filled in before anything else.
    pub(crate) fn refused(&self) -> usize {
        self.count(Place::MustBeMended) + self.count(Place::Missing)
    }

    /// The counts in words, as beside the drawing.
    pub(crate) fn sentence(&self) -> String {
        let (filled, all) = self.filled();
        let mut said = vec![format!("{filled} of {all} filled")];
        for (number, word) in [(self.refused(), "must be mended"), (self.count(Place::ToAnswer), "to answer")]
        {
            match number {
                0 => {}
                number => said.push(format!("{number} {word}")),
            }
        }
        said.join(", ")
    }

    /// The strand with its counts under it, and what else there is to say of them.
    pub(crate) fn overview(&self, more: &Markup) -> Markup {
        let (filled, all) = self.filled();
        html! {
            div.sheet.overview {
                (self)
                div.strand-counts { span { b { (filled) } " of " (all) " filled" } (more) }
            }
        }
    }

    /// What is left to do, in a word or two.
    pub(crate) fn state(&self) -> String {
        let (mend, answer, empty) = (self.refused(), self.count(Place::ToAnswer), self.count(Place::Empty));
        match (mend, answer, empty) {
            (0, 0, 0) => "complete".to_owned(),
            (0, 0, empty) => format!("{empty} empty"),
            (0, answer, _) => format!("{answer} to answer"),
            (mend, _, _) => capital(&counted(mend, "to mend", "to mend")),
        }
    }

    /// The small strand of a list's row.
    pub(crate) fn small(&self) -> Markup {
        let places: Vec<Place> = self.places().collect();
        html! {
            svg viewBox="0 0 124 26" width="124" height="26" role="img" aria-label=(self.sentence()) {
                (line(&places, 2.0, 120.0, 13.0))
            }
        }
    }
}

/// One stretch of line, with its spikes and dips.
fn line(places: &[Place], from: f64, width: f64, y: f64) -> Markup {
    let step = width / places.len().max(1) as f64;
    let mut runs: Vec<(bool, usize, usize)> = Vec::new();
    for (at, place) in places.iter().enumerate() {
        let empty = matches!(place, Place::Empty | Place::Missing);
        match runs.last_mut() {
            Some((same, _, end)) if *same == empty => *end = at + 1,
            _ => runs.push((empty, at, at + 1)),
        }
    }
    let x = |at: usize| from + step * at as f64;
    html! {
        @for (empty, begin, end) in &runs {
            path class=(if *empty { "edge dotted" } else { "ink" }) stroke-width="2"
                d={ "M" (number(x(*begin))) " " (number(y)) "H" (number(x(*end))) } {}
        }
        @for (at, place) in places.iter().enumerate() {
            @let centre = (x(at) + step / 2.0).clamp(from + 5.0, (from + width - 5.0).max(from + 5.0));
            @match place {
                Place::MustBeMended | Place::Missing => path.hard-fill
                    d={ "M" (number(centre - 5.0)) " " (number(y + 1.0)) "l5 -13 5 13z" } {},
                Place::ToAnswer => {
                    path.query-line d={ "M" (number(centre - 5.0)) " " (number(y)) "l5 11 5 -11" } {}
                },
                _ => {},
            }
        }
    }
}

/// The width that the stretches share on a desk, and the gap between two.
const WHOLE: f64 = 1_120.0;
const GAP: f64 = 24.0;

impl Strand {
    /// The width of each stretch: by its number of fields, and never narrower than its name.
    fn widths(&self) -> Vec<f64> {
        let all = self.places().count().max(1) as f64;
        let room = WHOLE - GAP * self.0.len().saturating_sub(1) as f64;
        let width = |stretch: &Stretch| {
            let name = 8.5 * stretch.label.chars().count() as f64;
            (0.96 * room * stretch.places.len() as f64 / all).max(name)
        };
        let wanted: Vec<f64> = self.0.iter().map(width).collect();
        let shrink = (room / wanted.iter().sum::<f64>()).min(1.0);
        wanted.into_iter().map(|width| (shrink * width).floor()).collect()
    }
}

impl Render for Strand {
    fn render(&self) -> Markup {
        html! {
            ol.strand.plain aria-label=(self.sentence()) {
                @for (stretch, width) in self.0.iter().zip(self.widths()) {
                    li {
                        svg viewBox={ "0 0 " (number(width)) " 32" } width=(number(width)) height="32" aria-hidden="true" {
                            (line(&stretch.places, 0.0, width, 18.0))
                        }
                        a href=(stretch.to) { (stretch.label) }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn strand(places: &[Place]) -> Strand {
        Strand(vec![Stretch { label: "X-ray".to_owned(), to: "#x-ray".to_owned(), places: places.to_vec() }])
    }

    #[test]
    fn counts_stand_in_words_beside_the_line() {
        use Place::{Empty, Filled, MustBeMended, ToAnswer};
        let mixed = strand(&[Filled, Filled, MustBeMended, ToAnswer, Empty]);
        assert_eq!(mixed.filled(), (4, 5));
        assert_eq!(mixed.sentence(), "4 of 5 filled, 1 must be mended, 1 to answer");
        assert_eq!(mixed.state(), "One to mend");
        assert_eq!(strand(&[Filled]).state(), "complete");
        assert_eq!(strand(&[Filled, Empty, Empty]).state(), "2 empty");
        assert_eq!(strand(&[ToAnswer]).state(), "1 to answer");
        let drawn = mixed.small().into_string();
        assert!(drawn.contains("dotted") && drawn.contains("hard-fill") && drawn.contains("query-line"));
    }

    #[test]
    fn what_is_missing_must_be_mended_and_is_not_filled() {
        let missing = strand(&[Place::Filled, Place::Missing]);
        assert_eq!(missing.sentence(), "1 of 2 filled, 1 must be mended");
        let drawn = missing.small().into_string();
        assert!(drawn.contains("dotted") && drawn.contains("hard-fill"));
    }

    #[test]
    fn a_strand_of_nothing_is_drawn_without_trouble() {
        assert!(!strand(&[]).small().into_string().contains("NaN"));
    }
}
