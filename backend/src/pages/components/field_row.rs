//! A field as one row: mark, label, control with its message, note. The row joins them, so
//! that a message is always read out with its control.

use maud::{Markup, PreEscaped, Render, html};

use super::control::{Control, Joined};
use super::marks::Mark;
use crate::pages::trouble::Troubles;

/// The name of a field on a page, made of its JSON pointer: `/complications/0/kind` is
/// `complications-0-kind`. The same name is the anchor to the field.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct FieldId(String);

impl FieldId {
    /// From a JSON pointer or a plain key; other characters become hyphens.
    pub(crate) fn of(pointer: &str) -> Self {
        let known = |c: char| if c.is_ascii_alphanumeric() || c == '_' { c } else { '-' };
        Self(pointer.trim_start_matches('/').chars().map(known).collect())
    }

    /// As it stands in the page.
    pub(crate) fn as_str(&self) -> &str {
        &self.0
    }
}

impl Render for FieldId {
    fn render(&self) -> Markup {
        self.0.render()
    }
}

/// How a field stands.
pub(crate) enum State {
    /// Nothing to say: what is right stays silent.
    Quiet,
    /// It is asked and nothing stands there yet.
    Empty,
    /// Refused until it is mended.
    MustBeMended {
        /// What is wrong and how to mend it.
        sentence: String,
    },
    /// A question waits.
    ToAnswer {
        /// The question.
        sentence: String,
        /// What answers it, drawn under it.
        answer: Option<Markup>,
    },
}

/// One field.
pub(crate) struct FieldRow<'a> {
    /// Its name on the page.
    pub(crate) id: FieldId,
    /// A few words.
    pub(crate) label: &'a str,
    /// A few more, under them.
    pub(crate) second: Option<&'a str>,
    /// What is filled in.
    pub(crate) control: Control<'a>,
    /// How it stands.
    pub(crate) state: State,
    /// What the registry does with it.
    pub(crate) note: Option<Markup>,
    /// The whole explanation, on demand.
    pub(crate) help: Option<&'a str>,
}

impl<'a> FieldRow<'a> {
    /// A field of a small form, with what is wrong with it.
    pub(crate) fn of_form(
        name: &str,
        label: &'a str,
        second: Option<&'a str>,
        control: Control<'a>,
        troubles: Option<&Troubles>,
    ) -> Self {
        let id = FieldId::of(name);
        let state = troubles.map_or(State::Quiet, |troubles| troubles.state(&id));
        Self { id, label, second, control, state, note: None, help: None }
    }
}

impl Render for FieldRow<'_> {
    fn render(&self) -> Markup {
        let message = format!("{}-message", self.id.as_str());
        let (class, mark, described_by) = match &self.state {
            State::Quiet => ("field", None, None),
            State::Empty => ("field", Some(Mark::Empty), None),
            State::MustBeMended { .. } => {
                ("field must-be-mended", Some(Mark::MustBeMended), Some(message.as_str()))
            }
            State::ToAnswer { .. } => ("field to-answer", Some(Mark::ToAnswer), Some(message.as_str())),
        };
        let joined = Joined {
            id: &self.id,
            label: self.label,
            described_by,
            invalid: matches!(self.state, State::MustBeMended { .. }),
        };
        let label = html! { (self.label) @if let Some(second) = self.second { span.second { (second) } } };
        html! {
            div class=(class) id={ (self.id) "-row" } {
                span.mark {
                    @if let Some(mark) = mark { (mark.shape()) }
                    @if matches!(self.state, State::Empty) { span.unseen { "still empty" } }
                }
                @if self.control.is_group() {
                    span.label id={ (self.id) "-label" } { (label) }
                } @else {
                    label.label for=(self.id) { (label) }
                }
                div.control {
                    (self.control.draw(&joined))
                    (said(&self.state, &message))
                }
                @if self.note.is_some() || self.help.is_some() {
                    div.note {
                        (self.note.as_ref().unwrap_or(&PreEscaped(String::new())))
                        @if let Some(help) = self.help {
                            details { summary { "What is this?" } (help) }
                        }
                    }
                }
            }
        }
    }
}

fn said(state: &State, id: &str) -> Markup {
    let (word, sentence, answer) = match state {
        State::Quiet | State::Empty => return PreEscaped(String::new()),
        State::MustBeMended { sentence } => ("Must be mended.", sentence, None),
        State::ToAnswer { sentence, answer } => ("To answer.", sentence, answer.as_ref()),
    };
    html! {
        p.message id=(id) { b { (word) } " " (sentence) }
        @if let Some(answer) = answer { (answer) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::components::Text;

    fn row(state: State) -> String {
        let control = Control::Text(Text { value: "<b>4.2</b>", ..Text::default() });
        let id = FieldId::of("/air_kerma");
        FieldRow { id, label: "Air kerma", second: None, control, state, note: None, help: None }
            .render()
            .into_string()
    }

    #[test]
    fn a_message_is_joined_to_its_control() {
        let hard = row(State::MustBeMended { sentence: "4.2 is the time.".to_owned() });
        assert!(hard.contains("aria-describedby=\"air_kerma-message\""), "{hard}");
        assert!(hard.contains("id=\"air_kerma-message\""));
        assert!(hard.contains("aria-invalid=\"true\""));
        let quiet = row(State::Quiet);
        assert!(!quiet.contains("aria-describedby") && !quiet.contains("aria-invalid"), "{quiet}");
        assert!(quiet.contains("&lt;b&gt;4.2"));
    }

    #[test]
    fn a_pointer_becomes_a_name() {
        assert_eq!(FieldId::of("/complications/0/kind").as_str(), "complications-0-kind");
        assert_eq!(FieldId::of("\"><script>").as_str(), "---script-");
    }
}
