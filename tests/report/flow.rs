//! From every ablation performed to the cases analysed.

use crate::cases::{base, in_order, intend, log, network, of, planned};
use proptest::prelude::*;
use quietbeam_analysis::study::report::{Facts, Flow, ReportCase, report};
use quietbeam_analysis::study::screening_log::{Denominators, LogCounts};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, ExclusionReason, FluoroReason, FollowUpStatus, ProcedureType, Strategy,
};
use serde_json::json;

fn subtracts(flow: &Flow) -> Result<(), String> {
    let left_out: u32 = flow.left_out.iter().map(|line| line.cases).sum();
    let reasons: u32 = flow.not_sent_because.iter().map(|line| line.cases).sum();
    let steps = [
        ("eligible", flow.performed - flow.not_eligible, flow.eligible),
        ("submitted", flow.eligible - flow.not_submitted, flow.submitted),
        ("reasons", flow.not_eligible + flow.not_submitted, reasons),
        ("cut", flow.submitted + flow.beyond_log + flow.without_log, flow.in_cut + flow.not_in_cut),
        ("analysed", flow.in_cut - left_out - flow.near_zero, flow.analysed),
        ("arms", flow.arms.zero_fluoroscopy.as_intended + flow.arms.conventional.as_intended, flow.analysed),
        ("centres", flow.centres.iter().map(|centre| centre.in_cut).sum(), flow.in_cut),
        ("performed", flow.centres.iter().map(|centre| centre.performed).sum(), flow.performed),
    ];
    for (step, before, after) in steps {
        if before != after {
            return Err(format!("{step}: {before} is not {after}"));
        }
    }
    for (_, arm) in flow.arms.each() {
        let tallies = [arm.acute_result, arm.major_within_30_days];
        let added = tallies.map(|tally| tally.known + tally.missing + tally.not_attempted);
        if added != [arm.as_intended; 2] || arm.as_intended - arm.crossed_over != arm.per_protocol {
            return Err(format!("{arm:?}"));
        }
    }
    Ok(())
}

#[test]
fn every_step_is_counted() {
    let mut cases = network();
    cases.iter_mut().for_each(|case| {
        case.row.period = Quarter::new(2025, 1).unwrap();
        case.course.status_30_days = Some(FollowUpStatus::Contacted);
    });
    // The last of each arm cross over; one conventional patient is lost.
    let last = cases.len() - 1;
    intend(&mut cases[last], true, true);
    cases[last].course.reasons =
        [FluoroReason::Transseptal, FluoroReason::CatheterPosition].into_iter().collect();
    intend(&mut cases[0], false, false);
    cases[1].course.status_30_days = Some(FollowUpStatus::Lost);
    cases[2].row.intended = Strategy::NearZero;
    cases[3].row.procedure = ProcedureType::VtEpicardial;
    // 920 cases of S01 and 1,960 of S02; S01 sent in ten more, S02 two fewer than it says.
    let second = [log("S02", 1, (1_500, 1_400, 1_000)), log("S02", 1, (1_000, 1_000, 958))];
    let log = [vec![log("S01", 1, (1_000, 950, 930))], second.to_vec()].concat();
    let facts = Facts { log, ..Facts::default() };
    let flow = report(cases, &planned(&[]), &facts).flow;
    subtracts(&flow).unwrap();
    assert_eq!((flow.performed, flow.eligible, flow.submitted, flow.in_cut), (3_500, 3_350, 2_888, 2_880));
    assert_eq!((flow.not_in_cut, flow.beyond_log, flow.without_log), (10, 2, 0));
    assert_eq!((flow.near_zero, flow.analysed), (1, 2_878));
    let (zero, conventional) = (flow.arms.zero_fluoroscopy, flow.arms.conventional);
    assert_eq!((zero.as_intended, zero.crossed_over), (1_880, 1));
    assert_eq!((conventional.as_intended, conventional.crossed_over), (998, 1));
    assert_eq!((zero.status_30_days_known, conventional.status_30_days_known), (1_880, 997));
    let reasons: Vec<String> = flow.crossed_over_because.iter().map(|reason| reason.words()).collect();
    assert_eq!(reasons, ["catheter position 1", "transseptal crossing 1"]);
    let not_sent: Vec<(ExclusionReason, u32)> =
        flow.not_sent_because.iter().map(|line| (line.reason, line.cases)).collect();
    assert_eq!(not_sent, [(ExclusionReason::ConsentNo, 150), (ExclusionReason::Staff, 462)]);
    let incomplete: Vec<bool> = flow.centres.iter().map(|centre| centre.is_incomplete()).collect();
    assert_eq!(incomplete, [false, true]);
    assert!(flow.in_words.starts_with("Of 3,500 ablations performed, 2,878 are analysed. 1 of 1,880 zero-fluoroscopy cases needed X-ray after all"), "{}", flow.in_words);
    assert!(flow.in_words.contains("S02 sent in 82 %"), "{}", flow.in_words);
}

#[test]
fn without_a_log_nobody_knows_what_was_performed() {
    let flow = of(network()).flow;
    subtracts(&flow).unwrap();
    assert_eq!((flow.performed, flow.without_log, flow.in_cut), (0, 2_880, 2_880));
    assert!(flow.in_words.starts_with("No screening log says how many ablations were performed"));
    subtracts(&of(Vec::new()).flow).unwrap();
}

