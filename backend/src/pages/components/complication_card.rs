//! A complication as it is read: what, how grave, six facts, and the lead that looking gave.

use maud::{Markup, html};
use quietbeam_schema::case::Complication;
use quietbeam_schema::reported::Reported;
use quietbeam_schema::value::Whole;
use quietbeam_schema::vocabulary::{Coded, HarmTier};

use crate::pages::figures::Course;
use crate::pages::shown::reported;

/// The card; the tier is the one that counts.
pub(crate) fn complication_card(event: &Complication, tier: Option<HarmTier>) -> Markup {
    let began = match event.onset_day {
        Reported::Value(day) => format!("day {}", day.get()),
        Reported::Missing(_) => minute(&event.onset_min),
    };
    let facts: [(&str, String); 6] = [
        ("Began", began),
        ("Shown first by", reported(&event.detect_method)),
        ("Circulation affected", minute(&event.haemo_change_min)),
        ("What was done", reported(&event.intervention)),
        ("Extra days in hospital", reported(&event.los_extra_days)),
        ("Outcome", reported(&event.outcome)),
    ];
    html! {
        article.card {
            header {
                h3 { (event.ae_code.label()) }
                span.quiet { (reported(&event.event_phase)) }
                @if let Some(tier) = tier { span.tier { (tier.label()) } }
            }
            dl { @for (label, fact) in &facts { div { dt { (label) } dd { (fact) } } } }
            (lead(event, tier))
        }
    }
}

fn lead(event: &Complication, tier: Option<HarmTier>) -> Markup {
    let at = |value: &Reported<Whole<-30, 900>>| value.value().map(|minute| minute.get());
    html! {
        @if tier == Some(HarmTier::ImagingOnly) {
            footer { p { "Seen because someone looked; not counted as harm." } }
        } @else if let Some(course) = Course::new(at(&event.onset_min), at(&event.detect_min), at(&event.haemo_change_min)) {
            footer { (course) }
        }
    }
}

fn minute(value: &Reported<Whole<-30, 900>>) -> String {
    match value {
        Reported::Value(minute) => format!("{} min after first access", minute.get()),
        Reported::Missing(code) => code.label().to_owned(),
    }
}
