//! What the field asks.

use crate::cases::{base, in_order, intend, network, of};
use quietbeam_analysis::study::report::{Fluid, ReportCase};
use quietbeam_analysis::study::staff::{Badges, NO_JUDGEMENT, StaffRole};
use quietbeam_schema::vocabulary::{
    BadgePosition, CongenitalDisease, DetectedBy, FluoroReason, LeadWorn, ProcedureType, Strategy,
};

/// `times` cases made alike.
fn cases(times: usize, make: impl Fn(&mut ReportCase)) -> Vec<ReportCase> {
    let mut case = base();
    make(&mut case);
    vec![case; times]
}

#[test]
fn feasibility_counts_what_was_intended_and_what_was_carried_through() {
    let all = [
        cases(94, |case| intend(case, true, false)),
        cases(5, |case| {
            intend(case, true, true);
            case.course.reasons = [FluoroReason::Transseptal].into_iter().collect();
        }),
        cases(1, |case| {
            intend(case, true, true);
            case.course.reasons = [FluoroReason::SuspectedComplication].into_iter().collect();
        }),
        cases(90, |case| intend(case, false, true)),
        cases(10, |case| intend(case, false, false)),
        // The plan leaves these out, and a report on feasibility does not.
        cases(4, |case| {
            intend(case, false, true);
            case.row.procedure = ProcedureType::VtEpicardial;
        }),
        cases(6, |case| {
            intend(case, true, true);
            case.row.before.congenital = Some(CongenitalDisease::Complex);
            case.row.procedure = ProcedureType::Avnrt;
        }),
        cases(20, |case| case.row.procedure = ProcedureType::DiagnosticOnly),
    ]
    .concat();
    let found = of(in_order(all)).feasibility;
    let told = |line: &quietbeam_analysis::study::report::Tried| {
        (line.intended.count, line.intended.of, line.completed.count, line.without_x_ray.count)
    };
    assert_eq!(told(&found.all), (106, 210, 94, 104));
    assert_eq!(found.all.for_a_complication, 1);
    let labels: Vec<(&str, u32)> =
        found.by_group.iter().map(|line| (line.label.as_str(), line.intended.of)).collect();
    assert_eq!(labels, [("SVT", 6), ("AF, first", 200), ("Ventricular tachycardia", 4)]);
    assert_eq!(told(&found.exceptions[0]), (0, 4, 0, 0));
    assert_eq!(told(&found.exceptions[1]), (6, 6, 0, 0));
    for parts in [&found.by_group, &found.by_quarter, &found.by_experience] {
        assert_eq!(parts.iter().map(|line| line.intended.of).sum::<u32>(), 210);
    }
    assert_eq!(found.by_earlier_cases.iter().map(|line| line.completed.of).sum::<u32>(), 106);
    assert_eq!(
        found.in_words,
        "94/106 (88.7 %) of the cases intended without X-ray were carried through without it. Of all ablations 104/210 (49.5 %) had none."
    );
}

