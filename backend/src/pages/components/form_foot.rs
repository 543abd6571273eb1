//! The foot of a long form: what is pressed next stays in sight.

use maud::{Markup, Render, html};

use super::start_here::Link;

/// The foot.
pub(crate) struct FormFoot<'a> {
    /// To the next field to mend; while there is one it is filled, and sending is not.
    pub(crate) next: Option<Link>,
    /// What sending is called.
    pub(crate) send: &'a str,
    /// What sending says under the name `do`, where the form can do other things too.
    pub(crate) does: Option<&'a str>,
    /// The other things: buttons.
    pub(crate) further: Markup,
    /// What else there is to say.
    pub(crate) aside: Markup,
}

impl Render for FormFoot<'_> {
    fn render(&self) -> Markup {
        let class = if self.next.is_some() { "button" } else { "button main" };
        html! {
            div.form-foot {
                @if let Some(next) = &self.next { a.button.main href=(next.to) data-key="F8" { (next.says) } }
                button class=(class) type="submit" data-key="Ctrl Enter" name=[self.does.map(|_| "do")] value=[self.does] { (self.send) }
                (self.further)
                span.aside { (self.aside) }
            }
        }
    }
}
