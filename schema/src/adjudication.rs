//! Events as they are judged: without anything that tells how the case was guided, what dose it
//! had or what imaging saw, so that nobody judges an event by the arm it lies in.

use crate::case::{CaseForm, case_variables, complication_variables, follow_up_variables};
use crate::dictionary::{Condition, Variable};
use crate::entries::Entries;
use crate::ids::CaseCode;
use crate::vocabulary::{Coded, ComplicationKind, HarmRuling, YesNo};

#[cfg(test)]
mod tests;

/// What a judge sees of the case. A block after ablation of the node was meant, so the procedure is
/// among it.
const OF_CASE: [&str; 3] = ["proc_primary", "age_band", "sex"];

/// What a judge sees of the event.
const OF_EVENT: [&str; 16] = [
    "ae_code",
    "event_phase",
    "onset_min",
    "onset_day",
    "haemo_change",
    "haemo_change_min",
    "symptomatic",
    "drained_ml",
    "intervention",
    "los_extra_days",
    "stay_for_image_only",
    "hct_fall_pct",
    "permanent_injury",
    "serious",
    "relatedness_proc",
    "outcome",
];

/// One fact as it was entered.
#[derive(Clone)]
pub struct Fact {
    /// The variable.
    pub variable: &'static Variable,
    /// What stands under it.
    pub entries: Entries,
}

/// A complication, or a death that the follow-up alone tells, as its judges see it.
#[derive(Clone)]
pub struct BlindedEvent {
    /// What happened.
    pub kind: ComplicationKind,
    /// About the patient and the procedure.
    pub of_case: Vec<Fact>,
    /// About the event.
    pub of_event: Vec<Fact>,
    /// What tells this event from all others: its case and everything that is shown of it. A
    /// correction of what is shown makes another event of it, which is judged anew; two events of a
    /// case that look the same are judged together.
    pub identity: String,
}

/// What a judge sees of a death that the follow-up alone tells.
const OF_DEATH: [&str; 2] = ["death_day", "death_cause"];

/// A complication tells that the patient died, wherever it says so; of a checked one
/// [`crate::endpoint::is_fatal`] says the same.
const TELLS_DEATH: Condition = Condition::Any(&[
    Condition::Is("ae_code", &["death"]),
    Condition::Is("outcome", &["fatal"]),
    Condition::Is("serious", &["death"]),
]);

/// A death that the follow-up tells and no complication does, as judges see it: within 30 days, or
/// on a day that nobody knows. A later death says nothing about the procedure's harm.
pub fn blinded_death(code: CaseCode, form: &CaseForm) -> Option<BlindedEvent> {
    let follow_up = form.follow_up.as_ref()?;
    let died = follow_up.given("death") == Some(YesNo::Yes.code());
    let late = follow_up.given("death_day").and_then(|day| day.parse().ok()).is_some_and(|day: i64| day > 30);
    if !died || late || form.complications.iter().any(|event| TELLS_DEATH.holds(event)) {
        return None;
    }
    let of_case = facts(&form.case, &case_variables(), &OF_CASE);
    let of_event = facts(follow_up, &follow_up_variables(), &OF_DEATH);
    Some(BlindedEvent {
        identity: identity(code, &of_case, &of_event),
        kind: ComplicationKind::Death,
        of_case,
        of_event,
    })
}

/// The complications of a stored case, in its order, as judges see them; `None` for one that cannot
/// be shown: an injury by X-ray says by itself that X-ray was used.
pub fn blinded(code: CaseCode, form: &CaseForm) -> Vec<Option<BlindedEvent>> {
    form.complications.iter().map(|event| one(code, form, event)).collect()
}

fn one(code: CaseCode, form: &CaseForm, event: &Entries) -> Option<BlindedEvent> {
    let kind = ComplicationKind::from_code(event.given("ae_code")?)?;
    if kind == ComplicationKind::SkinRadiation {
        return None;
    }
    let of_case = facts(&form.case, &case_variables(), &OF_CASE);
    let of_event = facts(event, &complication_variables(), &OF_EVENT);
    Some(BlindedEvent { identity: identity(code, &of_case, &of_event), kind, of_case, of_event })
}

fn identity(code: CaseCode, of_case: &[Fact], of_event: &[Fact]) -> String {
    let mut identity = code.to_string();
    for fact in of_case.iter().chain(of_event) {
        for (key, text) in fact.entries.iter() {
            identity.push_str(&format!("\n{key}={text}"));
        }
    }
    identity
}

fn facts(entries: &Entries, variables: &[&'static Variable], shown: &[&str]) -> Vec<Fact> {
    let fact = |variable: &&'static Variable| {
        let text = entries.given(variable.key)?;
        let mut entries = Entries::default();
        entries.put(variable.key, text);
        Some(Fact { variable, entries })
    };
    variables.iter().filter(|variable| shown.contains(&variable.key)).filter_map(fact).collect()
}

/// What the judges of an event make of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Settled {
    /// Not enough of them have judged.
    Open,
    /// The first two agree.
    ByTwo(HarmRuling),
    /// The first two differ, and a third has decided.
    ByThird(HarmRuling),
}

impl Settled {
    /// What follows from the rulings, in the order in which they were given.
    pub fn of(rulings: &[HarmRuling]) -> Self {
        match rulings {
            [first, second, ..] if first == second => Self::ByTwo(*first),
            [_, _, third, ..] => Self::ByThird(*third),
            _ => Self::Open,
        }
    }

    /// The ruling that counts.
    pub fn ruling(self) -> Option<HarmRuling> {
        match self {
            Self::Open => None,
            Self::ByTwo(ruling) | Self::ByThird(ruling) => Some(ruling),
        }
    }
}
