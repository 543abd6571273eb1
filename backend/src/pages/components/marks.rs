//! Marks: shape first, then word, then colour. A mark never stands without its word.

use maud::{Markup, Render, html};
use quietbeam_schema::vocabulary::Strategy;

/// What a mark says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mark {
    /// Refused until it is mended.
    MustBeMended,
    /// A question waits; nothing is blocked.
    ToAnswer,
    /// Kept, once a page.
    Saved,
    /// Cannot be changed any more.
    Locked,
    /// Nothing stands there yet.
    Empty,
    /// Not yet whole.
    Draft,
    /// A signature is wanted.
    ToSign,
    /// So many days of so many have gone by; beyond the last it is overdue.
    Window {
        /// The day it is.
        day: i64,
        /// The last day in time.
        last: i64,
    },
}

impl Mark {
    /// The mark with its word beside it.
    pub(crate) fn with(self, word: impl Render) -> Markup {
        let class = match self {
            Mark::MustBeMended => "marked hard",
            Mark::ToAnswer => "marked query",
            Mark::Saved => "marked saved",
            _ => "marked",
        };
        html! { span class=(class) { (self.shape()) span { (word) } } }
    }

    /// The shape, beside which the caller writes the word.
    pub(crate) fn shape(self) -> Markup {
        match self {
            Mark::MustBeMended => html! {
                svg viewBox="0 0 24 24" width="20" height="20" aria-hidden="true" {
                    path.hard-fill d="M12 3 21 21H3z" {}
                }
            },
            Mark::ToAnswer => html! {
                svg viewBox="0 0 24 24" width="22" height="22" aria-hidden="true" {
                    path.query-line d="M2 6h5l5 13 5-13h5" {}
                }
            },
            Mark::Saved => html! {
                svg viewBox="0 0 24 24" width="18" height="18" aria-hidden="true" {
                    path.saved-line d="M3 13l6 6L21 5" {}
                }
            },
            Mark::Locked => html! {
                svg viewBox="0 0 24 24" width="20" height="20" aria-hidden="true" {
                    path.grey d="M3 9h18M3 15h18" {}
                }
            },
            Mark::Empty => html! {
                svg viewBox="0 0 24 24" width="20" height="20" aria-hidden="true" {
                    path.edge.dotted stroke-width="2" d="M3 12h18" {}
                }
            },
            Mark::Draft => html! {
                svg viewBox="0 0 24 24" width="20" height="20" aria-hidden="true" {
                    path.grey.dashed d="M2 12h21" {}
                }
            },
            Mark::ToSign => html! {
                svg viewBox="0 0 24 24" width="20" height="20" aria-hidden="true" {
                    path.ink d="M3 21h18M5 16c4-1 6-12 7-11 1 2-2 9-1 10s3-5 4-4 0 4 4 3" {}
                }
            },
            Mark::Window { day, last } => window(day, last),
        }
    }
}

fn window(day: i64, last: i64) -> Markup {
    let filled = if last > 0 { (20 * day.clamp(0, last)) / last } else { 20 };
    html! {
        svg viewBox="0 0 22 10" width="22" height="10" aria-hidden="true" {
            @if day > last {
                rect.hard-fill x="1" y="1" width="20" height="8" {}
            } @else {
                rect.edge x="1" y="1" width="20" height="8" {}
                rect.grey-fill x="1" y="1" width=(filled) height="8" {}
            }
        }
    }
}

/// An arm of the question: an open ring where the beam is off, a filled square where it is
/// on, half a ring between them, each with its word.
pub(crate) fn arm(strategy: Strategy) -> Markup {
    html! { span.marked { (arm_shape(strategy)) span { (arm_word(strategy)) } } }
}

/// The shape of an arm, beside which the caller writes the arm's name.
pub(crate) fn arm_shape(strategy: Strategy) -> Markup {
    let shape = match strategy {
        Strategy::Zero => html! { circle.zf cx="8" cy="8" r="6" {} },
        Strategy::Conventional => html! { rect.ink-fill x="2" y="2" width="12" height="12" {} },
        Strategy::NearZero => html! {
            circle.grey cx="8" cy="8" r="6" {}
            path.grey-fill d="M8 2a6 6 0 0 1 0 12z" {}
        },
    };
    html! { svg viewBox="0 0 16 16" width="15" height="15" aria-hidden="true" { (shape) } }
}

/// The arm's name within a sentence.
fn arm_word(strategy: Strategy) -> &'static str {
    match strategy {
        Strategy::Zero => "zero-fluoroscopy",
        Strategy::NearZero => "near-zero",
        Strategy::Conventional => "conventional",
    }
}

#[cfg(test)]
mod tests {
    use quietbeam_schema::vocabulary::Coded;

    use super::*;

    #[test]
    fn every_arm_has_its_shape_and_its_word() {
        let drawn = |strategy| arm(strategy).into_string();
        assert!(drawn(Strategy::Zero).contains("<circle class=\"zf\""));
        assert!(drawn(Strategy::Conventional).contains("<rect class=\"ink-fill\""));
        for strategy in Strategy::all() {
            assert!(drawn(*strategy).contains(arm_word(*strategy)), "{strategy:?}");
        }
    }

    #[test]
    fn a_window_is_full_and_hard_once_it_is_over() {
        let drawn = |day| Mark::Window { day, last: 45 }.shape().into_string();
        assert!(drawn(33).contains("width=\"14\""));
        assert!(!drawn(45).contains("hard-fill"));
        assert!(drawn(46).contains("hard-fill"));
        assert!(drawn(-3).contains("width=\"0\""));
    }
}
