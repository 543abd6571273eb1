#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use serde_json::{Value, json};

/// A plan that can be carried out.
pub(in crate::study) fn plan() -> Value {
    json!({
        "title": "Zero-fluoroscopy against conventional",
        "question": "Is zero-fluoroscopy no worse than conventional fluoroscopy?",
        "eligibility": { "procedure_groups": ["svt", "af_first"], "exclude": ["epicardial", "paediatric"] },
        "level": 0.95,
        "method": "standardised",
        "covariates": ["sex", "age"],
        "missing_covariates": "indicator",
        "least_known": 0.9,
        "sensitivity": ["leave_one_centre_out"],
        "endpoints": [{
            "endpoint": "acute_success", "margin": 0.03, "scale": "risk_difference", "worse_when": "lower",
            "reason": "Three in a hundred repeated procedures weigh less than a working life under lead.",
            "source": "decision of the writing group", "expected": 0.95,
        }],
    })
}

fn read(plan: Value) -> Result<AnalysisPlan, PlanRefusal> {
    AnalysisPlan::try_from(serde_json::from_value::<PlanForm>(plan).unwrap())
}

fn with(pointer: &str, value: Value) -> Value {
    let mut changed = plan();
    *changed.pointer_mut(pointer).unwrap() = value;
    changed
}

fn refused(pointer: &str, value: Value, sentence: &str) {
    let error = read(with(pointer, value.clone())).expect_err(pointer).to_string();
    assert!(error.contains(sentence), "{pointer} = {value}: {error}");
}

#[test]
fn a_plan_is_written_as_it_was_read_with_its_codes_in_order() {
    let read = read(plan()).unwrap();
    let written = serde_json::to_value(&read).unwrap();
    assert_eq!(written.pointer("/covariates"), Some(&json!(["age", "sex"])));
    let mut expected = plan();
    expected["covariates"] = json!(["age", "sex"]);
    assert_eq!(written, expected);
    assert_eq!(serde_json::from_value::<AnalysisPlan>(written).unwrap(), read);
}

#[test]
fn what_cannot_be_carried_out_is_refused_with_its_mend() {
    refused("/endpoints/0/worse_when", json!("higher"), "worse_when = \"lower\"");
    refused("/endpoints/0/reason", json!(""), "endpoints.0.reason: has 0 characters; write at least 20");
    refused("/endpoints/0/reason", json!("x"), "has 1 character; write at least 20");
    refused("/endpoints/0/margin", json!(-0.03), "without a sign");
    refused("/endpoints/0/margin", json!(3.0), "such as 0.03");
    refused("/endpoints/0/scale", json!("odds_ratio"), "risk_difference, risk_ratio");
    refused("/endpoints/0/endpoint", json!("success"), "acute_success, major_within_30_days");
    refused("/endpoints/0/expected", json!(95), "between 0 and 1");
    refused("/endpoints", json!([]), "at least one endpoint");
    refused("/covariates", json!(["age", "shoe_size"]), "\"shoe_size\" is not one of: age, sex");
    refused("/covariates", json!(["ice_used"]), "on the way to its effect");
    refused("/covariates", json!(["centre"]), "stands in every model already");
    refused("/covariates", json!([]), "choose the method within_centres");
    refused("/method", json!("cr0"), "standardised, overlap_weighted, within_centres");
    refused("/method", json!("within_centres"), "takes no covariates");
    refused("/level", json!(95), "such as 0.95");
    refused("/least_known", json!(90), "such as 0.9");
    refused("/eligibility/procedure_groups", json!([]), "nothing would be compared");
    refused("/question", json!("Is zero-fluoroscopy no worse\nthan conventional?"), "as one line");
}

/// A ratio is of what nobody wants, so more is worse whatever the endpoint.
#[test]
fn a_margin_may_be_a_ratio_above_1_on_the_side_of_more_failures() {
    let ratio = |margin: Value, side: &str| {
        let mut plan = plan();
        plan["endpoints"][0]["scale"] = json!("risk_ratio");
        plan["endpoints"][0]["margin"] = margin;
        plan["endpoints"][0]["worse_when"] = json!(side);
        plan
    };
    let plan = read(ratio(json!(1.5), "higher")).unwrap();
    assert_eq!(serde_json::to_value(&plan).unwrap()["endpoints"], ratio(json!(1.5), "higher")["endpoints"]);
    for (margin, side, mend) in [
        (json!(1.5), "lower", "a ratio of failure to reach acute success is worse when it is higher"),
        (json!(0.9), "higher", "above 1 and at most 5"),
        (json!(1.0), "higher", "above 1 and at most 5"),
        (json!(50.0), "higher", "is 50; write how many times as often"),
    ] {
        let error = read(ratio(margin, side)).unwrap_err().to_string();
        assert!(error.contains(mend), "{error}");
    }
    // By the logarithm of the ratio, by hand: 2 (1.96 + 0.8416)² · 0.95 / 0.05 / ln² 1.5 = 1,814 in
    // each arm; the score test counts its variance at the margin and asks for a little more.
    let cost = costs(&plan)[0].each_arm.unwrap();
    assert!((1_750..2_100).contains(&cost), "{cost}");
}

