//! Rows for investigators: enough others are alike, whatever the registry holds.

use proptest::prelude::*;
use quietbeam_analysis::study::deidentify::{
    Account, Layout, Operators, Profile, Step, TABLES, Table, Traits, Withheld, generalise, traits_of,
};
use quietbeam_schema::case::{CaseForm, CaseRecord};
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::reported::{MissingCode, Reported};
use quietbeam_schema::vocabulary::{AgeBand, Coded, ProcedureGroup, Sex};
use quietbeam_tests::sample;
use serde_json::{Value, json};

/// What a reader of the file sees of the traits, written by hand and not by the code under
/// test.
fn seen(traits: &Traits, step: Step, profile: Profile) -> String {
    let level = Step::ALL.iter().position(|known| *known == step).unwrap();
    let adult = traits.age.lower_years() >= 18;
    let wide = match traits.age.code() {
        "0_1" | "2_5" | "6_11" | "12_17" => "0_17",
        "18_29" | "30_39" => "18_39",
        "40_49" | "50_59" => "40_59",
        "60_69" | "70_79" => "60_79",
        _ => "80_plus",
    };
    let period = match profile {
        Profile::YearOnly => traits.quarter.year().to_string(),
        Profile::Pseudonymised => traits.quarter.to_string(),
    };
    let sex = traits.sex.value().map_or("missing", |sex| sex.code());
    let site = if level < 1 { traits.site.to_string() } else { "*".to_owned() };
    let period = if level < 2 { period } else { "*".to_owned() };
    let age = match level {
        0..=2 => traits.age.code().to_owned(),
        3 => wide.to_owned(),
        _ => adult.to_string(),
    };
    let sex = if level < 5 { sex } else { "*" };
    let missing = if level < 5 { traits.sex.missing().map_or("", MissingCode::code) } else { "" };
    format!("{site}/{period}/{age}/{sex}{missing}/{}", traits.group.code())
}

/// Counts by comparing every row with every other.
fn alike(rows: &[(String, bool)], row: usize) -> usize {
    rows.iter().filter(|other| **other == rows[row]).count()
}

fn check(rows: &[Traits], profile: Profile) {
    let steps = generalise(rows, profile);
    let least = if profile == Profile::YearOnly { 11 } else { 5 };
    assert_eq!(steps.len(), rows.len());
    let out: Vec<(String, bool)> = rows
        .iter()
        .zip(&steps)
        .filter_map(|(row, step)| step.map(|step| (seen(row, step, profile), row.rare)))
        .collect();
    for row in 0..out.len() {
        assert!(alike(&out, row) >= least, "{:?} stands in {} rows", out[row], alike(&out, row));
    }
    // Nobody lost more than was needed: at each earlier step the rows then left were too few.
    for (at, step) in steps.iter().enumerate() {
        let needed =
            step.map_or(Step::ALL.len(), |step| Step::ALL.iter().position(|one| *one == step).unwrap());
        for earlier in &Step::ALL[..needed] {
            let left: Vec<(String, bool)> = rows
                .iter()
                .zip(&steps)
                .filter(|(_, step)| step.is_none_or(|step| step >= *earlier))
                .map(|(row, _)| (seen(row, *earlier, profile), row.rare))
                .collect();
            let own = (seen(&rows[at], *earlier, profile), rows[at].rare);
            let same = left.iter().filter(|other| **other == own).count();
            assert!(same < least, "a row could have gone out at {earlier:?}");
        }
    }
    let account = Account::of(profile, &steps);
    assert_eq!(account.published(), out.len());
    match account.withheld {
        Withheld::None => assert_eq!(out.len(), rows.len()),
        Withheld::FewerThan(told) => {
            assert_eq!(told, least);
            assert!((1..least).contains(&(rows.len() - out.len())));
        }
        Withheld::Rows(many) => {
            assert_eq!(many, rows.len() - out.len());
            assert!(many >= least);
        }
    }
}

