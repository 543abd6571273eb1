//! The planned results computed again by base R from the kit alone: glm(), svd(), qt() and the
//! likelihood's root in R against the methods of the registry.

use crate::cases::{base, in_order, intend, network, planned};
use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::look::{LooksTaken, information};
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::planned::{carry_out, carry_out_at};
use quietbeam_analysis::study::recheck::{Kit, kit};
use quietbeam_analysis::study::report::{Facts, ReportCase, report};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{AcuteSuccess, AgeBand, ProcedureType, Sex, Strategy, StructuralDisease};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::json;
use std::path::Path;
use std::process::Command;

fn kit_of(cases: &[ReportCase], plan: &AnalysisPlan) -> Kit {
    let cohort: Cohort = cases.iter().map(|case| case.row.clone()).collect();
    kit(&cohort, &carry_out(&cohort, plan), "Invented cases.")
}

/// Six centres of which one has no major complication, covariates of every kind with gaps, and
/// cross-over.
fn invented() -> Vec<ReportCase> {
    let mut chance = ChaCha8Rng::seed_from_u64(20_261_125);
    let mut draw = || chance.random::<f64>();
    let mut cases = Vec::new();
    for number in 0..2_400 {
        let mut case = base();
        let centre = (number % 6) as u8;
        let hard = draw() + draw() + draw() - 1.5;
        let row = &mut case.row;
        row.centre = CentreCode::from_random(centre);
        row.before.age_band = AgeBand::Y40To49;
        if draw() < 0.4 {
            row.before.age_band = AgeBand::Y70To79;
        }
        row.before.sex = (draw() < 0.9).then(|| if draw() < 0.4 { Sex::Female } else { Sex::Male });
        row.before.bmi = (draw() < 0.8).then(|| (27.0 + 4.0 * hard + 6.0 * draw()).round());
        row.before.structural = Some(if draw() < 0.3 + 0.2 * hard {
            StructuralDisease::Ischaemic
        } else {
            StructuralDisease::None
        });
        let share = [0.8, 0.3, 0.5, 0.6, 0.2, 0.4][usize::from(centre)];
        let zero = draw() < share - 0.15 * hard;
        let crossed = draw() < 0.08;
        let failed = draw() < 0.10 + 0.06 * hard;
        let harmed = centre != 4 && draw() < 0.05 + 0.03 * hard;
        row.acute_success = Some(if failed { AcuteSuccess::No } else { AcuteSuccess::Yes });
        row.major_within_30_days = (draw() < 0.97).then_some(harmed);
        intend(&mut case, zero, zero == crossed);
        cases.push(case);
    }
    in_order(cases)
}

/// Whether the script ended well, and what it said; `None` where there is no R and that is allowed.
fn run(kit: &Kit, name: &str) -> Option<(bool, String)> {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::create_dir_all(&folder).unwrap();
    for file in &kit.files {
        std::fs::write(folder.join(&file.name), &file.text).unwrap();
    }
    let Ok(said) = Command::new("Rscript").arg("--vanilla").arg(folder.join("recheck.R")).output() else {
        assert!(std::env::var_os("CI").is_none(), "R is not installed: install r-base-core");
        eprintln!("NOT CHECKED: R is not installed, so {name} was not computed again");
        return None;
    };
    let text = String::from_utf8_lossy(&said.stdout) + String::from_utf8_lossy(&said.stderr);
    Some((said.status.success(), text.into_owned()))
}

fn agrees(cases: &[ReportCase], plan: &AnalysisPlan, name: &str, least: usize) {
    let Some((well, said)) = run(&kit_of(cases, plan), name) else { return };
    assert!(well && said.ends_with("Everything agrees to 1e-6.\n"), "{said}");
    let compared = said.lines().find_map(|line| line.strip_prefix("Compared: ")).unwrap();
    let compared: usize = compared.split('.').next().unwrap().parse().unwrap();
    assert!(compared >= least, "only {compared} numbers were compared:\n{said}");
    eprintln!("{name}: {}", said.lines().rev().nth(1).unwrap());
}

