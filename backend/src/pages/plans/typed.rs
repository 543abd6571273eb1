//! A plan as it is typed on a page: shares in per cent, margins in points. What the page does
//! not ask, because only one answer is right, is filled in here.

use quietbeam_analysis::study::endpoint::Endpoint;
use quietbeam_analysis::study::plan::{
    AnalysisPlan, EligibilityForm, EndpointForm, LooksForm, PlanForm, PlanRefusal, RecurrenceForm,
    Trouble as Why,
};
use quietbeam_schema::value::decimal_point;
use quietbeam_schema::vocabulary::{Coded, MarginScale};

use crate::pages::components::FieldId;
use crate::pages::form::Posted;
use crate::pages::trouble::{Trouble, Troubles};
use crate::pages::words::sentence;

/// How many endpoints a page asks for: as many as there are.
const ENDPOINTS: usize = Endpoint::ALL.len();

/// An endpoint as typed.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct TypedEndpoint {
    pub(super) endpoint: String,
    pub(super) scale: String,
    pub(super) margin: String,
    pub(super) expected: String,
    pub(super) reason: String,
    pub(super) source: String,
}

/// The looks as typed; all blank for a single one.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct TypedLooks {
    pub(super) fractions: String,
    pub(super) each_arm: String,
    pub(super) spending: String,
    pub(super) exponent: String,
}

/// Days of recurrence as typed; blank for the usual ones.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct TypedRecurrence {
    pub(super) blanking_days: String,
    pub(super) until_day: String,
}

/// A plan as typed.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Typed {
    pub(super) title: String,
    pub(super) question: String,
    pub(super) procedure_groups: Vec<String>,
    pub(super) procedures: Vec<String>,
    pub(super) age_bands: Vec<String>,
    pub(super) exclude: Vec<String>,
    pub(super) least_capture: String,
    pub(super) near_zero: String,
    pub(super) level: String,
    pub(super) method: String,
    pub(super) strata: String,
    pub(super) covariates: Vec<String>,
    pub(super) missing_covariates: String,
    pub(super) least_known: String,
    pub(super) sensitivity: Vec<String>,
    pub(super) subgroups: Vec<String>,
    pub(super) endpoints: [TypedEndpoint; ENDPOINTS],
    pub(super) looks: TypedLooks,
    pub(super) recurrence: TypedRecurrence,
    /// Why an existing plan is amended.
    pub(super) reason: String,
}

impl Typed {
    /// What a form sent.
    pub(super) fn of(posted: &Posted) -> Self {
        let one = |name: &str| posted.one(name).trim().to_owned();
        let all = |name: &str| posted.all(name).map(str::to_owned).collect();
        let endpoint = |at: usize| TypedEndpoint {
            endpoint: one(&format!("endpoints-{at}-endpoint")),
            scale: one(&format!("endpoints-{at}-scale")),
            margin: one(&format!("endpoints-{at}-margin")),
            expected: one(&format!("endpoints-{at}-expected")),
            reason: flowing(&one(&format!("endpoints-{at}-reason"))),
            source: one(&format!("endpoints-{at}-source")),
        };
        Self {
            title: one("title"),
            question: flowing(&one("question")),
            procedure_groups: all("eligibility-procedure_groups"),
            procedures: all("eligibility-procedures"),
            age_bands: all("eligibility-age_bands"),
            exclude: all("eligibility-exclude"),
            least_capture: one("eligibility-least_capture"),
            near_zero: one("near_zero"),
            level: one("level"),
            method: one("method"),
            strata: one("strata"),
            covariates: all("covariates"),
            missing_covariates: one("missing_covariates"),
            least_known: one("least_known"),
            sensitivity: all("sensitivity"),
            subgroups: all("subgroups"),
            endpoints: std::array::from_fn(endpoint),
            looks: TypedLooks {
                fractions: one("looks-fractions"),
                each_arm: one("looks-each_arm"),
                spending: one("looks-spending"),
                exponent: one("looks-exponent"),
            },
            recurrence: TypedRecurrence {
                blanking_days: one("recurrence-blanking_days"),
                until_day: one("recurrence-until_day"),
            },
            reason: one("reason"),
        }
    }