#[test]
fn everything_wrong_is_said_at_once() {
    let refusal = read(json!({})).unwrap_err();
    let pointers: Vec<&str> = refusal.0.iter().map(|(pointer, _)| pointer.as_str()).collect();
    for pointer in
        ["/title", "/question", "/level", "/method", "/missing_covariates", "/least_known", "/endpoints"]
    {
        assert!(pointers.contains(&pointer), "{pointer} of {pointers:?}");
    }
    assert!(serde_json::from_value::<PlanForm>(json!({ "margin": 0.03 })).is_err());
}

#[test]
fn an_endpoint_stands_once() {
    let mut twice = plan();
    let again = twice["endpoints"][0].clone();
    twice["endpoints"].as_array_mut().unwrap().push(again);
    assert!(read(twice).unwrap_err().to_string().contains("stands in the plan twice"));
}

#[test]
fn versions_are_compared_place_by_place() {
    let before = read(plan()).unwrap();
    let after = read(with("/endpoints/0/margin", json!(0.02))).unwrap();
    let change = |pointer: &str, before: Value, after: Value| Change {
        pointer: pointer.to_owned(),
        before: Some(before),
        after: Some(after),
    };
    assert_eq!(changes(&before, &after), [change("/endpoints/0/margin", json!(0.03), json!(0.02))]);
    assert_eq!(changes(&before, &before), []);
    let fewer = read(with("/sensitivity", json!([]))).unwrap();
    let list = change("/sensitivity", json!(["leave_one_centre_out"]), json!([]));
    assert_eq!(changes(&before, &fewer), [list]);
}

/// Without a difference the formula is the one of Blackwelder with the same variance twice:
/// 2 p(1−p)(z_α+z_β)²/δ² = 828.6 at p = 0.95, δ = 0.03, one-sided 2.5 %, power 80 %, from
/// z = 1.959964 and 0.841621 (normal table, from memory). The restricted variance of Farrington
/// and Manning is a little larger for a success near 1.
#[test]
fn a_plan_says_how_many_cases_it_takes() {
    let found = costs(&read(plan()).unwrap());
    let needed: Vec<u32> = found.iter().filter_map(|cost| cost.each_arm).collect();
    assert_eq!(found.iter().map(|cost| cost.power).collect::<Vec<_>>(), [0.8, 0.9]);
    assert!((829..950).contains(&needed[0]) && needed[1] > needed[0], "{needed:?}");
}

fn with_looks(looks: Value) -> Value {
    let mut changed = plan();
    changed["looks"] = looks;
    changed
}

#[test]
fn several_looks_are_read_and_written_and_one_look_leaves_no_trace() {
    let looks =
        json!({ "each_arm": 900, "fractions": [0.5, 1.0], "spending": "power_family", "exponent": 3.0 });
    let several = read(with_looks(looks.clone())).unwrap();
    assert_eq!(several.looks().number(), 2);
    let written = serde_json::to_value(&several).unwrap();
    assert_eq!(written["looks"], looks);
    assert_eq!(serde_json::from_value::<AnalysisPlan>(written).unwrap(), several);
    let one = read(plan()).unwrap();
    assert_eq!(one.looks(), &PlannedLooks::One);
    assert_eq!(serde_json::to_value(&one).unwrap().get("looks"), None);
    let pointers: Vec<String> = changes(&one, &several).into_iter().map(|change| change.pointer).collect();
    assert_eq!(pointers, ["/looks/each_arm", "/looks/exponent", "/looks/fractions", "/looks/spending"]);
}

#[test]
fn looks_that_cannot_be_taken_are_refused_with_their_mend() {
    let looks = |pointer: &str, value: Value| {
        let mut looks =
            json!({ "each_arm": 900, "fractions": [0.5, 1.0], "spending": "obrien_fleming_type" });
        looks[pointer] = value;
        read(with_looks(looks)).expect_err(pointer).to_string()
    };
    let fractions =
        [json!([]), json!([1.0]), json!([0.5, 0.9]), json!([0.5, 0.505, 1.0]), json!([0.8, 0.5, 1.0])];
    for given in fractions.into_iter().chain([json!([50.0, 100.0]), json!(vec![0.1; 11])]) {
        assert!(looks("fractions", given.clone()).starts_with("looks.fractions: write the share"), "{given}");
    }
    assert!(looks("each_arm", json!(0)).starts_with("looks.each_arm: write with how many cases"));
    let unknown = looks("spending", json!("haybittle"));
    assert!(unknown.contains("obrien_fleming_type, pocock_type, power_family"), "{unknown}");
    assert!(looks("spending", json!("power_family")).starts_with("looks.exponent: is missing"));
    assert!(looks("exponent", json!(2.0)).contains("only the spending function power_family"));
    let idle = looks("fractions", json!([0.1, 1.0]));
    assert!(idle.starts_with("looks.fractions: at a share of 0.1 so little would be spent"), "{idle}");
}