/// Leads of 1 to 9 minutes have the median 5; the limits at 95 % are the second and the eighth
/// value: by the table of the sign test for nine pairs, from memory, and by hand 2 × 10/512 < 0.05.
#[test]
fn echo_first_tells_how_long_before_it_was_felt() {
    let fluid = |shown_by, felt, times: Option<(i16, i16)>| Fluid {
        shown_by,
        felt,
        seen_min: times.map(|times| times.0),
        felt_min: times.map(|times| times.1),
    };
    let with = |seen: Fluid| cases(1, move |case| case.course.fluid = Some(seen));
    let ice = Some(DetectedBy::Ice);
    let mut all: Vec<ReportCase> =
        (1..=9).flat_map(|lead| with(fluid(ice, Some(true), Some((40, 40 + lead))))).collect();
    all.extend((0..30).flat_map(|_| with(fluid(ice, Some(false), None))));
    let pressure = Some(DetectedBy::ArterialPressure);
    all.extend(with(fluid(pressure, Some(true), Some((50, 50)))));
    all.extend(with(fluid(pressure, Some(true), Some((55, 50)))));
    all.extend(with(fluid(pressure, Some(true), None)));
    let found = of(in_order(all)).echo_first;
    assert_eq!(found.routes.len(), 2);
    let echo = found.routes.iter().find(|route| route.shown_by == ice).unwrap();
    assert_eq!((echo.cases, echo.never_felt, echo.timed, echo.seen_earlier), (39, 30, 9, 9));
    let lead = echo.lead_min.estimated().unwrap();
    assert_eq!((lead.lower, lead.estimate, lead.upper), (2.0, 5.0, 8.0));
    let felt = found.routes.iter().find(|route| route.shown_by == pressure).unwrap();
    assert_eq!((felt.cases, felt.timed, felt.same_minute, felt.seen_later), (3, 2, 1, 1));
    assert!(felt.lead_min.estimated().is_none());
    assert_eq!(felt.median_min, Some(-2.5));
    assert!(
        found.in_words.contains(
            "was seen before pressure or rhythm changed in 9/9 (100 %); at the median 5.0 min before."
        ),
        "{}",
        found.in_words
    );
}

/// Same minutes, very different dose: 9.0 min and 29.4 mGy (Ahn and others, Europace
/// 2023;25:euad086) are 3.3 mGy a minute; 7.5 min and 212 mGy (the example of the radiation dose
/// summary guide of HL7) are 28.3; 100.8 min and 1,173.6 mGy (a Japanese survey, 2013,
/// doi 10.6009/jjrt.2013_JSRT_69.12.1412) are 11.6.
#[test]
fn minutes_do_not_tell_the_dose() {
    let exposed = |minutes: f64, mgy: f64, runs: Option<u8>| {
        cases(1, move |case| {
            intend(case, false, true);
            (case.row.fluoro_time_s, case.row.air_kerma_mgy) = (Some(60.0 * minutes), Some(mgy));
            case.course.cine_runs = runs;
        })
    };
    let mut all =
        [exposed(9.0, 29.4, Some(0)), exposed(7.5, 212.0, Some(2)), exposed(100.8, 1_173.6, None), network()]
            .concat();
    for case in all.iter_mut().skip(3) {
        (case.row.fluoro_time_s, case.row.air_kerma_mgy) = (None, None);
        case.course.cine_runs = None;
    }
    let found = of(in_order(all)).dose_and_minutes;
    assert_eq!((found.exposed, found.both_known), (1_003, 3));
    let [low, _, median, _, high] = found.all.quantiles.unwrap();
    assert!((median - 11.643).abs() < 1e-3, "{median}");
    // Type 7 of three values at 5 and 95 %: a tenth of the way to the middle one.
    assert!((low - (0.9 * 29.4 / 9.0 + 0.1 * 1_173.6 / 100.8)).abs() < 1e-9);
    assert!((high - (0.9 * 212.0 / 7.5 + 0.1 * 1_173.6 / 100.8)).abs() < 1e-9);
    assert_eq!((found.without_cine.cases, found.with_cine.cases), (1, 1));
    assert_eq!((found.cine.count, found.cine.of), (1, 2));
    // Four classes a decade from 0.1: 9.0 and 7.5 min lie in 5.6 to 10, 100.8 beyond the end;
    // 29.4 mGy in 17.8 to 31.6, 212 in 178 to 316, 1,173.6 in 1,000 to 1,778.
    let places: Vec<(u8, u8, u32)> =
        found.grid.iter().map(|cell| (cell.minutes, cell.mgy, cell.cases.conventional)).collect();
    assert_eq!(places, [(7, 9, 1), (7, 13, 1), (11, 16, 1)]);
    assert!(
        found.in_words.starts_with("A minute of fluoroscopy stood for 12 mGy at the median"),
        "{}",
        found.in_words
    );
}