    /// What stands in a registered plan.
    pub(super) fn from(plan: &AnalysisPlan) -> Self {
        let form = PlanForm::from(plan.clone());
        let mut endpoints = form.endpoints.into_iter();
        Self {
            title: form.title,
            question: form.question,
            procedure_groups: form.eligibility.procedure_groups,
            procedures: form.eligibility.procedures,
            age_bands: form.eligibility.age_bands,
            exclude: form.eligibility.exclude,
            least_capture: form.eligibility.least_capture.map_or(String::new(), points_of),
            near_zero: form.near_zero.unwrap_or_default(),
            level: points_of(form.level),
            method: form.method,
            strata: form.strata.unwrap_or_default(),
            covariates: form.covariates,
            missing_covariates: form.missing_covariates,
            least_known: points_of(form.least_known),
            sensitivity: form.sensitivity,
            subgroups: form.subgroups,
            endpoints: std::array::from_fn(|_| endpoints.next().map(TypedEndpoint::from).unwrap_or_default()),
            looks: form.looks.map(TypedLooks::from).unwrap_or_default(),
            recurrence: form.recurrence.map(TypedRecurrence::from).unwrap_or_default(),
            reason: String::new(),
        }
    }

    /// The plan, for the core to read. A number that cannot be read is none.
    pub(super) fn form(&self) -> PlanForm {
        PlanForm {
            title: self.title.clone(),
            question: self.question.clone(),
            eligibility: EligibilityForm {
                procedure_groups: self.procedure_groups.clone(),
                procedures: self.procedures.clone(),
                age_bands: self.age_bands.clone(),
                exclude: self.exclude.clone(),
                least_capture: (!self.least_capture.is_empty()).then(|| share(&self.least_capture)),
            },
            near_zero: (!self.near_zero.is_empty()).then(|| self.near_zero.clone()),
            level: share(&self.level),
            method: self.method.clone(),
            strata: (!self.strata.is_empty()).then(|| self.strata.clone()),
            covariates: self.covariates.clone(),
            missing_covariates: self.missing_covariates.clone(),
            least_known: share(&self.least_known),
            sensitivity: self.sensitivity.clone(),
            subgroups: self.subgroups.clone(),
            endpoints: self.endpoints.iter().filter(|one| one.is_asked()).map(TypedEndpoint::form).collect(),
            looks: self.looks.form(),
            recurrence: self.recurrence.form(),
        }
    }
}

impl From<RecurrenceForm> for TypedRecurrence {
    fn from(form: RecurrenceForm) -> Self {
        Self { blanking_days: form.blanking_days.to_string(), until_day: form.until_day.to_string() }
    }
}

impl TypedRecurrence {
    /// A day left blank is as usual; one that cannot be read is none that is taken.
    fn form(&self) -> Option<RecurrenceForm> {
        let day = |text: &str, usual| if text.is_empty() { usual } else { text.parse().unwrap_or(u32::MAX) };
        let usual = RecurrenceForm::default();
        (*self != Self::default()).then(|| RecurrenceForm {
            blanking_days: day(&self.blanking_days, usual.blanking_days),
            until_day: day(&self.until_day, usual.until_day),
        })
    }
}

impl From<LooksForm> for TypedLooks {
    fn from(form: LooksForm) -> Self {
        let shares: Vec<String> = form.fractions.iter().map(|share| points_of(*share)).collect();
        Self {
            fractions: shares.join("; "),
            each_arm: form.each_arm.to_string(),
            spending: form.spending,
            exponent: form.exponent.map_or(String::new(), |exponent| exponent.to_string()),
        }
    }
}

impl TypedLooks {
    /// Shares stand apart by semicolons or blanks, so that a comma may be a decimal one. A function
    /// alone asks for nothing: a choice once made cannot be taken back in every browser.
    fn form(&self) -> Option<LooksForm> {
        let shares = self.fractions.split([';', ' ']).filter(|text| !text.is_empty());
        let asked = [&self.fractions, &self.each_arm, &self.exponent].iter().any(|text| !text.is_empty());
        asked.then(|| LooksForm {
            fractions: shares.map(share).collect(),
            each_arm: self.each_arm.parse().unwrap_or(0),
            spending: self.spending.clone(),
            exponent: (!self.exponent.is_empty()).then(|| number(&self.exponent)),
        })
    }
}