fn any_case() -> impl proptest::strategy::Strategy<Value = (u8, u8, u8, bool, u8, u8)> {
    (0..3_u8, 1..4_u8, 0..3_u8, any::<bool>(), 0..6_u8, 0..4_u8)
}

fn case(base: &ReportCase, drawn: (u8, u8, u8, bool, u8, u8)) -> ReportCase {
    let (centre, quarter, intended, beam, success, procedure) = drawn;
    let results = [AcuteSuccess::Yes, AcuteSuccess::Partial, AcuteSuccess::No, AcuteSuccess::NotAttempted];
    let procedures = [
        ProcedureType::AfParoxysmalFirst,
        ProcedureType::DiagnosticOnly,
        ProcedureType::VtEpicardial,
        ProcedureType::Avnrt,
    ];
    let mut case = base.clone();
    intend(&mut case, intended == 0, beam);
    if intended == 2 {
        case.row.intended = Strategy::NearZero;
    }
    case.row.centre = CentreCode::from_random(centre);
    case.row.period = Quarter::new(2025, quarter).unwrap();
    case.row.acute_success = results.get(usize::from(success)).copied();
    case.row.major_within_30_days = [Some(false), Some(true), None][usize::from(success % 3)];
    case.row.procedure = procedures[usize::from(procedure)];
    case
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the logs and the cut say, every loss subtracts exactly; no order of cases or of
    /// lines changes a byte.
    #[test]
    fn losses_subtract_exactly(
        drawn in prop::collection::vec(any_case(), 0..120),
        lines in prop::collection::vec((0..3_u8, 1..4_u8, 0..40_u32, 0..40_u32, 0..40_u32), 0..8),
        turn in 0..120_usize,
    ) {
        let base = base();
        let mut cases = in_order(drawn.into_iter().map(|drawn| case(&base, drawn)).collect());
        let line = |(centre, quarter, submitted, more, rest): (u8, u8, u32, u32, u32)| {
            log(&format!("S0{centre}"), quarter, (submitted + more + rest, submitted + more, submitted))
        };
        let mut facts = Facts { log: lines.into_iter().map(line).collect(), ..Facts::default() };
        let plan = planned(&[]);
        let first = report(cases.clone(), &plan, &facts);
        prop_assert_eq!(subtracts(&first.flow), Ok(()));
        let middle = turn.min(cases.len());
        cases.rotate_left(middle);
        facts.log.reverse();
        let again = report(cases, &plan, &facts);
        prop_assert_eq!(serde_json::to_string(&first).unwrap(), serde_json::to_string(&again).unwrap());
    }
}

/// By hand: 45 of 50 is nine in ten, 44 is not; a line that is not signed leaves its quarter unsigned.
#[test]
fn logs_say_whether_a_quarter_is_vouched_for_and_a_centre_complete() {
    let unsigned = LogCounts { signed: false, ..log("S01", 2, (10, 10, 10)) };
    let lines = [
        log("S01", 1, (20, 20, 18)),
        log("S01", 2, (20, 20, 17)),
        unsigned,
        log("S02", 1, (60, 50, 44)),
        log("S03", 1, (4, 0, 0)),
    ];
    let logs = Denominators::new(&lines);
    let centre = |code: &str| code.parse().unwrap();
    let quarter = |number| Quarter::new(2025, number).unwrap();
    assert!(logs.is_signed(centre("S01"), quarter(1)) && !logs.is_signed(centre("S01"), quarter(2)));
    assert!(!logs.is_signed(centre("S01"), quarter(3)) && !logs.is_signed(centre("S09"), quarter(1)));
    assert!(logs.sent_in(centre("S01"), 0.9) && !logs.sent_in(centre("S02"), 0.9));
    assert!(logs.sent_in(centre("S02"), 0.88));
    assert!(!logs.sent_in(centre("S03"), 0.5) && !logs.sent_in(centre("S09"), 0.5), "nobody knows");
}

#[test]
fn what_stood_against_a_case_at_the_cut_leaves_it_out_where_the_plan_says_so() {
    let mut cases = network();
    let zero = |case: &&mut ReportCase| case.row.intended == Strategy::Zero;
    cases.iter_mut().filter(zero).take(7).for_each(|case| case.row.at_cut.question_open = true);
    let conventional = |case: &&mut ReportCase| case.row.intended == Strategy::Conventional;
    cases.iter_mut().filter(conventional).take(5).for_each(|case| case.row.at_cut.question_open = true);
    let unasked = report(cases.clone(), &planned(&[]), &Facts::default()).flow;
    assert_eq!(unasked.in_cut, unasked.analysed);
    let plan = planned(&[("/eligibility/exclude", json!(["question_open"]))]);
    let flow = report(cases, &plan, &Facts::default()).flow;
    assert_eq!(flow.in_cut - flow.analysed, 12);
    assert!(
        flow.in_words.contains(
            "Left out for how things stood at the cut: 12 excluded (critical question open at the cut): 7 zero-fluoroscopy, 5 conventional."
        ),
        "{}",
        flow.in_words
    );
}
