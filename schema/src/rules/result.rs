//! The acute result against the procedure and the complications.

use super::{Rule, hard, query, whole};
use crate::case::CaseRecord;
use crate::endpoint;
use crate::vocabulary::{AcuteSuccess, Energy, ProcedureType, YesNo};

pub(super) const RULES: &[Rule<CaseRecord>] = &[
    hard("veins_isolated_within_targeted", &["veins_isolated", "veins_targeted"], |case, _| {
        let (targeted, isolated) =
            (whole(&case.acute_result().veins_targeted)?, whole(&case.acute_result().veins_isolated)?);
        (isolated > targeted).then(|| {
            format!("{isolated} veins isolated of {targeted} targeted cannot be; correct one of the two.")
        })
    }),
    query("success_with_veins_open", &["acute_success_override", "veins_isolated"], |case, _| {
        let result = case.acute_result();
        let (targeted, isolated) = (whole(&result.veins_targeted)?, whole(&result.veins_isolated)?);
        (result.acute_success_override.is(|answer| *answer == AcuteSuccess::Yes) && isolated < targeted).then(|| format!(
            "Success is claimed although {isolated} of {targeted} veins were isolated; correct one of the two, or say why it is right."
        ))
    }),
    query("success_without_energy", &["energy", "endpoint_shown", "proc_primary"], |case, _| {
        let no_energy = case.procedure().energy.is(|energy| energy.has(Energy::None));
        (no_energy && endpoint::acute_success(case).used() == Some(AcuteSuccess::Yes)).then(|| {
            "The endpoint was reached although no energy was delivered; correct one of the two, or say why it is right.".to_owned()
        })
    }),
    query("short_waiting_time", &["wait_time_min", "proc_primary"], |case, _| {
        let minutes = whole(&case.acute_result().wait_time_min)?;
        let procedure = case.procedure().proc_primary;
        let block_counts =
            procedure.is_af() || matches!(procedure, ProcedureType::CtiFlutter | ProcedureType::AvrtAp);
        (block_counts && minutes < 20).then(|| format!(
            "The last test was {minutes} min after the last lesion; 20 min are usual before block is taken as lasting. Confirm it, or correct the time."
        ))
    }),
    hard("no_complication_means_none", &["no_complication_confirmed", "complications"], |case, _| {
        (case.acute_result().no_complication_confirmed == YesNo::Yes && !case.complications().is_empty())
            .then(|| {
                "No complication is confirmed, yet complications are listed; answer no, or remove them."
                    .to_owned()
            })
    }),
    query("complication_announced", &["no_complication_confirmed", "complications"], |case, _| {
        (case.acute_result().no_complication_confirmed == YesNo::No && case.complications().is_empty()).then(|| {
            "The case is said to have had a complication, but none is listed yet; list it, or confirm that there was none.".to_owned()
        })
    }),
];
