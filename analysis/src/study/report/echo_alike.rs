//! Each planned endpoint again with the use of intracardiac echo held alike. Echo comes with the
//! strategy, so it lies on the way to the effect and no planned estimate may hold it alike; but it
//! also goes with rooms and patients. A second estimate, named for what it is, shows how much
//! hangs on it.

use super::prose::{cases, decimals, difference};
use crate::methods::interval::{Confidence, NotEstimable};
use crate::study::adjustment::{Adjusted, Numbers, standardised_with_echo};
use crate::study::arm::{Arm, ByArm};
use crate::study::cohort::CaseRow;
use crate::study::compared::Compared;
use crate::study::endpoint::Endpoint;
use crate::study::estimate::reason_in_words;
use crate::study::numerals::{count, percent};
use crate::study::plan::AnalysisPlan;
use crate::study::population::Population;
use quietbeam_schema::vocabulary::MissingCovariate;
use rayon::prelude::*;
use serde::{Serialize, Serializer};

/// A planned endpoint with the use of echo held alike, as intended. No verdict hangs on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EchoAlike {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// How often echo was used where the outcome is known.
    pub use_of_echo: ByArm<EchoUse>,
    /// Cases of each arm in the model.
    pub cases: ByArm<u32>,
    /// Risks and difference by marginal standardisation with CR2 by centre, echo among the
    /// covariates.
    pub held_alike: HeldAlike,
    /// Which question it answers, and which it does not.
    pub question: &'static str,
    /// What was found, in words.
    pub in_words: String,
}

/// The use of intracardiac echo in one arm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct EchoUse {
    /// Cases in which it was used.
    pub used: u32,
    /// Cases in which it was not.
    pub not_used: u32,
    /// Cases in which nobody wrote down whether it was.
    pub not_recorded: u32,
}

/// The estimate, or why there is none.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum HeldAlike {
    /// The estimate.
    Estimated(Adjusted),
    /// Why there is none; written as a sentence.
    #[serde(serialize_with = "write_why")]
    CannotBeEstimated(WhyNot),
}

/// Why no model can hold the use of echo alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WhyNot {
    /// Nobody wrote down whether it was used.
    #[error("nobody recorded whether echo was used")]
    NotRecorded,
    /// Without variation it tells no case from another.
    #[error(
        "among the cases of the model echo was used in all or in none, so there is nothing to hold alike"
    )]
    DoesNotVary,
    /// Echo and strategy are one thing here.
    #[error("echo was used in all cases of one arm and in none of the other: nothing tells the two apart")]
    OneWithTheArm,
    /// The model has no estimate.
    #[error("{}", reason_in_words(*.0))]
    OfTheModel(NotEstimable),
}

// The signature is that of the serializer.
#[allow(clippy::trivially_copy_pass_by_ref)]
fn write_why<S: Serializer>(why: &WhyNot, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(why)
}

/// Which question the estimate answers.
const QUESTION: &str = "Not the total effect: what remains with echo held alike. The planned estimate leaves intracardiac echo out and asks what choosing a strategy does, with everything that comes with it, echo among it. This one asks how far the strategies differ where echo is used as often. Whoever holds alike what a strategy brings with it may also bring in a bias that no table shows, so no verdict hangs on it.";

/// The estimate of every planned endpoint, each a computation of its own.
pub(in crate::study) fn echo_held_alike(
    compared: &Compared<'_>,
    plan: &AnalysisPlan,
    level: Confidence,
) -> Vec<EchoAlike> {
    let endpoints = plan.endpoints().par_iter().map(|planned| planned.endpoint);
    endpoints.map(|endpoint| EchoAlike::new(compared, endpoint, plan.missing_covariates(), level)).collect()
}

impl EchoAlike {
    fn new(
        compared: &Compared<'_>,
        endpoint: Endpoint,
        missing: MissingCovariate,
        level: Confidence,
    ) -> Self {
        let use_of_echo = use_of_echo(&compared.rows, endpoint);
        let (cases, found) = match use_of_echo.why_not() {
            Some(why) => (ByArm::default(), Err(why)),
            None => fitted(&compared.numbers, endpoint, missing, level),
        };
        let held_alike = found.map_or_else(HeldAlike::CannotBeEstimated, HeldAlike::Estimated);
        let in_words = in_words(endpoint, &use_of_echo, &cases, &held_alike);
        Self { endpoint, use_of_echo, cases, held_alike, question: QUESTION, in_words }
    }
}

fn fitted(
    numbers: &Numbers<'_>,
    endpoint: Endpoint,
    missing: MissingCovariate,
    level: Confidence,
) -> (ByArm<u32>, Result<Adjusted, WhyNot>) {
    let (cases, found) = standardised_with_echo(numbers, endpoint, missing, level);
    let found = found.ok_or(WhyNot::DoesNotVary);
    (cases, found.and_then(|found| found.map_err(WhyNot::OfTheModel)))
}

fn use_of_echo(rows: &[&CaseRow], endpoint: Endpoint) -> ByArm<EchoUse> {
    let mut found = ByArm::<EchoUse>::default();
    for case in rows.iter().filter(|case| endpoint.event(case).is_some()) {
        let Some(arm) = Population::AsIntended.arm(case) else { continue };
        let own = found.of_mut(arm);
        *match case.intracardiac_echo {
            Some(true) => &mut own.used,
            Some(false) => &mut own.not_used,
            None => &mut own.not_recorded,
        } += 1;
    }
    found
}

impl ByArm<EchoUse> {
    /// Why the use of echo cannot be held alike, whatever the outcomes.
    fn why_not(&self) -> Option<WhyNot> {
        let [first, second] = [self.zero_fluoroscopy, self.conventional];
        match (first.used + second.used, first.not_used + second.not_used) {
            (0, 0) => Some(WhyNot::NotRecorded),
            (0, _) | (_, 0) => Some(WhyNot::DoesNotVary),
            _ if first.used + second.not_used == 0 || first.not_used + second.used == 0 => {
                Some(WhyNot::OneWithTheArm)
            }
            _ => None,
        }
    }
}

fn in_words(endpoint: Endpoint, echo: &ByArm<EchoUse>, of: &ByArm<u32>, held: &HeldAlike) -> String {
    let used = |arm: Arm| {
        let EchoUse { used, not_used, not_recorded } = *echo.of(arm);
        let unknown = match not_recorded {
            0 => String::new(),
            some => format!(", not recorded in {}", count(some)),
        };
        match used + not_used {
            0 => format!("no {} case with a known use", arm.name()),
            known => format!(
                "{} of {} {} cases ({}{unknown})",
                count(used),
                count(known),
                arm.name(),
                percent(f64::from(used) / f64::from(known), 0)
            ),
        }
    };
    let told = match held {
        HeldAlike::Estimated(found) => format!(
            "{} with echo held alike, among {}: {}",
            endpoint.label(),
            cases(of.zero_fluoroscopy + of.conventional),
            difference(&found.difference, decimals(endpoint))
        ),
        HeldAlike::CannotBeEstimated(why) => {
            format!("{} with echo held alike cannot be estimated: {why}", endpoint.label())
        }
    };
    format!("Echo was used in {} and {}. {told}.", used(Arm::ZeroFluoroscopy), used(Arm::Conventional))
}