fn any_traits() -> impl Strategy<Value = Traits> {
    let sex = prop_oneof![
        4 => proptest::sample::select(Sex::all()).prop_map(Reported::Value),
        1 => Just(Reported::Missing(MissingCode::Unknown)),
    ];
    let quarter = (2023_u16..2026, 1_u8..=4).prop_map(|(year, quarter)| Quarter::new(year, quarter).unwrap());
    let age = proptest::sample::select(AgeBand::all());
    let group = proptest::sample::select(&ProcedureGroup::all()[..3]);
    (0_u8..4, quarter, age, sex, group, proptest::bool::weighted(0.1)).prop_map(
        |(site, quarter, age, sex, group, rare)| Traits {
            site: CentreCode::from_random(site),
            quarter,
            age,
            sex,
            group,
            rare,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// Few kinds and many rows, many kinds and few rows, and no row at all.
    #[test]
    fn every_published_combination_stands_in_enough_rows(
        kinds in proptest::collection::vec(any_traits(), 1..60),
        picks in proptest::collection::vec(any::<proptest::sample::Index>(), 0..220),
        all_kinds in any::<bool>(),
    ) {
        let mut rows: Vec<Traits> = picks.iter().map(|pick| kinds[pick.index(kinds.len())]).collect();
        if all_kinds {
            rows.extend(&kinds);
        }
        for profile in Profile::ALL {
            check(&rows, profile);
        }
    }
}

fn record(changes: Value) -> CaseRecord {
    let form = sample::with(sample::case_with_seen_effusion(), changes);
    let form = CaseForm::from_json(serde_json::from_value(form).unwrap());
    match form.check(Quarter::new(2026, 4).unwrap()) {
        Ok(checked) => checked.record,
        Err(findings) => panic!("{findings:?}"),
    }
}

fn site() -> CentreCode {
    "S07".parse().unwrap()
}

/// The row of a table by the names of its columns.
fn row(case: &CaseRecord, profile: Profile, operators: Operators, step: Step, table: Table) -> Value {
    let layout = Layout::new(profile, operators);
    let class = traits_of(site(), case).at(step, profile);
    let rows = layout.rows(case, &class, |site, code| format!("{site}/{code}/new"));
    let (_, cells) = rows.into_iter().find(|(of, _)| *of == table).unwrap();
    let names = layout.columns(table).into_iter().map(|(name, _)| name).skip(1);
    let names: Vec<String> = names.collect();
    assert_eq!(names.len(), cells.len(), "{table:?}");
    Value::Object(names.into_iter().zip(cells.into_iter().map(Value::from)).collect())
}

#[test]
fn what_the_class_no_longer_shows_no_other_column_tells() {
    let case = record(json!({}));
    let whole = row(&case, Profile::YearOnly, Operators::Recoded, Step::AsRecorded, Table::Cases);
    assert_eq!(whole["site"], "S07");
    assert_eq!(whole["period"].as_str().unwrap().len(), 4, "a year and no quarter");
    assert!(whole["op_code"].as_str().unwrap().starts_with("S07/"));
    assert_eq!(whole.get("period_unit"), None);
    let bare = row(&case, Profile::Pseudonymised, Operators::Recoded, Step::WithoutSex, Table::Cases);
    for key in [
        "site",
        "period",
        "age_band",
        "age_wide",
        "sex",
        "op_code",
        "chads_va",
        "chads_vasc",
        "weight_band_paed",
    ] {
        assert_eq!(bare[key], "wh", "{key}");
    }
    assert_eq!((&bare["age_group"], &bare["procedure_group"]), (&json!("adult"), &whole["procedure_group"]));
    let inside = row(&case, Profile::Pseudonymised, Operators::LeftOut, Step::AsRecorded, Table::Cases);
    assert_eq!(inside["period"], case.identity().period.to_string());
    assert_eq!(inside.get("op_code"), None);
}

#[test]
fn a_dose_tells_neither_the_console_nor_all_its_digits() {
    let dose = |air_kerma: Value, unit: &str| {
        let changes = json!({
            "fluoro_used": "standby_used", "fluoro_reason": ["transseptal"], "fluoro_phase": ["transseptal"],
            "fluoro_time": "7:30", "fluoro_time_unit": "min", "air_kerma": air_kerma, "air_kerma_unit": unit,
            "kap": "nr", "kap_unit": null, "cine_runs": 0, "pulse_rate_fps": 3, "contrast_ml": 0, "dose_source": "console",
        });
        row(&record(changes), Profile::YearOnly, Operators::LeftOut, Step::AsRecorded, Table::Cases)
    };
    let (gray, milligray) = (dose(json!(0.0254721), "Gy"), dose(json!(25.4721), "mGy"));
    assert_eq!(gray, milligray);
    assert_eq!((&gray["air_kerma"], &gray["air_kerma_unit"]), (&json!("25.5"), &json!("mGy")));
    assert_eq!((&gray["fluoro_time"], &gray["fluoro_time_unit"]), (&json!("450"), &json!("s")));
    assert_eq!((&gray["kap"], &gray["kap_unit"]), (&json!("nr"), &json!("")));
}

#[test]
fn no_words_no_codes_that_link_and_nothing_of_staff_goes_out() {
    let earlier = CaseCode::from_random([9; 16]).to_string();
    let case = record(json!({
        "comment": "a remark nobody else may read", "earlier_case_code": earlier, "op_code": "O17",
        "staff_dose_operator": 3.25, "staff_dose_operator_unit": "uSv",
    }));
    for profile in Profile::ALL {
        let layout = Layout::new(profile, Operators::LeftOut);
        let mut all = String::new();
        for (_, cells) in
            layout.rows(&case, &traits_of(site(), &case).at(Step::AsRecorded, profile), |_, _| String::new())
        {
            all += &cells.join(",");
        }
        for secret in ["remark", &earlier, "O17", "3.25"] {
            assert!(!all.contains(secret), "{profile:?} tells {secret}");
        }
        for table in TABLES {
            for (name, meaning) in layout.columns(table) {
                assert!(
                    !["comment", "pregnant", "consent_basis", "case_code", "earlier_case_code"]
                        .contains(&name.as_str())
                );
                assert!(!name.contains("override_reason") && !name.contains("staff"), "{name}");
                assert!(meaning.ends_with('.'), "{name}");
            }
        }
    }
}

/// What goes out is looked at by a person: a new field of the dictionary changes these lines.
#[test]
fn the_published_columns_are_those_that_were_looked_at() {
    let mut lines = String::new();
    for profile in Profile::ALL {
        for table in TABLES {
            let layout = Layout::new(profile, Operators::Recoded);
            let names: Vec<String> = layout.columns(table).into_iter().map(|(name, _)| name).collect();
            lines += &format!("{} {}: {}\n", profile.name(), table.name(), names.join(" "));
        }
    }
    let looked_at = include_str!("published_columns.txt");
    assert!(lines == looked_at, "look at the difference, then keep it in published_columns.txt:\n{lines}");
}

#[test]
fn a_rare_condition_is_only_ever_alike_to_rare_conditions() {
    let plain = traits_of(site(), &record(json!({})));
    assert!(!plain.rare);
    let rare = Traits { rare: true, ..plain };
    let mut rows = vec![plain; 30];
    rows.extend([rare; 10]);
    let steps = generalise(&rows, Profile::YearOnly);
    assert!(steps[..30].iter().all(|step| *step == Some(Step::AsRecorded)));
    assert!(steps[30..].iter().all(Option::is_none), "ten rare rows are too few by themselves");
    assert_eq!(Account::of(Profile::YearOnly, &steps).withheld, Withheld::FewerThan(11));
    rows.push(rare);
    assert!(generalise(&rows, Profile::YearOnly).iter().all(|step| *step == Some(Step::AsRecorded)));
    assert!(traits_of(site(), &record(json!({ "chd": "simple" }))).rare);
    // A death that only a complication tells, in either place.
    let event = sample::case_with_seen_effusion()["complications"][0].clone();
    for told in [
        json!({ "serious": ["death"], "outcome": "fatal" }),
        json!({ "serious": ["death"], "outcome": "unk" }),
    ] {
        let event = sample::with(event.clone(), told);
        let died = record(json!({ "complications": [event], "follow_up": null }));
        assert!(traits_of(site(), &died).rare);
    }
}
