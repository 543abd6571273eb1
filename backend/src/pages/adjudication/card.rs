//! An event as its judges see it.

use maud::{Markup, html};
use quietbeam_schema::adjudication::{BlindedEvent, Fact};
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::vocabulary::{Coded, ComplicationKind};

use crate::pages::shown::entered;

/// The card, without arm, dose or imaging.
pub(super) fn card(event: &BlindedEvent) -> Markup {
    let definition = ComplicationKind::LIST.codes[event.kind.position()].definition;
    html! {
        article.card.judged {
            header { h2 { (event.kind.label()) } span.quiet { (definition) } }
            dl { @for fact in event.of_case.iter().chain(&event.of_event) { (shown(fact)) } }
        }
    }
}

/// A fact; nothing for the kind, which is the card's heading, and for what does not apply.
fn shown(fact: &Fact) -> Markup {
    let key = fact.variable.key;
    let applies = fact.entries.given(key) != Some(MissingCode::NotApplicable.code());
    let said = entered(fact.variable, &fact.entries).filter(|_| applies && key != "ae_code");
    html! { @if let Some(said) = said { div { dt { (fact.variable.label) } dd { (said) } } } }
}
