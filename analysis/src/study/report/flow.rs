//! From every ablation performed to the cases analysed. Losses subtract exactly: what the
//! logs and the cut do not tell alike is a step of its own.

use super::prose::{and, cases};
use super::{ReportCase, Seen};
use crate::study::arm::{Arm, ByArm};
use crate::study::endpoint::Endpoint;
use crate::study::numerals;
use crate::study::plan::AnalysisPlan;
use crate::study::planned::{LeftOutCount, PlannedFlow, is_none};
use crate::study::population::Population;
use crate::study::screening_log::{LogCounts, QuarterLog, by_quarter};
use crate::study::tally::Tally;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{Coded, ExclusionReason, FluoroReason, FollowUpStatus};
use serde::Serialize;
use std::collections::BTreeMap;

/// The steps. `performed − not_eligible − not_submitted − not_in_cut + beyond_log + without_log`
/// is `in_cut`; that, less `left_out` and `near_zero`, is `analysed`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Flow {
    /// Ablations performed, by the screening logs.
    pub performed: u32,
    /// Of these, not eligible.
    pub not_eligible: u32,
    /// Of these, eligible.
    pub eligible: u32,
    /// Eligible, not sent in.
    pub not_submitted: u32,
    /// Sent in, by the screening logs.
    pub submitted: u32,
    /// Why those were not sent in: a log gives each procedure one reason, eligible or not.
    pub not_sent_because: Vec<ReasonCount<ExclusionReason>>,
    /// Sent in by the logs, but not in the cut.
    pub not_in_cut: u32,
    /// In the cut beyond what the logs count.
    pub beyond_log: u32,
    /// In the cut, from quarters without a log.
    pub without_log: u32,
    /// Cases in the cut.
    pub in_cut: u32,
    /// Cases that the plan leaves out.
    pub left_out: Vec<LeftOutCount>,
    /// Cases intended as near-zero that the plan counts in neither arm.
    pub near_zero: u32,
    /// Cases intended as near-zero that it counts in one.
    #[serde(skip_serializing_if = "is_none")]
    pub near_zero_compared: u32,
    /// Cases analysed, both arms.
    pub analysed: u32,
    /// The arms.
    pub arms: ByArm<ArmFlow>,
    /// Why X-ray was used after all in the zero-fluoroscopy arm; a case may have several reasons.
    pub crossed_over_because: Vec<ReasonCount<FluoroReason>>,
    /// Each centre, in the order of the codes.
    pub centres: Vec<CentreFlow>,
    /// The same in words.
    pub in_words: String,
}

/// How often a reason was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct ReasonCount<R> {
    /// The reason.
    pub reason: R,
    /// Cases.
    pub cases: u32,
}

/// One arm, from all cases as intended to those whose outcome is known.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct ArmFlow {
    /// Cases as intended.
    pub as_intended: u32,
    /// Less: crossed over, so X-ray after all or none after all.
    pub crossed_over: u32,
    /// Went as intended.
    pub per_protocol: u32,
    /// Declared before the first venous access.
    pub declared_before: u32,
    /// The acute result.
    pub acute_result: Tally,
    /// Major complications within 30 days.
    pub major_within_30_days: Tally,
    /// Contacted, or the chart was read, or died: the 30-day status is known.
    pub status_30_days_known: u32,
}

/// One centre.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CentreFlow {
    /// The centre.
    pub centre: CentreCode,
    /// Ablations performed, by its log.
    pub performed: u32,
    /// Eligible ones.
    pub eligible: u32,
    /// Sent in.
    pub submitted: u32,
    /// Cases in the cut.
    pub in_cut: u32,
    /// Share of the eligible that was sent in; absent without any.
    pub sent_in: Option<f64>,
    /// Quarters with a case or a log.
    pub quarters: u32,
    /// Of these, with a log.
    pub logged: u32,
    /// Of these, signed.
    pub signed: u32,
}

impl CentreFlow {
    /// Fewer than nine in ten of the eligible were sent in: perhaps only the good ones.
    pub fn is_incomplete(&self) -> bool {
        u64::from(self.submitted) * 10 < u64::from(self.eligible) * 9
    }
}

/// One quarter of one centre.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct QuarterCounts {
    pub(super) performed: u32,
    pub(super) eligible: u32,
    pub(super) submitted: u32,
    pub(super) in_cut: u32,
    pub(super) logged: bool,
    pub(super) signed: bool,
}