impl From<EndpointForm> for TypedEndpoint {
    fn from(form: EndpointForm) -> Self {
        let of_ratio = MarginScale::from_code(&form.scale) == Some(MarginScale::RiskRatio);
        Self {
            endpoint: form.endpoint,
            margin: if of_ratio { form.margin.to_string() } else { points_of(form.margin) },
            scale: form.scale,
            expected: points_of(form.expected),
            reason: form.reason,
            source: form.source,
        }
    }
}

impl TypedEndpoint {
    /// Whether anything was typed; a scale is always chosen.
    fn is_asked(&self) -> bool {
        let Self { endpoint, scale: _, margin, expected, reason, source } = self;
        [endpoint, margin, expected, reason, source].iter().any(|typed| !typed.is_empty())
    }

    fn form(&self) -> EndpointForm {
        let scale = scale(&self.scale);
        // There is one side on which an endpoint is worse: nobody need type it.
        let worse_when = Endpoint::from_code(&self.endpoint).map_or("", |of| of.worse_when(scale));
        EndpointForm {
            endpoint: self.endpoint.clone(),
            margin: margin(scale, &self.margin),
            scale: scale.code().to_owned(),
            worse_when: worse_when.to_owned(),
            reason: self.reason.clone(),
            source: self.source.clone(),
            expected: share(&self.expected),
        }
    }
}

/// Lines as a browser sends them, in one.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A scale as chosen; a difference where none is, as margins were before there was a choice.
pub(super) fn scale(code: &str) -> MarginScale {
    MarginScale::from_code(code).unwrap_or(MarginScale::RiskDifference)
}

/// A margin typed in points, or as a ratio.
pub(super) fn margin(scale: MarginScale, typed: &str) -> f64 {
    match scale {
        MarginScale::RiskDifference => share(typed),
        MarginScale::RiskRatio => number(typed),
    }
}

/// A share typed in per cent, read digit by digit so that 0.7 per cent is 0.007 and nothing
/// beside it.
pub(super) fn share(percent: &str) -> f64 {
    let read = decimal_point(percent).ok().filter(|text| !text.contains(['e', 'E']));
    read.and_then(|text| format!("{text}e-2").parse().ok()).unwrap_or(f64::NAN)
}

/// A plain number as typed.
fn number(text: &str) -> f64 {
    let read = decimal_point(text).ok().filter(|text| !text.contains(['e', 'E']));
    read.and_then(|text| text.parse().ok()).unwrap_or(f64::NAN)
}

