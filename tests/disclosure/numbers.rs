//! Numbers of a profile that a design chooses: what each hides or shows, and how summaries with other
//! numbers follow each other.

use crate::summaries::{count, design, harmed, network, tell};
use quietbeam_analysis::methods::disclosure::{NetworkTier, Profile};
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::summary::{
    Asking, Composed, Earlier, SafetySummary, SummaryError, attack_again, summarise,
};
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::ComplicationClass::{self, Embolic, Vascular};
use serde_json::{Value, json};

const CLASSES: &str = "complication_class";

fn standard() -> SummaryDesign {
    design(json!({ "tables": [CLASSES] }))
}

fn stricter(numbers: Value) -> SummaryDesign {
    design(json!({ "tables": [CLASSES], "profile_numbers": numbers }))
}

fn looser(numbers: Value) -> SummaryDesign {
    of_profile("strict", numbers)
}

fn of_profile(profile: &str, numbers: Value) -> SummaryDesign {
    design(json!({
        "tables": [CLASSES], "profile": profile, "profile_numbers": numbers, "profile_reason": "rare harms must be told",
    }))
}

/// 1,200 cases of five centres, and how many at each had a major complication of a kind.
fn with(harms: &[(ComplicationClass, [usize; 5])]) -> Vec<CaseRow> {
    let mut rows = network(120, 0);
    let plain = rows[100].clone();
    for (number, case) in rows.iter_mut().enumerate() {
        case.major_within_30_days = plain.major_within_30_days;
        (case.harms, case.seen) = (plain.harms, plain.seen);
        let mut within = number % 240;
        for (kind, at_centre) in harms {
            if within < at_centre[number / 240] {
                *case = harmed(case, *kind);
                break;
            }
            within -= at_centre[number / 240];
        }
    }
    rows
}