#[test]
fn subgroups_are_named_from_their_list_and_none_leave_no_trace() {
    let mut named = plan();
    named["subgroups"] = json!(["chd", "procedure_group"]);
    let written = serde_json::to_value(read(named.clone()).unwrap()).unwrap();
    assert_eq!(written["subgroups"], json!(["procedure_group", "chd"]));
    named["subgroups"] = json!(["colour"]);
    let refused = read(named).unwrap_err().to_string();
    assert!(refused.contains("subgroups.0: \"colour\" is not one of: procedure_group, sex"), "{refused}");
    assert_eq!(serde_json::to_value(read(plan()).unwrap()).unwrap().get("subgroups"), None);
}

fn also(key: &str, value: Value) -> Value {
    let mut changed = plan();
    changed[key] = value;
    changed
}

/// What is as usual leaves no trace, so that a plan from before there was a choice keeps its hash.
#[test]
fn where_near_zero_counts_is_written_only_if_it_is_in_an_arm() {
    let written = |plan| serde_json::to_string(&read(plan).unwrap()).unwrap();
    assert_eq!(written(also("near_zero", json!("in_neither_arm"))), written(plan()));
    let with_zero = read(also("near_zero", json!("with_zero_fluoroscopy"))).unwrap();
    assert_eq!(with_zero.near_zero(), NearZeroCases::WithZeroFluoroscopy);
    assert_eq!(serde_json::to_value(&with_zero).unwrap()["near_zero"], json!("with_zero_fluoroscopy"));
    let pointers: Vec<String> =
        changes(&read(plan()).unwrap(), &with_zero).into_iter().map(|change| change.pointer).collect();
    assert_eq!(pointers, ["/near_zero"]);
    let refused = read(also("near_zero", json!("somewhere"))).unwrap_err().to_string();
    assert!(refused.contains("in_neither_arm, with_zero_fluoroscopy, with_conventional"), "{refused}");
}

/// By hand: three points worse than 2 % of success leave less than none, and three times as many
/// failures as 40 % are more than all.
#[test]
fn a_margin_beyond_all_cases_is_refused_in_a_new_plan_and_read_in_an_older_one() {
    for (margin, expected, scale, side) in
        [(0.03, 0.02, "risk_difference", "lower"), (3.0, 0.6, "risk_ratio", "higher")]
    {
        let mut asked = plan();
        let endpoint = &mut asked["endpoints"][0];
        (endpoint["margin"], endpoint["expected"]) = (json!(margin), json!(expected));
        (endpoint["scale"], endpoint["worse_when"]) = (json!(scale), json!(side));
        assert!(read(asked.clone()).is_ok());
        // Beside it everything else is said at once.
        asked["title"] = json!("");
        let form: PlanForm = serde_json::from_value(asked).unwrap();
        let refused = AnalysisPlan::newly_written(form).unwrap_err();
        let pointers: Vec<&str> = refused.0.iter().map(|(pointer, _)| pointer.as_str()).collect();
        assert_eq!(pointers, ["/title", "/endpoints/0/margin"]);
        assert!(refused.to_string().contains("would be all or more; write a smaller margin"), "{refused}");
    }
    let form: PlanForm = serde_json::from_value(plan()).unwrap();
    assert_eq!(AnalysisPlan::newly_written(form.clone()), AnalysisPlan::try_from(form));
}

#[test]
fn strata_are_the_centres_unless_written_and_leave_no_trace_then() {
    let written = |plan| serde_json::to_string(&read(plan).unwrap()).unwrap();
    assert_eq!(written(also("strata", json!("centre"))), written(plan()));
    let finer = read(also("strata", json!("centre_and_procedure_group"))).unwrap();
    assert_eq!(finer.strata(), Strata::CentresAndGroups);
    let found = changes(&read(plan()).unwrap(), &finer);
    assert_eq!((found.len(), found[0].pointer.as_str()), (1, "/strata"));
    let refused = read(also("strata", json!("operator"))).unwrap_err().to_string();
    assert!(
        refused.contains("strata: \"operator\" is not one of: centre, centre_and_procedure_group"),
        "{refused}"
    );
}