/// A share in per cent or a margin in points, as typed.
pub(super) fn points_of(share: f64) -> String {
    let text = format!("{:.8}", share * 100.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// What must be mended, at the fields of the page and in its units.
pub(super) fn troubles(refusal: &PlanRefusal) -> Option<Troubles> {
    let row = |(pointer, why): &(String, Why)| Trouble { field: field(pointer), sentence: mend(why) };
    Troubles::of_rows(refusal.0.iter().map(row).collect())
}

/// A value of a list is mended at its list.
fn field(pointer: &str) -> FieldId {
    let list = pointer.rsplit_once('/').filter(|(before, last)| {
        !before.is_empty() && !before.ends_with("endpoints") && last.bytes().all(|byte| byte.is_ascii_digit())
    });
    match (pointer, list) {
        ("/endpoints", _) => FieldId::of("/endpoints/0/endpoint"),
        (_, Some((list, _))) => FieldId::of(list),
        (pointer, None) => FieldId::of(pointer),
    }
}

fn mend(why: &Why) -> String {
    let given = |value: f64| {
        if value.is_nan() { "Nothing that reads as a number".to_owned() } else { points_of(value) }
    };
    match why {
        Why::Level(value) => format!("{} stands here; write the level of the intervals from 90 to 99.9 per cent, such as 95.", given(*value)),
        Why::LeastKnown(value) => format!("{} stands here; write the least share of known outcomes from 50 to 100 per cent, such as 90.", given(*value)),
        Why::Margin(value) => format!("{} stands here; write how many points worse are still acceptable, above 0 and below 50, such as 3.", given(*value)),
        Why::RatioMargin(value) => format!("{} stands here; write how many times as often failure or harm may happen, above 1 and at most 5, such as 1.5.", if value.is_nan() { "Nothing that reads as a number".to_owned() } else { value.to_string() }),
        Why::BeyondAll(beyond) => format!("{} stands here, but {beyond}; write a smaller margin, or check what is expected.", beyond.margin.in_short()),
        Why::Expected(value) => format!("{} stands here; write the per cent expected in the conventional arm, between 0 and 100, such as 95.", given(*value)),
        Why::LeastCapture(value) => format!("{}; write the per cent of its eligible ablations that a centre must have sent in, from 50 to 100, such as 90.", value.map_or("Nothing stands here".to_owned(), |value| format!("{} stands here", given(value)))),
        Why::LeastCaptureUnused => "This stands for nothing unless centres that sent in too few are left out; choose that above, or leave this blank.".to_owned(),
        Why::Fractions => "Write the per cent of the planned cases at each look, two to ten of them, each 1 or more above the one before and the last one 100, such as 50; 100. For one look leave the shares, the cases and the exponent blank.".to_owned(),
        Why::IdleLook(value) => format!("At {} per cent so little would be spent that the look could decide nothing; look later, or choose another spending function.", points_of(*value)),
        Why::Exponent(Some(value)) if value.is_nan() => "Nothing that reads as a number stands here; write the exponent of the cases from 0.1 to 20, such as 2.".to_owned(),
        Why::ExponentUnused => "Only the power of the cases has an exponent; leave it blank.".to_owned(),
        Why::Blanking(u32::MAX) | Why::RecurrenceUntil(u32::MAX) => "Nothing that reads as a whole number of days stands here; write days from the procedure, such as 60 for blanking and 365 for the last day, or leave both blank.".to_owned(),
        Why::UnknownEndpoint(_) => "Choose the endpoint.".to_owned(),
        Why::UnknownCode { .. } => "Choose from the list.".to_owned(),
        Why::NothingNamed(_) => "Nothing is chosen, so nothing would be compared; choose at least one.".to_owned(),
        Why::InItsGroup(procedure) => format!("{} is compared with the whole of its group already; choose the type or its group.", procedure.label()),
        Why::NoAblation => "A diagnostic study is no ablation and has no arm; choose another type.".to_owned(),
        Why::AgesNamedAndLeftOut => "The ages say who is compared; choose the ages, or leave out patients younger than 18, and not both.".to_owned(),
        Why::NoCovariates => "Nothing is chosen, so differences in patients would stay in the estimate; choose covariates, or the method within centres.".to_owned(),
        Why::CovariatesUnused => "The method within centres takes no covariates; choose none, or another method.".to_owned(),
        other => sentence(other),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn points_are_read_digit_by_digit_and_written_back() {
        for (typed, expected) in
            [("3", 0.03), ("0.7", 0.007), ("0,7", 0.007), ("97.5", 0.975), ("1.5", 0.015)]
        {
            assert_eq!(share(typed), expected, "{typed}");
        }
        for typed in ["", "three", "1e3", "-", "3 points"] {
            assert!(share(typed).is_nan(), "{typed}");
        }
        for (share, expected) in [(0.03, "3"), (0.007, "0.7"), (0.975, "97.5"), (0.95, "95")] {
            assert_eq!(points_of(share), expected);
        }
    }

    #[test]
    fn everything_empty_is_said_at_fields_that_the_page_has() {
        let refusal = AnalysisPlan::try_from(Typed::default().form()).unwrap_err();
        let troubles = troubles(&refusal).unwrap();
        let fields: Vec<&str> = troubles.iter().map(|trouble| trouble.field.as_str()).collect();
        for field in
            ["title", "question", "eligibility-procedure_groups", "level", "method", "endpoints-0-endpoint"]
        {
            assert!(fields.contains(&field), "{field} of {fields:?}");
        }
        assert!(troubles.iter().all(|trouble| !trouble.sentence.contains("NaN")), "{troubles:?}");
    }

    #[test]
    fn a_value_of_a_list_is_mended_at_the_list() {
        assert_eq!(field("/covariates/3").as_str(), "covariates");
        assert_eq!(field("/eligibility/procedure_groups/0").as_str(), "eligibility-procedure_groups");
        assert_eq!(field("/endpoints/1/margin").as_str(), "endpoints-1-margin");
        assert_eq!(field("/endpoints").as_str(), "endpoints-0-endpoint");
    }
}
