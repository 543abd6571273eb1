//! The foot of a long form: what is pressed next stays in sight.

use maud::{Markup, Render, html};

use super::start_here::Link;

/// The foot.
pub(crate) enum FormFoot<'a> {
    /// Something must be mended first: the way to it is filled, sending is not.
    Mend {
        /// To the next field to mend.
        next: Link,
        /// What sending is called.
        send: &'a str,
        /// What else there is to say.
        aside: Markup,
    },
    /// Nothing hard is left: sending is filled.
    Send {
        /// What sending is called.
        send: &'a str,
        /// What else there is to say.
        aside: Markup,
    },
}

impl Render for FormFoot<'_> {
    fn render(&self) -> Markup {
        html! {
            div.form-foot {
                @match self {
                    FormFoot::Mend { next, send, aside } => {
                        a.button.main href=(next.to) { (next.says) }
                        button.button type="submit" { (send) }
                        span.aside { (aside) }
                    },
                    FormFoot::Send { send, aside } => {
                        button.button.main type="submit" { (send) }
                        span.aside { (aside) }
                    },
                }
            }
        }
    }
}