#[test]
fn days_of_recurrence_are_checked_and_the_usual_ones_leave_no_trace() {
    let written = |plan| serde_json::to_string(&read(plan).unwrap()).unwrap();
    assert_eq!(
        written(also("recurrence", json!({ "blanking_days": 60, "until_day": 365 }))),
        written(plan())
    );
    let other = read(also("recurrence", json!({ "blanking_days": 90 }))).unwrap();
    assert_eq!((other.recurrence().blanking_days(), other.recurrence().until_day()), (90, 365));
    assert_eq!(
        serde_json::to_value(&other).unwrap()["recurrence"],
        json!({ "blanking_days": 90, "until_day": 365 })
    );
    for (days, sentence) in [
        (json!({ "blanking_days": 181 }), "recurrence.blanking_days: is 181; write the days of blanking"),
        (json!({ "until_day": 80 }), "recurrence.until_day: is 80; write the last day"),
        (json!({ "until_day": 1_501 }), "at the most 1500"),
    ] {
        let refused = read(also("recurrence", days)).unwrap_err().to_string();
        assert!(refused.contains(sentence), "{refused}");
    }
}

/// Codes and words of an endpoint name its window, so that a plan cannot leave it open.
#[test]
fn every_endpoint_says_what_it_means_and_until_when() {
    use crate::study::endpoint::Endpoint;
    for endpoint in Endpoint::ALL {
        let told = endpoint.definition();
        assert!(told.version == 1 && told.sentence.ends_with('.') && !told.window.is_empty());
        assert_eq!(Endpoint::from_code(endpoint.code()), Some(endpoint));
        let told = [told.window, told.sentence];
        assert!(
            Endpoint::ALL.iter().all(|other| *other == endpoint
                || [other.definition().window, other.definition().sentence] != told)
        );
    }
}

/// A registered plan keeps its hash, which is that of its JSON: nothing new is written unless chosen.
#[test]
fn groups_types_and_ages_are_named_and_a_plan_without_them_is_written_as_before() {
    let older = serde_json::to_value(read(plan()).unwrap()).unwrap();
    let keys: Vec<&String> = older["eligibility"].as_object().unwrap().keys().collect();
    assert_eq!(keys, ["procedure_groups", "exclude"]);
    let mut narrow = plan();
    narrow["eligibility"] = json!({
        "procedure_groups": ["af_first"], "procedures": ["cti_afl", "avnrt"],
        "age_bands": ["70_79", "60_69"], "exclude": ["epicardial", "congenital"],
    });
    let narrow = read(narrow).unwrap();
    let named = narrow.eligibility();
    assert_eq!(named.procedures, [ProcedureType::Avnrt, ProcedureType::CtiFlutter]);
    assert_eq!(named.age_bands, [AgeBand::Y60To69, AgeBand::Y70To79]);
    assert_eq!(named.groups(), [ProcedureGroup::Svt, ProcedureGroup::Flutter, ProcedureGroup::AfFirst]);
    let written = serde_json::to_value(&narrow).unwrap();
    assert_eq!(written["eligibility"]["age_bands"], json!(["60_69", "70_79"]));
    assert_eq!(serde_json::from_value::<AnalysisPlan>(written).unwrap(), narrow);
    // Side by side with a plan without them: what was not there before is shown as new.
    let changed = changes(&read(plan()).unwrap(), &narrow);
    let bands = changed.iter().find(|change| change.pointer == "/eligibility/age_bands").unwrap();
    assert_eq!((&bands.before, &bands.after), (&None, &Some(json!(["60_69", "70_79"]))));
}

#[test]
fn a_scope_that_says_a_thing_twice_is_refused() {
    let scope = |more: Value| {
        let mut changed = plan();
        changed["eligibility"] = json!({ "procedure_groups": ["flutter"], "exclude": [] });
        changed["eligibility"].as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        read(changed).unwrap_err().to_string()
    };
    assert!(
        scope(json!({ "procedures": ["cti_afl"] })).contains("cti_afl is compared with the whole of flutter")
    );
    assert!(scope(json!({ "procedures": ["diag_only"] })).contains("no ablation"));
    assert!(scope(json!({ "procedures": ["heart"] })).contains("\"heart\" is not one of: avnrt"));
    assert!(scope(json!({ "age_bands": ["old"] })).contains("\"old\" is not one of: 0_1"));
    let twice = json!({ "age_bands": ["18_29"], "exclude": ["paediatric"] });
    assert!(scope(twice).contains("leave the exclusion paediatric out"));
    // A type alone is a scope.
    let mut alone = plan();
    alone["eligibility"] = json!({ "procedure_groups": [], "procedures": ["avnrt"], "exclude": [] });
    assert!(read(alone).is_ok());
}
