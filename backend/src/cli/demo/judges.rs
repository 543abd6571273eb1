//! The demo's judges: they read what the registry shows them, differ now and then, and leave some
//! events open.

use super::super::Failure;
use super::super::registry::Registry;
use super::people::Staff;
use crate::access::action::JudgeEvents;
use crate::access::session::Caller;
use crate::registry::RegistryError;
use crate::registry::adjudication::{Docket, Event, docket, keep};
use quietbeam_schema::adjudication::BlindedEvent;
use quietbeam_schema::vocabulary::HarmRuling;

/// The most events that the first two judge; the rest waits, as it does in a large network.
const JUDGED: usize = 150;

/// Two judge what waits for them, and a third what they differ in.
pub(super) fn judge_events(registry: &Registry, staff: &Staff) -> Result<(), Failure> {
    let [first, second, third] = staff.judges.as_slice() else {
        return Err(Failure::Broken("the demo has no three judges".to_owned()));
    };
    // One is left for whoever signs in to look around.
    let some = |docket: Docket| docket.waiting.into_iter().skip(1).take(JUDGED).collect();
    sit(registry, first, some, reading)?;
    let judged_once = |docket: Docket| {
        // One in ten is left for another day.
        let once = docket.waiting.into_iter().filter(|event| event.judgements.len() == 1);
        once.filter(|event| !event.id.starts_with(['0', '8'])).collect()
    };
    sit(registry, second, judged_once, another_reading)?;
    let differing =
        |docket: Docket| docket.waiting.into_iter().filter(|event| event.judgements.len() == 2).collect();
    sit(registry, third, differing, reading)
}

fn sit(
    registry: &Registry,
    judge: &Caller,
    choose: impl FnOnce(Docket) -> Vec<Event> + Send + 'static,
    read: fn(&Event) -> (HarmRuling, &'static str),
) -> Result<(), Failure> {
    registry.store.write_blocking(judge.permit::<JudgeEvents>()?, move |session| {
        for event in choose(docket(session)?) {
            let (ruling, why) = read(&event);
            keep(session, event, ruling, why)?;
        }
        Ok::<_, RegistryError>(())
    })?;
    Ok(())
}

fn reading(event: &Event) -> (HarmRuling, &'static str) {
    let shown = &event.shown;
    let invasive =
        ["pericardiocentesis", "surgery", "transfusion", "vascular_repair", "thrombin", "pacemaker", "cpr"];
    let days = said(shown, "los_extra_days").and_then(|days| days.parse::<u32>().ok()).unwrap_or(0);
    if said(shown, "outcome") == Some("fatal") || said(shown, "permanent_injury") == Some("yes") {
        return (HarmRuling::Major, "It left death or permanent injury.");
    }
    if said(shown, "intervention").is_some_and(|done| done.split(';').any(|one| invasive.contains(&one))) {
        return (HarmRuling::Major, "It needed an invasive treatment.");
    }
    if days > 2 {
        return (HarmRuling::Major, "It kept the patient for more than two extra days.");
    }
    match (said(shown, "symptomatic"), said(shown, "intervention")) {
        (Some("no"), Some("none" | "observe")) => {
            (HarmRuling::NoHarm, "Nothing was felt and nothing was done.")
        }
        _ => (HarmRuling::Minor, "It was felt or treated, and passed."),
    }
}

/// One in eight is read otherwise.
fn another_reading(event: &Event) -> (HarmRuling, &'static str) {
    let (ruling, why) = reading(event);
    match (event.id.ends_with(['3', 'c']), ruling) {
        (true, HarmRuling::Minor) => (HarmRuling::Major, "The course was graver than the numbers say."),
        (true, _) => (HarmRuling::Minor, "The course was milder than the numbers say."),
        (false, _) => (ruling, why),
    }
}

fn said<'e>(event: &'e BlindedEvent, key: &str) -> Option<&'e str> {
    event.of_event.iter().find(|fact| fact.variable.key == key)?.entries.given(key)
}