impl QuarterCounts {
    /// The log is signed, nine in ten of the eligible were sent in, and the cut holds no fewer
    /// cases than the log says: no good case alone can have been chosen.
    pub(super) fn is_complete(&self) -> bool {
        let sent = u64::from(self.submitted) * 10 >= u64::from(self.eligible) * 9;
        self.logged && self.signed && sent && self.in_cut >= self.submitted
    }
}

pub(super) type Quarters = BTreeMap<(CentreCode, Quarter), QuarterCounts>;

/// What the logs and the cut say of every quarter of every centre.
pub(super) fn quarters(all: &[ReportCase], log: &[LogCounts]) -> Quarters {
    let logged = |QuarterLog { performed, eligible, submitted, signed }| QuarterCounts {
        performed,
        eligible,
        submitted,
        in_cut: 0,
        logged: true,
        signed,
    };
    let mut quarters: Quarters = by_quarter(log).into_iter().map(|(of, log)| (of, logged(log))).collect();
    let place = |case: &ReportCase| (case.row.centre, case.row.period);
    for own in all.chunk_by(|one, other| place(one) == place(other)) {
        quarters.entry(place(&own[0])).or_default().in_cut += own.len() as u32;
    }
    quarters
}

/// How the cases of each arm went and what became known of them: counted beside the comparison.
#[derive(Default)]
pub(super) struct Went {
    acute_result: ByArm<Tally>,
    major_within_30_days: ByArm<Tally>,
    status_30_days_known: ByArm<u32>,
    crossed_over_because: BTreeMap<FluoroReason, u32>,
}

impl Went {
    pub(super) fn of(seen: &Seen<'_>) -> Self {
        let mut went = Self::default();
        for case in seen.kept() {
            let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
            went.acute_result.of_mut(arm).add(Endpoint::AcuteSuccess, &case.row);
            went.major_within_30_days.of_mut(arm).add(Endpoint::MajorWithin30Days, &case.row);
            *went.status_30_days_known.of_mut(arm) +=
                u32::from(case.course.status_30_days.is_some_and(is_known));
            if arm == Arm::ZeroFluoroscopy && Population::PerProtocol.arm(&case.row).is_none() {
                for reason in case.course.reasons.iter() {
                    *went.crossed_over_because.entry(reason).or_default() += 1;
                }
            }
        }
        went
    }

    fn arms(&self, cases: &PlannedFlow) -> ByArm<ArmFlow> {
        ByArm::from_fn(|arm| ArmFlow {
            as_intended: *cases.as_intended.of(arm),
            crossed_over: cases.as_intended.of(arm) - cases.per_protocol.of(arm),
            per_protocol: *cases.per_protocol.of(arm),
            declared_before: *cases.declared_before.of(arm),
            acute_result: *self.acute_result.of(arm),
            major_within_30_days: *self.major_within_30_days.of(arm),
            status_30_days_known: *self.status_30_days_known.of(arm),
        })
    }
}

impl Flow {
    pub(super) fn new(
        plan: &AnalysisPlan,
        cases: &PlannedFlow,
        (quarters, went): (&Quarters, Went),
        log: &[LogCounts],
    ) -> Self {
        let sum = |of: fn(&QuarterCounts) -> u32| quarters.values().map(of).sum::<u32>();
        let (performed, eligible, submitted) =
            (sum(|q| q.performed), sum(|q| q.eligible), sum(|q| q.submitted));
        let arms = went.arms(cases);
        let mut flow = Self {
            performed,
            not_eligible: performed - eligible,
            eligible,
            not_submitted: eligible - submitted,
            submitted,
            not_sent_because: not_sent(log),
            not_in_cut: sum(|q| if q.logged { q.submitted.saturating_sub(q.in_cut) } else { 0 }),
            beyond_log: sum(|q| if q.logged { q.in_cut.saturating_sub(q.submitted) } else { 0 }),
            without_log: sum(|q| if q.logged { 0 } else { q.in_cut }),
            in_cut: cases.in_cohort,
            left_out: cases.left_out.clone(),
            near_zero: cases.near_zero,
            near_zero_compared: cases.near_zero_compared,
            analysed: arms.zero_fluoroscopy.as_intended + arms.conventional.as_intended,
            arms,
            crossed_over_because: counted(went.crossed_over_because),
            centres: centres(quarters),
            in_words: String::new(),
        };
        flow.in_words = in_words(&flow);
        if cases.near_zero_compared > 0 {
            flow.in_words.push(' ');
            flow.in_words.push_str(&cases.near_zero_in_words(plan.near_zero()));
        }
        flow
    }
}