#[test]
fn who_is_protected_judges_nobody() {
    let badge = |zero, dose, position| {
        cases(1, move |case| {
            intend(case, zero, !zero);
            case.row.badges = Badges::new([Some(dose), None, None, None], Some(position));
            case.row.lead_worn = Some(if zero { LeadWorn::None } else { LeadWorn::All });
        })
    };
    let mut all: Vec<ReportCase> =
        [1.0, 2.0, 3.0].into_iter().flat_map(|dose| badge(true, dose, BadgePosition::OverApron)).collect();
    all.extend([20.0, 30.0].into_iter().flat_map(|dose| badge(false, dose, BadgePosition::OverApron)));
    all.extend(badge(false, 1.5, BadgePosition::UnderApron));
    let found = of(in_order(all)).who_is_protected;
    assert_eq!((found.never_on.zero_fluoroscopy.count, found.never_on.conventional.count), (3, 0));
    let lines: Vec<_> = found
        .staff
        .iter()
        .map(|line| {
            let medians = line.arms.map(|arm| arm.usv.map(|usv| usv.median));
            (line.role, line.position, medians.zero_fluoroscopy, medians.conventional)
        })
        .collect();
    assert_eq!(
        lines,
        [
            (StaffRole::Operator, Some(BadgePosition::OverApron), Some(2.0), Some(25.0)),
            (StaffRole::Operator, Some(BadgePosition::UnderApron), None, Some(1.5)),
        ]
    );
    let nobody = found.lead.iter().find(|line| line.worn == Some(LeadWorn::None)).unwrap();
    assert_eq!((nobody.cases.zero_fluoroscopy, nobody.cases.conventional), (3, 0));
    assert_eq!(found.no_judgement, NO_JUDGEMENT);
    assert!(found.limits.iter().all(|limit| !limit.source.is_empty() && limit.msv > 0.0));
    assert!(
        found.in_words.starts_with("In the zero-fluoroscopy arm the beam was never on in 3/3"),
        "{}",
        found.in_words
    );
}

#[test]
fn near_zero_is_a_group_of_its_own() {
    let mut all = network();
    all[0].row.intended = Strategy::NearZero;
    (all[0].row.fluoro_time_s, all[0].row.air_kerma_mgy) = (Some(30.0), Some(0.5));
    let found = of(all);
    let cell = found.dose_and_minutes.grid.iter().find(|cell| cell.near_zero > 0).unwrap();
    assert_eq!(cell.near_zero, 1);
    assert_eq!(found.feasibility.all.intended.of, 2_880);
    assert_eq!(found.feasibility.all.intended.count, 1_880);
}

/// Medians and classes are those of the pictures of a centre; here each arm has its own.
#[test]
fn dose_stands_in_two_parts_and_a_zero_is_no_dose() {
    let mut cases = Vec::new();
    for (zero, kerma) in [(true, None), (false, Some(20.0))] {
        for number in 0..40 {
            let mut case = base();
            let exposed = !zero || number < 10;
            intend(&mut case, zero, exposed);
            case.row.air_kerma_mgy = if exposed { Some(kerma.unwrap_or(2.0)) } else { Some(0.0) };
            cases.push(case);
        }
    }
    let parts = of(in_order(cases)).dose_in_two_parts;
    let (zero, conventional) = (&parts.arms.zero_fluoroscopy, &parts.arms.conventional);
    assert_eq!((zero.cases, zero.exposed, zero.no_x_ray.unwrap().count), (40, 10, 30));
    assert!(zero.air_kerma_mgy.is_none(), "ten doses are too few for a median");
    let doses = conventional.air_kerma_mgy.as_ref().unwrap();
    assert_eq!((doses.reported, doses.median.estimate, doses.bins.iter().sum::<u32>()), (40, 20.0, 40));
    assert!(
        parts
            .in_words
            .starts_with("In the zero-fluoroscopy arm 75.0 % of 40 cases had no X-ray; too few others"),
        "{}",
        parts.in_words
    );
}