#[test]
fn base_r_agrees_on_a_simulated_network() {
    let covariates = json!(["age", "sex", "bmi", "structural_hd"]);
    let plan = planned(&[("/covariates", covariates)]);
    // 41 numbers and more in each of four places, and six decisions.
    agrees(&invented(), &plan, "recheck-invented", 170);
}

#[test]
fn base_r_agrees_with_complete_cases_and_overlap_weights() {
    let plan = planned(&[
        ("/covariates", json!(["sex", "bmi"])),
        ("/missing_covariates", json!("complete_cases")),
        ("/method", json!("overlap_weighted")),
        ("/level", json!(0.9)),
    ]);
    agrees(&invented(), &plan, "recheck-complete", 170);
}

/// The ratio of what nobody wants, of every estimator, and the decisions against a margin of it.
#[test]
fn base_r_agrees_where_the_margin_is_a_ratio() {
    for (method, covariates) in [
        ("standardised", json!(["age", "sex"])),
        ("overlap_weighted", json!(["age"])),
        ("within_centres", json!([])),
    ] {
        let mut plan =
            serde_json::to_value(planned(&[("/covariates", covariates), ("/method", json!(method))]))
                .unwrap();
        for (endpoint, margin) in [(0, 1.6), (1, 3.0)] {
            let endpoint = &mut plan["endpoints"][endpoint];
            (endpoint["scale"], endpoint["margin"]) = (json!("risk_ratio"), json!(margin));
            endpoint["worse_when"] = json!("higher");
        }
        let plan: AnalysisPlan = serde_json::from_value(plan).unwrap();
        agrees(&invented(), &plan, &format!("recheck-ratio-{method}"), 170);
    }
}

/// Within the procedure groups of each centre, which base R pools and limits by itself.
#[test]
fn base_r_agrees_within_strata_finer_than_a_centre() {
    let within = [("/method", json!("within_centres")), ("/covariates", json!([]))];
    let mut asked = serde_json::to_value(planned(&within)).unwrap();
    asked["strata"] = json!("centre_and_procedure_group");
    let plan: AnalysisPlan = serde_json::from_value(asked).unwrap();
    let mut cases = invented();
    let kinds = [ProcedureType::Avnrt, ProcedureType::AfRedo, ProcedureType::Pvc];
    cases.iter_mut().enumerate().for_each(|(number, case)| case.row.procedure = kinds[number / 6 % 3]);
    let strata = kit_of(&cases, &plan).files.into_iter().find(|file| file.name == "counts.csv").unwrap();
    let last = strata.text.lines().last().unwrap().split(',').nth(2).unwrap().to_owned();
    assert_eq!(last, "18", "six centres of three groups:\n{}", strata.text);
    agrees(&cases, &plan, "recheck-strata", 100);
}

/// R integrates over the looks itself: four of them, of which the second spent nothing.
#[test]
fn base_r_agrees_on_the_level_of_a_later_look_and_on_one_without_a_verdict() {
    let mut plan = serde_json::to_value(planned(&[])).unwrap();
    plan["looks"] =
        json!({ "each_arm": 1_500, "fractions": [0.2, 0.4, 0.7, 1.0], "spending": "pocock_type" });
    let plan: AnalysisPlan = serde_json::from_value(plan).unwrap();
    let cohort: Cohort = invented().iter().map(|case| case.row.clone()).collect();
    let mut taken = Vec::new();
    for information in [310.0, 305.0, 620.0] {
        taken.push(LooksTaken::next(&plan, taken.clone(), information).own());
    }
    for (looks, name) in
        [(taken.clone(), "recheck-look"), ([taken.clone(), taken].concat(), "recheck-beyond")]
    {
        let look = LooksTaken::next(&plan, looks, information(&cohort, &plan));
        let found = carry_out_at(&cohort, &plan, &look);
        assert_eq!(found.look.level.is_some(), name == "recheck-look", "{:?}", found.look);
        let Some((well, said)) = run(&kit(&cohort, &found, "Invented cases."), name) else { return };
        assert!(well && said.ends_with("Everything agrees to 1e-6.\n"), "{said}");
        assert!(said.starts_with(&format!("Look {} of 4 planned.", found.look.number)), "{said}");
    }
}

