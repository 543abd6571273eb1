//! The planned estimate with its variance clustered by operator instead of by centre: cases of one
//! operator resemble each other too.

use super::super::Seen;
use super::super::prose::{cases, told};
use crate::distinct::distinct;
use crate::study::adjustment::ClusteredWithin;
use crate::study::effect::Effect;
use crate::study::numerals::count;
use crate::study::planned::PlannedResult;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::value::OperatorCode;
use serde::Serialize;

/// The planned estimate clustered by operator, as intended. No verdict hangs on it: it speaks of
/// operators like these at these centres, the planned one of centres like these.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByOperator {
    /// Clusters: operators of a centre, and for each centre its cases that name none.
    pub operators: usize,
    /// Cases that name no operator.
    pub unnamed: u32,
    /// The effect by the plan's method, with CR2 by operator, on the scale of the margin.
    #[serde(flatten)]
    pub effect: Effect,
    /// The same in words.
    pub in_words: String,
}

/// The operator of every case of the cut as a number.
pub(in super::super) struct Operators {
    pub(in super::super) of_case: Vec<u32>,
    unnamed: u32,
}

impl Operators {
    /// Numbers them by centre and code; `None` where no case names one.
    pub(in super::super) fn of(seen: &Seen<'_>) -> Option<Self> {
        let key = |at: usize| -> (CentreCode, Option<OperatorCode>) {
            (seen.all[at].row.centre, seen.all[at].course.operator)
        };
        let known = distinct((0..seen.all.len()).map(key));
        known.iter().any(|(_, operator)| operator.is_some()).then(|| Self {
            of_case: (0..seen.all.len())
                .map(|at| known.partition_point(|one| *one < key(at)) as u32)
                .collect(),
            unnamed: seen.kept().filter(|case| case.course.operator.is_none()).count() as u32,
        })
    }
}

impl ByOperator {
    /// `None` where the plan's method knows no clusters.
    pub(super) fn new(operators: &Operators, planned: &PlannedResult) -> Option<Self> {
        let ClusteredWithin { clusters, found } = planned.as_intended.adjusted.within?;
        let effect = Effect::adjusted(planned.margin.scale(), found);
        let unnamed = match operators.unnamed {
            0 => String::new(),
            some => format!("; {} that name none stand together in each centre", cases(some)),
        };
        let in_words = format!(
            "Clustered by operator instead of by centre ({} operators{unnamed}): {}.",
            count(clusters as u64),
            told(&effect, planned.endpoint)
        );
        Some(Self { operators: clusters, unnamed: operators.unnamed, effect, in_words })
    }
}
