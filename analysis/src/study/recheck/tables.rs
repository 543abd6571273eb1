//! The tables that R reads: numbers in their shortest exact form, texts quoted.

use super::POPULATIONS;
use crate::study::adjustment::Patterns;
use crate::study::arm::Arm;
use crate::study::cohort::CaseRow;
use crate::study::look::Look;
use crate::study::plan::{AnalysisPlan, PlannedEndpoint};
use crate::study::tally::tally_by_stratum;
use quietbeam_schema::vocabulary::Coded;
use std::fmt::Write;

/// The arm as a column: 1 for zero-fluoroscopy, as in the models.
fn number(arm: Arm) -> u8 {
    u8::from(arm == Arm::ZeroFluoroscopy)
}

/// What the plan says of each endpoint, in its order.
pub(super) fn plan(plan: &AnalysisPlan) -> String {
    let mut text = String::from("endpoint,benefit,scale,margin,level,method,least_known\n");
    for PlannedEndpoint { endpoint, margin, .. } in plan.endpoints() {
        let (code, benefit) = (endpoint.code(), u8::from(!endpoint.is_harm()));
        let (scale, size) = (margin.scale().code(), margin.size());
        let (level, method, least) = (plan.level().level(), plan.method().code(), plan.least_known());
        // Writing into a string never fails.
        let _ = writeln!(text, "{code},{benefit},{scale},{size},{level},{method},{least}");
    }
    text
}

/// What every look used up, the one at hand last.
pub(super) fn looks(look: &Look) -> String {
    let mut text = String::from("look,information,spent\n");
    for (number, look) in (1..).zip(&look.taken) {
        let _ = writeln!(text, "{number},{},{}", look.information, look.spent);
    }
    text
}

/// Which look it is, and the level that decides; blank without a verdict.
pub(super) fn look(look: &Look) -> String {
    let level = look.level.map_or(String::new(), |level| level.level().to_string());
    let why = look.no_verdict.map_or(String::new(), |why| why.to_string());
    format!(
        "number,planned,spent_before,spent_here,left,level,why\n{},{},{},{},{},{level},\"{why}\"\n",
        look.number, look.planned, look.spent_before, look.spent_here, look.left
    )
}

/// Cases, outcomes and events by endpoint, population, stratum and arm. Strata are numbered by
/// centre, in the order of the codes, and then by procedure group where the plan tells these apart.
pub(super) fn counts(rows: &[&CaseRow], plan: &AnalysisPlan) -> String {
    let mut text = String::from("endpoint,population,stratum,arm,missing,known,events\n");
    for planned in plan.endpoints() {
        for (population, code) in POPULATIONS {
            let strata = tally_by_stratum(rows, (planned.endpoint, population), plan.strata());
            for (stratum, arms) in (1..).zip(&strata) {
                for (arm, tally) in arms.each() {
                    let (endpoint, arm) = (planned.endpoint.code(), number(arm));
                    let (missing, known, events) = (tally.missing, tally.known, tally.events);
                    let _ = writeln!(text, "{endpoint},{code},{stratum},{arm},{missing},{known},{events}");
                }
            }
        }
    }
    text
}

/// What the models see, one pattern a line.
pub(super) fn patterns(patterns: &Patterns) -> String {
    let mut text = String::from("centre,arm,event,cases");
    for term in &patterns.terms {
        let _ = write!(text, ",\"{term}\"");
    }
    text.push('\n');
    for pattern in &patterns.patterns {
        let (centre, arm, cases) = (pattern.centre, number(pattern.arm), pattern.cases);
        let _ = write!(text, "{centre},{arm},{},{cases}", u8::from(pattern.event));
        for value in &pattern.values {
            let _ = write!(text, ",{value}");
        }
        text.push('\n');
    }
    text
}