/// Near-zero cases count with zero-fluoroscopy, and harm until discharge.
#[test]
fn base_r_agrees_where_near_zero_cases_are_in_an_arm() {
    let mut plan = serde_json::to_value(planned(&[("/covariates", json!(["age", "sex"]))])).unwrap();
    plan["near_zero"] = json!("with_zero_fluoroscopy");
    plan["endpoints"][1]["endpoint"] = json!("major_before_discharge");
    let plan: AnalysisPlan = serde_json::from_value(plan).unwrap();
    let mut cases = invented();
    for case in cases.iter_mut().step_by(7) {
        case.row.intended = Strategy::NearZero;
    }
    for (number, case) in cases.iter_mut().enumerate() {
        case.row.major_before_discharge = Some(number % 31 == 7);
    }
    let compared = |plan| report(cases.clone(), plan, &Facts::default()).flow.analysed;
    assert!(compared(&plan) > compared(&planned(&[])), "near-zero cases are compared");
    agrees(&cases, &plan, "recheck-near-zero", 100);
}

#[test]
fn base_r_leaves_out_what_the_registry_could_not_estimate() {
    // Nobody had a major complication: no model, and counts alone are compared.
    agrees(&network(), &planned(&[]), "recheck-settled", 60);
}

#[test]
fn a_number_that_was_changed_is_found_out() {
    let mut kit = kit_of(&network(), &planned(&[]));
    let results = kit.files.iter_mut().find(|file| file.name == "results.csv").unwrap();
    let line = results.text.lines().find(|line| line.contains("standardised,upper")).unwrap().to_owned();
    let (head, number) = line.trim_end_matches(',').rsplit_once(',').unwrap();
    let moved = number.parse::<f64>().unwrap() + 2e-6;
    results.text = results.text.replace(&line, &format!("{head},{moved},"));
    let Some((well, said)) = run(&kit, "recheck-changed") else { return };
    assert!(!well && said.contains("FURTHER APART"), "{said}");
}

#[test]
fn large_arms_do_not_overflow_in_r() {
    let kit = kit_of(&network(), &planned(&[]));
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("recheck-large");
    std::fs::create_dir_all(&folder).unwrap();
    let methods = kit.files.iter().find(|file| file.name == "methods.R").unwrap();
    std::fs::write(folder.join("methods.R"), &methods.text).unwrap();
    let line =
        "source('methods.R'); cat(all(is.finite(score_limits(475000L, 500000L, 470000L, 500000L, 0.95))))";
    let said = Command::new("Rscript").current_dir(&folder).args(["--vanilla", "-e", line]).output();
    let Ok(said) = said else {
        assert!(std::env::var_os("CI").is_none(), "R is not installed: install r-base-core");
        return;
    };
    assert_eq!(String::from_utf8_lossy(&said.stdout), "TRUE");
}

#[test]
fn a_kit_names_no_centre_and_says_how_many_stand_alone() {
    let kit = kit_of(&invented(), &planned(&[("/covariates", json!(["age", "sex", "bmi"]))]));
    let readme = &kit.files[0];
    assert_eq!(readme.name, "README.txt");
    assert!(readme.text.contains(&format!("{} are alone", kit.alone)));
    for number in 0..6 {
        let code = CentreCode::from_random(number).to_string();
        let named = kit.files.iter().filter(|file| file.name.ends_with(".csv") && file.text.contains(&code));
        assert_eq!(named.count(), 0, "{code}");
    }
    // The order of the cases does not show.
    let mut turned = invented();
    turned.reverse();
    assert_eq!(kit_of(&turned, &planned(&[("/covariates", json!(["age", "sex", "bmi"]))])), kit);
}
