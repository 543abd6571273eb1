//! Published counts as the cases of a registry: sent in as files, frozen, compared by a plan that was
//! registered first, and read as the report. The limits are those that `tests/study/reference.py`
//! computed by a second route.

use std::path::Path;

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::plan::plan;
use quietbeam_tests::registry::Registry;
use quietbeam_tests::server::{Sends, Served};
use serde_json::{Value, json};

use crate::studies::{
    CRYOBALLOON_TRIAL, SECOND_SVT_TRIAL, SVT_TRIAL, Study, VENTRICULAR_COHORT, import_study,
};

/// Both routes work in more digits than this; limits are roots of a square root.
const TOLERANCE: f64 = 1e-9;

/// What must be said of a study whose plan allows 3 points of success and 1 of harm.
struct Said {
    /// Of success as intended.
    as_intended: &'static str,
    /// Of success, in both populations.
    claim: &'static str,
}

/// The report of a study's cases by the plan of the tests, decided within the centre alone: one
/// centre gives no variance between centres.
fn reported(registry: &Registry, study: &Study) -> Value {
    let mut plan = plan();
    plan["method"] = json!("within_centres");
    plan["covariates"] = json!([]);
    plan["sensitivity"] = json!([]);
    let served = Served::new(registry);
    let investigator = served.member("investigator", Role::Investigator, &[]);
    let plan = investigator.post("/plans", &plan).expect(201).json();
    import_study(registry, registry.centre("S01"), study);
    let cut = investigator.post("/data-cuts", &json!({ "name": "study" })).expect(201).json();
    let path = format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap());
    let made = investigator.post(&path, &json!({ "plan": plan["id"] })).expect(201).json();
    investigator.get(&format!("/comparisons/{}/report", made["id"].as_str().unwrap())).expect(200).json()
}

/// The reference limits of a study's difference.
fn limits(study: &str, endpoint: &str) -> [f64; 2] {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("study/published.csv");
    let mut lines = csv::Reader::from_path(path).unwrap();
    let of_study = |line: &csv::StringRecord| {
        &line[0] == study && &line[1] == endpoint && &line[6] == "miettinen_nurminen"
    };
    let found = lines.records().map(Result::unwrap).find(of_study);
    let line = found.unwrap_or_else(|| panic!("no reference for {study} {endpoint}"));
    [7, 8].map(|column| line[column].parse().unwrap())
}

fn check(registry: &Registry, (study, reference): (&Study, &str), said: Said) {
    let report = reported(registry, study);
    let endpoints = report["planned"]["endpoints"].as_array().unwrap_or_else(|| panic!("{report:.3000}"));
    assert_eq!(endpoints.len(), 2);
    for (found, (endpoint, referred)) in
        endpoints.iter().zip([("acute_success", "acute_success"), ("major_within_30_days", "major")])
    {
        assert_eq!(found["endpoint"], endpoint);
        let interval = &found["as_intended"]["crude"]["difference"]["estimated"]["miettinen_nurminen"];
        for (limit, expected) in ["lower", "upper"].iter().zip(limits(reference, referred)) {
            let value =
                interval[*limit].as_f64().unwrap_or_else(|| panic!("{}", found["as_intended"]["crude"]));
            let apart = (value - expected).abs();
            assert!(apart <= TOLERANCE, "{reference} {endpoint} {limit}: {value}, reference {expected}");
        }
    }
    let [success, harm] = [&endpoints[0], &endpoints[1]];
    assert_eq!(success["as_intended"]["decision"]["outcome"], said.as_intended, "{reference}");
    assert_eq!(success["claim"]["outcome"], said.claim, "{reference}");
    // Success comes first in the plan: as it is not shown, harm is not tested, whatever its interval.
    assert_eq!(harm["claim"]["reason"]["code"], "not_tested", "{reference}");
}

on_both_stores! {
    // All 134 and all 128 were treated, which excludes 3 points; the 96 without X-ray are too few.
    fn a_trial_that_shows_success_as_intended_claims_nothing(registry) {
        let said = Said { as_intended: "shown", claim: "cannot_conclude" };
        check(registry, (&SVT_TRIAL, "no_party_2016"), said);
    }

    fn the_best_trial_alone_does_not_show_three_points(registry) {
        let said = Said { as_intended: "not_shown", claim: "not_shown" };
        check(registry, (&SECOND_SVT_TRIAL, "zerofluoro_2022"), said);
    }

    fn a_cohort_of_ventricular_arrhythmia_does_not_either(registry) {
        let said = Said { as_intended: "not_shown", claim: "not_shown" };
        check(registry, (&VENTRICULAR_COHORT, "idiopathic_va_2017"), said);
    }

    fn a_trial_in_which_everybody_was_treated_cannot_conclude(registry) {
        let said = Said { as_intended: "cannot_conclude", claim: "cannot_conclude" };
        check(registry, (&CRYOBALLOON_TRIAL, "cryoballoon_2023"), said);
    }
}