fn is_known(status: FollowUpStatus) -> bool {
    matches!(status, FollowUpStatus::Contacted | FollowUpStatus::ChartOnly | FollowUpStatus::Dead)
}

fn not_sent(log: &[LogCounts]) -> Vec<ReasonCount<ExclusionReason>> {
    let mut counts = BTreeMap::<ExclusionReason, u32>::new();
    for (reason, cases) in log.iter().flat_map(|line| line.counts.excluded()) {
        *counts.entry(*reason).or_default() += cases;
    }
    counted(counts)
}

fn counted<R>(counts: BTreeMap<R, u32>) -> Vec<ReasonCount<R>> {
    let given = counts.into_iter().filter(|(_, cases)| *cases > 0);
    given.map(|(reason, cases)| ReasonCount { reason, cases }).collect()
}

fn centres(quarters: &Quarters) -> Vec<CentreFlow> {
    let mut centres = BTreeMap::<CentreCode, CentreFlow>::new();
    for ((centre, _), counts) in quarters {
        let flow = centres.entry(*centre).or_insert(CentreFlow {
            centre: *centre,
            performed: 0,
            eligible: 0,
            submitted: 0,
            in_cut: 0,
            sent_in: None,
            quarters: 0,
            logged: 0,
            signed: 0,
        });
        flow.performed += counts.performed;
        flow.eligible += counts.eligible;
        flow.submitted += counts.submitted;
        flow.in_cut += counts.in_cut;
        flow.quarters += 1;
        flow.logged += u32::from(counts.logged);
        flow.signed += u32::from(counts.logged && counts.signed);
    }
    let shared = |flow: CentreFlow| CentreFlow {
        sent_in: (flow.eligible > 0).then(|| f64::from(flow.submitted) / f64::from(flow.eligible)),
        ..flow
    };
    centres.into_values().map(shared).collect()
}

fn in_words(flow: &Flow) -> String {
    let start = if flow.performed > 0 {
        format!("Of {} ablations performed, ", numerals::count(flow.performed))
    } else {
        format!(
            "No screening log says how many ablations were performed; of {} in the cut, ",
            cases(flow.in_cut)
        )
    };
    let crossed = &flow.arms;
    let mut text = format!(
        "{start}{} are analysed. {} of {} zero-fluoroscopy cases needed X-ray after all; {} of {} conventional cases went without.",
        numerals::count(flow.analysed),
        numerals::count(crossed.zero_fluoroscopy.crossed_over),
        numerals::count(crossed.zero_fluoroscopy.as_intended),
        numerals::count(crossed.conventional.crossed_over),
        numerals::count(crossed.conventional.as_intended),
    );
    let at_cut: Vec<String> =
        flow.left_out.iter().filter(|line| line.is_of_the_cut()).map(LeftOutCount::in_words).collect();
    if !at_cut.is_empty() {
        text.push_str(&format!(" Left out for how things stood at the cut: {}.", at_cut.join("; ")));
    }
    let incomplete: Vec<String> = flow
        .centres
        .iter()
        .filter(|centre| centre.is_incomplete())
        .filter_map(|centre| {
            centre.sent_in.map(|share| format!("{} sent in {}", centre.centre, numerals::percent(share, 0)))
        })
        .collect();
    if !incomplete.is_empty() {
        text.push_str(&format!(" Of their eligible cases {}.", and(&incomplete)));
    }
    if flow.not_in_cut + flow.beyond_log + flow.without_log > 0 {
        text.push_str(&format!(
            " Logs and cut differ: {} sent in by the logs are not in the cut, {} are in it beyond the logs, {} come from quarters without a log.",
            numerals::count(flow.not_in_cut),
            numerals::count(flow.beyond_log),
            numerals::count(flow.without_log),
        ));
    }
    text
}

/// A reason with its count, for a sentence: diagnostic only 214.
impl<R: Coded> ReasonCount<R> {
    /// The label in lower case and the count.
    pub fn words(&self) -> String {
        format!("{} {}", self.reason.label().to_lowercase(), numerals::count(self.cases))
    }
}
