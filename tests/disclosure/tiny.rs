//! Networks so small that next to nothing can be shown: a summary that hides it all tells nobody
//! anything, and must not be refused.

use crate::summaries::{base, design, made};
use proptest::prelude::*;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::staff::Badges;
use quietbeam_analysis::study::summary::{Asking, Earlier, attack_again, summarise};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, Coded, ComplicationClass, DetectedBy, FluoroUsed, HarmTier, LeadWorn, ProcedureType,
    Strategy as Intended,
};
use serde_json::json;

/// What varies from case to case: centre and year; procedure, strategy and lead; success; harm, its
/// class and what showed it.
type Drawn = ((u8, u16), (usize, usize, usize), bool, (usize, usize, usize));

fn any_case() -> impl Strategy<Value = Drawn> {
    let harm = (0..40_usize, 0..ComplicationClass::all().len(), 0..DetectedBy::all().len());
    let kind = (0..ProcedureType::all().len(), 0..5_usize, 0..=LeadWorn::all().len());
    ((0..7_u8, 0..3_u16), kind, prop::bool::weighted(0.9), harm)
}

fn case(base: &CaseRow, ((centre, year), kind, success, harm): Drawn) -> CaseRow {
    let (procedure, strategy, lead) = kind;
    let mut case = CaseRow { centre: CentreCode::from_random(centre), ..base.clone() };
    case.period = Quarter::new(2024 + year, 1).unwrap();
    case.procedure = ProcedureType::all()[procedure];
    // Near-zero is rare.
    case.intended = Intended::all()[[0, 0, 1, 2, 2][strategy]];
    case.lead_worn = LeadWorn::all().get(lead).copied();
    if case.intended != Intended::Zero {
        case.fluoro_used = FluoroUsed::PlannedUsed;
        case.air_kerma_mgy = Some(40.0 + harm.0 as f64);
        case.badges = Badges::new([Some(harm.0 as f32), None, Some(harm.1 as f32), None], None);
    }
    case.acute_success = Some(if success { AcuteSuccess::Yes } else { AcuteSuccess::No });
    harmed(case, harm)
}

/// One case in forty with major harm, two with minor, three with a finding on imaging only.
fn harmed(mut case: CaseRow, (harm, class, route): (usize, usize, usize)) -> CaseRow {
    let (tier, count) = match harm {
        0 => (HarmTier::Major, &mut case.harms.major),
        1 | 2 => (HarmTier::Minor, &mut case.harms.minor),
        3..=5 => (HarmTier::ImagingOnly, &mut case.harms.imaging_only),
        _ => return case,
    };
    *count = 1;
    case.major_within_30_days = Some(tier == HarmTier::Major);
    case.seen = case.seen.with(tier, ComplicationClass::all()[class], Some(DetectedBy::all()[route]));
    case
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// `made` has it attacked anew as its approver would.
    #[test]
    fn a_tiny_network_is_never_refused(drawn in prop::collection::vec(any_case(), 30..150)) {
        let base = base();
        let rows: Vec<CaseRow> = drawn.into_iter().map(|drawn| case(&base, drawn)).collect();
        let every =
            ["complication_class", "detection_route", "year", "region", "dose", "staff", "staff_dose", "completeness", "capture"];
        made(&rows, &design(json!({ "tables": every })));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3))]

    /// Of such a network a looser summary told what the standard one may not place more closely, and no
    /// search says how closely that is. What shows nothing can still be published.
    #[test]
    fn nor_is_it_after_a_looser_summary(drawn in prop::collection::vec(any_case(), 20..50)) {
        let base = base();
        let cohort: Cohort = drawn.into_iter().map(|drawn| case(&base, drawn)).collect();
        let loose = json!({ "threshold": 3, "least_width": 3, "least_centres": 2, "dominance": 0, "coalition": 0, "network_cases": 100 });
        let loose = json!({ "tables": ["complication_class"], "profile": "two_tier", "profile_numbers": loose, "profile_reason": "rare harms must be told" });
        let first = summarise(Asking::of(&cohort, &design(loose)), &[]).unwrap().summary;
        let earlier = [Earlier { name: "safety summary 1".to_owned(), cohort: &cohort, summary: &first }];
        let next = summarise(Asking::of(&cohort, &design(json!({}))), &earlier).unwrap();
        prop_assert_eq!(attack_again(&cohort, &next.summary, &earlier).unwrap(), next.learnt);
    }
}
