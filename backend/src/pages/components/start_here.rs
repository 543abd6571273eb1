//! The one thing to do now: at most one box a page, with the page's only filled button.

use maud::{Markup, Render, html};

use super::marks::Mark;

/// A link: where it leads, and the verb or name that is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Link {
    /// Where it leads.
    pub(crate) to: String,
    /// What is read.
    pub(crate) says: String,
}

impl Link {
    /// A link.
    pub(crate) fn new(to: impl Into<String>, says: impl Into<String>) -> Self {
        Self { to: to.into(), says: says.into() }
    }
}

impl Render for Link {
    fn render(&self) -> Markup {
        html! { a href=(self.to) { (self.says) } }
    }
}

/// The box.
pub(crate) enum StartHere {
    /// Something waits.
    With {
        /// Its mark.
        mark: Mark,
        /// Case and trouble in one sentence.
        sentence: Markup,
        /// Why it is first.
        why: Markup,
        /// What to press.
        button: Link,
    },
    /// Nothing waits, with what comes next.
    Nothing {
        /// What comes next.
        next: Markup,
    },
}

impl Render for StartHere {
    fn render(&self) -> Markup {
        match self {
            StartHere::With { mark, sentence, why, button } => html! {
                section.start-here.lit {
                    (mark.shape())
                    p.small { "Start here" }
                    h2 { (sentence) }
                    p.why { (why) }
                    a.button.main href=(button.to) { (button.says) }
                }
            },
            StartHere::Nothing { next } => html! {
                section.start-here.lit.empty {
                    h2 { "Nothing waits" }
                    p.why { (next) }
                }
            },
        }
    }
}
