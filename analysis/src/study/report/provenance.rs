//! Where a report comes from and how good its data are, in the sentences of the checklist.

use super::Report;
use super::facts::{Entry, Origin};
use super::prose::{and, cases, things};
use crate::study::numerals;

/// Source of the data: centres, period, cut and form.
pub(super) fn source(report: &Report, origin: &Origin) -> String {
    let centres: Vec<String> = report.flow.centres.iter().map(|centre| centre.centre.to_string()).collect();
    format!(
        "Cases that {} ({}) sent to the registry: data cut \u{201c}{}\u{201d}, taken {}, {}, SHA-256 {}; entered with version {} of the form.",
        things(centres.len(), "centre", "centres"),
        and(&centres),
        origin.cut,
        origin.cut_taken,
        cases(report.flow.in_cut),
        origin.cut_hash,
        and(&origin.form_versions)
    )
}

/// The plan: identity, registration, amendments.
pub(super) fn plan(report: &Report, origin: &Origin) -> String {
    let amended = match origin.amendments.as_slice() {
        [] => "It was not amended.".to_owned(),
        amendments => {
            let told: Vec<String> = amendments
                .iter()
                .map(|one| format!("on {} ({})", one.registered, one.reason.trim_end_matches('.')))
                .collect();
            format!("It was amended {}.", and(&told))
        }
    };
    format!(
        "Plan {}, this version registered {}, SHA-256 {}. {amended} {}",
        origin.plan, origin.plan_registered, origin.plan_hash, report.first_lines.registered
    )
}

/// What computed the report, and that nothing but its inputs decides a byte of it.
pub(super) fn computation(origin: &Origin) -> String {
    format!(
        "{}, on data cut {} by plan {}. No chance enters: the same cut, plan, written texts and version give the same report to the byte.",
        origin.software, origin.cut_hash, origin.plan_hash
    )
}

/// The endpoints with their windows, and who judged them.
pub(super) fn endpoints(report: &Report) -> String {
    let plan = &report.planned.plan;
    let defined = plan
        .endpoints()
        .iter()
        .map(|planned| format!("{}: {}", planned.endpoint.label(), planned.endpoint.definition().in_words()));
    let defined: Vec<String> = defined.collect();
    format!(
        "{} All are derived from what the centre recorded, or are the centre's own judgement with its reason. Recurrence counts {}, as a description. {}",
        defined.join(" "),
        plan.recurrence().in_words(),
        report.adjudication.in_words
    )
}

/// Completeness, delay, questions, signatures, verification, consecutive cases.
pub(super) fn quality(report: &Report, entry: &Entry) -> String {
    [
        complete(report),
        delay(entry),
        questions(entry),
        denominators(report),
        "The registry does not record whether a case was compared with its source documents.".to_owned(),
    ]
    .into_iter()
    .filter(|sentence| !sentence.is_empty())
    .collect::<Vec<_>>()
    .join(" ")
}

fn complete(report: &Report) -> String {
    let arms = report.flow.arms;
    let sum = |of: fn(&super::ArmFlow) -> u32| of(&arms.zero_fluoroscopy) + of(&arms.conventional);
    let asked = sum(|arm| arm.acute_result.known + arm.acute_result.missing);
    let results = numerals::share(sum(|arm| arm.acute_result.known), asked, 1);
    let status = numerals::share(sum(|arm| arm.status_30_days_known), sum(|arm| arm.as_intended), 1);
    let held = report.who_was_treated.baseline.iter().filter(|line| line.planned);
    let missing = held.map(|line| (line.missing.zero_fluoroscopy + line.missing.conventional, line.label));
    let least = missing.max_by_key(|(missing, _)| *missing).filter(|(missing, _)| *missing > 0);
    let covariates = match least {
        Some((missing, label)) => format!(
            "of what the plan holds alike, {} is missing most often, in {}",
            label.to_lowercase(),
            numerals::share(missing, report.flow.analysed, 1)
        ),
        None => "nothing is missing of what the plan holds alike".to_owned(),
    };
    format!("The acute result is known of {results}, the 30-day status of {status}; {covariates}.")
}

fn delay(entry: &Entry) -> String {
    let mut days = entry.delays_days.clone();
    days.sort_unstable();
    let at = |share: f64| days.get(((days.len().saturating_sub(1)) as f64 * share).round() as usize);
    match (at(0.5), at(0.9)) {
        (Some(median), Some(most)) => format!(
            "Cases were entered at the median {} days after the end of their quarter, nine in ten within {}.",
            numerals::count(*median),
            numerals::count(*most)
        ),
        _ => String::new(),
    }
}

fn questions(entry: &Entry) -> String {
    format!(
        "{} had been asked about them when the cut was taken; {} were not answered, {} of those about the strategy or an outcome.",
        match entry.questions {
            1 => "1 question".to_owned(),
            number => format!("{} questions", numerals::count(number)),
        },
        numerals::count(entry.open),
        numerals::count(entry.open_on_outcome)
    )
}

fn denominators(report: &Report) -> String {
    let sum = |of: fn(&super::CentreFlow) -> u32| report.flow.centres.iter().map(of).sum::<u32>();
    let signed = numerals::share(sum(|centre| centre.signed), sum(|centre| centre.quarters), 1);
    if report.flow.eligible == 0 {
        return "No log says how many cases were eligible, so nobody can tell whether cases were chosen."
            .to_owned();
    }
    let sent = numerals::share(report.flow.submitted, report.flow.eligible, 1);
    let short: Vec<String> = report
        .flow
        .centres
        .iter()
        .filter(|centre| centre.is_incomplete())
        .map(|centre| centre.centre.to_string())
        .collect();
    let below = match short.len() {
        0 => "no centre sent fewer than nine in ten".to_owned(),
        1 => format!("centre {} sent fewer than nine in ten", and(&short)),
        _ => format!("centres {} sent fewer than nine in ten", and(&short)),
    };
    format!(
        "By the logs {sent} of the eligible cases were sent in, and {below}; the log is signed in {signed} of the quarters of the centres."
    )
}
