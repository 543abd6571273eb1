//! Each centre's harm in a report. The arithmetic of sum and funnel is held beside the watching; here
//! it stands on the cases that the plan compares.

use crate::cases::{in_order, network, of, planned};
use quietbeam_analysis::study::report::{Facts, report};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{ProcedureType, Strategy};
use serde_json::json;

#[test]
fn every_case_compared_stands_in_the_chart_of_its_centre() {
    let mut cases = network();
    for (at, case) in cases.iter_mut().enumerate() {
        case.row.major_within_30_days = (at % 10 != 3).then_some(at % 50 == 7);
        if at % 90 == 0 {
            case.row.procedure = ProcedureType::Pvc;
        }
        if at % 90 == 1 {
            case.row.intended = Strategy::NearZero;
        }
    }
    let plan = planned(&[("/eligibility/procedure_groups", json!(["af_first"]))]);
    let compared =
        |case: &&quietbeam_analysis::study::report::ReportCase| case.row.procedure != ProcedureType::Pvc;
    let made = report(cases.clone(), &plan, &Facts::default());
    let charts = &made.centre_charts;
    assert_eq!(charts.centres.len(), 2);
    for chart in &charts.centres {
        let own: Vec<_> =
            cases.iter().filter(compared).filter(|case| case.row.centre == chart.code).collect();
        let known = own.iter().filter_map(|case| case.row.major_within_30_days);
        assert_eq!((chart.cases as usize, chart.known as usize), (own.len(), known.clone().count()));
        assert_eq!(chart.events as usize, known.filter(|major| *major).count());
        assert_eq!(chart.course.points.len(), chart.known as usize);
        // Two centres give no rate of their own: 2 in 100 stand for it.
        assert!((chart.expected - 0.02 * f64::from(chart.known)).abs() < 1e-9, "{chart:?}");
        assert!(chart.funnel.unwrap().far.upper > 0.02);
    }
    assert_eq!(charts.centres[0].code, CentreCode::from_random(1));
}

#[test]
fn a_file_tells_the_highest_point_and_no_case_by_case() {
    let mut cases = network();
    for (at, case) in cases.iter_mut().enumerate() {
        case.row.major_within_30_days = Some(at % 9 == 0);
    }
    let made = of(in_order(cases));
    let json = serde_json::to_value(&made.centre_charts).unwrap();
    let course = &json["centres"][0]["course"];
    let keys: Vec<&String> = course.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["highest", "at_case", "signals_at_cases"]);
    // Every ninth case against 2 in 100 expected: the line is reached.
    assert!(!course["signals_at_cases"].as_array().unwrap().is_empty(), "{course}");
    assert!(course["highest"].as_f64().unwrap() >= 3.0, "{course}");
}