/// Composed after others; whoever attacks it again finds the same.
fn after(rows: &[CaseRow], design: &SummaryDesign, earlier: &[Earlier<'_>]) -> Composed {
    let cohort: Cohort = rows.iter().cloned().collect();
    let composed = summarise(Asking::of(&cohort, design), earlier).unwrap();
    assert_eq!(attack_again(&cohort, &composed.summary, earlier).unwrap(), composed.learnt);
    composed
}

fn made(rows: &[CaseRow], design: &SummaryDesign) -> SafetySummary {
    after(rows, design, &[]).summary
}

fn told(summary: &SafetySummary) -> [Option<u64>; 3] {
    ["embolic", "vascular", "any"].map(|class| count(summary, CLASSES, class, "major"))
}

/// No number goes astray between the design, what is attacked and what is printed.
#[test]
fn the_standard_numbers_are_those_of_the_profiles() {
    let rows = with(&[]);
    for (design, profile) in
        [(standard(), Profile::STRICT), (of_profile("two_tier", json!({})), Profile::TWO_TIER)]
    {
        let rules = made(&rows, &design).disclosure;
        let Profile { threshold, least_centres, least_width, dominance, coalition, network_tier } = profile;
        assert_eq!(
            (rules.threshold, rules.least_centres, rules.least_width),
            (threshold, least_centres, least_width)
        );
        assert_eq!(
            (rules.dominance, rules.coalition, rules.network_tier),
            (dominance, coalition, network_tier)
        );
        assert!(rules.table().rows.iter().all(|row| !row.label.contains("than standard")), "{rules:?}");
    }
    let numbers = json!({
        "threshold": 12, "least_centres": 2, "least_width": 6, "dominance": 9, "coalition": 1,
        "network_cases": 500, "network_centres": 6,
    });
    let rules = made(&rows, &of_profile("two_tier", numbers)).disclosure;
    assert_eq!((rules.threshold, rules.least_centres, rules.least_width), (12, 2, 6));
    assert_eq!((rules.dominance, rules.coalition), (9, 1));
    assert_eq!(rules.network_tier, Some(NetworkTier { least_cases: 500, least_centres: 6 }));
    let lower = |row: &&quietbeam_analysis::study::summary::TableRow| {
        row.label.contains("lower than standard: shows more")
    };
    let table = rules.table();
    let marked: Vec<&str> = table.rows.iter().filter(lower).map(|row| row.key.as_str()).collect();
    assert_eq!(marked, ["least_centres", "dominance", "coalition", "network_cases"]);
    for said in [
        "from 1 to 11 are not shown",
        "fewer than 2 centres",
        "within 9 per cent",
        "500 cases of at least 6 centres",
        "at least 6 apart",
        "nor a centre that knows its own cases",
    ] {
        assert!(rules.rules.iter().any(|rule| rule.contains(said)), "{said}: {:?}", rules.rules);
    }
}

/// 30 vascular complications, six a centre, and 5 embolic ones, one a centre: each number decides by itself
/// whether the five may be told.
#[test]
fn each_number_decides_what_is_told() {
    let rows = with(&[(Vascular, [6; 5]), (Embolic, [1; 5])]);
    let embolic = |design: &SummaryDesign| told(&made(&rows, design))[0];
    assert_eq!(embolic(&standard()), None, "5 is below 11");
    assert_eq!(embolic(&looser(json!({ "threshold": 5 }))), Some(5));
    assert_eq!(embolic(&looser(json!({ "threshold": 6 }))), None, "5 is below 6");
    assert_eq!(
        embolic(&looser(json!({ "threshold": 5, "least_centres": 6 }))),
        None,
        "there are five centres"
    );
    let two_tier = |numbers| embolic(&of_profile("two_tier", numbers));
    assert_eq!(two_tier(json!({})), Some(5), "of 1,000 cases and more, of five centres");
    assert_eq!(two_tier(json!({ "network_cases": 1_200 })), Some(5));
    assert_eq!(two_tier(json!({ "network_cases": 1_201 })), None);
    assert_eq!(two_tier(json!({ "network_centres": 6 })), None);
    assert_eq!(told(&made(&rows, &stricter(json!({ "threshold": 36 }))))[2], None, "35 is below 36");
    assert_eq!(told(&made(&rows, &standard()))[2], Some(35));
}

/// Of 35 complications 24 are one centre's and 8 another's: the second would know the first's to within 3,
/// which is more than a tenth of 24 and less than a fifth.
#[test]
fn a_centre_that_has_most_is_told_no_more_closely_than_chosen() {
    let rows = with(&[(Vascular, [24, 8, 1, 1, 1])]);
    let any = |dominance: u64| {
        told(&made(
            &rows,
            &looser(json!({ "threshold": 3, "least_width": 3, "coalition": 1, "dominance": dominance })),
        ))[2]
    };
    assert_eq!(
        [any(0), any(12), any(13), any(20)],
        [Some(35), Some(35), None, None],
        "3 of 24 are 12.5 per cent"
    );
}

#[test]
fn the_seats_are_those_that_were_chosen() {
    let rows = with(&[(Vascular, [6; 5]), (Embolic, [1; 5])]);
    let seats = |coalition: u64| {
        let design = if coalition == 2 { standard() } else { looser(json!({ "coalition": coalition })) };
        after(&rows, &design, &[]).learnt.seats.len()
    };
    // An outsider, five centres, ten pairs.
    assert_eq!([seats(0), seats(1), seats(2)], [1, 6, 16]);
}

/// A first summary with a threshold of 5 and only outsiders to fear tells 9 complications, so that the two kinds of them that it
/// hides lie between 0 and 9: too low for the standard threshold. What is told stays told, and a
/// standard summary after it tells none of it more closely.
#[test]
fn what_a_looser_summary_told_stays_told_and_no_more_is() {
    let rows = with(&[(Vascular, [2, 2, 1, 1, 1]), (Embolic, [1, 1, 0, 0, 0])]);
    let cohort: Cohort = rows.iter().cloned().collect();
    let first = made(&rows, &looser(json!({ "threshold": 5, "coalition": 0 })));
    assert_eq!(told(&first), [None, None, Some(9)]);
    let earlier = [Earlier { name: "safety summary 1".to_owned(), cohort: &cohort, summary: &first }];
    let second = after(&rows, &standard(), &earlier);
    assert_eq!(told(&second.summary), [None, None, None], "its own rules hide what was told");
    let lost: Vec<&str> = second
        .learnt
        .rows
        .iter()
        .filter(|row| row.held.iter().flatten().any(|held| held.lost_before))
        .map(|row| row.number.as_str())
        .collect();
    assert!(lost.iter().any(|number| number.starts_with("Vascular (Major)")), "{lost:?}");
    let warned = "stays told; this one lets nobody place it more closely";
    assert!(second.summary.disclosure.rules.iter().any(|rule| rule.contains(warned)));
    // It is judged by its own numbers: telling the seven would place them more closely.
    let mut bolder = second.summary.clone();
    tell(&mut bolder, (CLASSES, "vascular", "major"), 7);
    match attack_again(&cohort, &bolder, &earlier) {
        Err(SummaryError::Refused(learnt)) => {
            let refused: Vec<String> = learnt.refused().map(|refused| refused.to_string()).collect();
            assert!(refused.iter().any(|refusal| refusal.contains("Vascular (Major)")), "{refused:?}");
        }
        other => panic!("{other:?}"),
    }
}

/// The other way round: 12 complications are told by the standard rules, then 15. The three between are
/// told where the later summary has a threshold of 3, and are not by the standard rules.
#[test]
fn a_later_summary_is_judged_by_its_own_numbers() {
    let [then, now] = [[3, 3, 2, 2, 2], [3, 3, 3, 3, 3]].map(|vascular| with(&[(Vascular, vascular)]));
    let cohort: Cohort = then.iter().cloned().collect();
    let first = made(&then, &standard());
    assert_eq!(told(&first)[2], Some(12));
    let earlier = [Earlier { name: "safety summary 1".to_owned(), cohort: &cohort, summary: &first }];
    let loose = json!({ "threshold": 3, "least_width": 3, "coalition": 0 });
    let later = [standard(), looser(loose)].map(|design| told(&after(&now, &design, &earlier).summary)[2]);
    assert_eq!(later, [None, Some(15)]);
}
