//! Several looks at the data under one plan: which is which, what each may spend, and that nothing
//! changes it afterwards.

use crate::network::{at_once, central, coordinator, submit};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::plan::plan;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample::{conventional_case, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Sends, Served, SignedIn};
use serde_json::{Value, json};

const SQLITE: &str = include_str!("../../backend/migrations/sqlite/00000000000021_plan_looks/up.sql");
const POSTGRES: &str = include_str!("../../backend/migrations/postgres/00000000000021_plan_looks/up.sql");

/// The plan of the tests with two looks at four cases of each arm.
fn two_looks() -> Value {
    let mut plan = plan();
    plan["looks"] = json!({ "each_arm": 4, "fractions": [0.5, 1.0], "spending": "obrien_fleming_type" });
    plan
}

struct Study<'s> {
    member: SignedIn<'s>,
    investigator: SignedIn<'s>,
}

impl<'s> Study<'s> {
    fn new(served: &'s Served<'s>) -> Self {
        Self { member: coordinator(served), investigator: central(served, Role::Investigator) }
    }

    fn registered(&self, plan: &Value) -> Value {
        self.investigator.post("/plans", plan).expect(201).json()
    }

    /// Two more cases of each arm, and a cut of all.
    fn cut(&self, name: &str) -> String {
        for _ in 0..2 {
            submit(&self.member, &zero_fluoroscopy_case());
            submit(&self.member, &conventional_case());
        }
        let cut = self.investigator.post("/data-cuts", &json!({ "name": name })).expect(201).json();
        format!("/data-cuts/{}/comparisons", cut["id"].as_str().unwrap())
    }

    fn compared(&self, cut: &str, plan: &Value) -> Value {
        self.investigator.post(cut, &json!({ "plan": plan["id"] })).expect(201).json()
    }

    fn look(&self, cut: &str, plan: &Value) -> Value {
        self.compared(cut, plan)["result"]["look"].clone()
    }
}

fn level(look: &Value) -> f64 {
    look["level"].as_f64().unwrap_or_else(|| panic!("{look}"))
}

fn one_store_refuses(registry: &Registry, statement: &str) {
    let error = registry.raw().run(statement).expect_err(statement);
    assert!(error.contains("append-only"), "{statement}: {error}");
}

on_both_stores! {
    /// Levels from tests/numbers/group_sequential.csv, equal_K2, one-sided 2.5 %, ld_obf: 1 − 2p.
    fn each_cut_is_a_look_and_stays_the_same_one(registry) {
        let served = Served::new(registry);
        let study = Study::new(&served);
        let plan = study.registered(&two_looks());
        assert_eq!(plan["plan"]["looks"], two_looks()["looks"]);
        let (first_cut, second_cut) = (study.cut("first"), study.cut("second"));
        let first = study.compared(&first_cut, &plan);
        let look = &first["result"]["look"];
        assert_eq!((&look["number"], &look["planned"], &look["information"]), (&json!(1), &json!(2), &json!(2.0)));
        assert!((level(look) - (1.0 - 2.0 * 0.001_525_322_757_988_9)).abs() < 1e-9, "{look}");
        let second = study.look(&second_cut, &plan);
        assert_eq!((&second["number"], &second["left"]), (&json!(2), &json!(0.0)));
        assert!((level(&second) - (1.0 - 2.0 * 0.024_499_771_789_662_6)).abs() < 1e-9, "{second}");
        // The first cut again is the first look again, to the byte.
        let again = study.compared(&first_cut, &plan);
        assert_eq!((&again["result"], &again["result_hash"]), (&first["result"], &first["result_hash"]));
        let third = study.look(&study.cut("third"), &plan);
        assert_eq!((&third["number"], &third["no_verdict"]), (&json!(3), &json!("beyond_the_plan")));
        let report = format!("/comparisons/{}/report", first["id"].as_str().unwrap());
        let report = study.investigator.get(&report).expect(200).json();
        assert_eq!(&report["planned"]["look"], look);
        assert_eq!(report["first_lines"]["look"], look["in_words"]);
        assert_eq!(registry.raw().count("plan_look"), 3);
    }

    fn an_amendment_gives_no_level_back(registry) {
        let served = Served::new(registry);
        let study = Study::new(&served);
        let single = study.registered(&plan());
        let cut = study.cut("first");
        assert_eq!(level(&study.look(&cut, &single)), 0.95);
        let path = format!("/plans/{}/amendments", single["id"].as_str().unwrap());
        let body = json!({ "plan": two_looks(), "reason": "The group wants to look again." });
        let amended = study.investigator.post(&path, &body).expect(201).json();
        assert_eq!(amended["changes"].as_array().unwrap().len(), 3);
        let look = study.look(&study.cut("second"), &amended);
        assert_eq!((&look["number"], &look["no_verdict"]), (&json!(2), &json!("nothing_to_spend")));
        // Another plan has looks of its own.
        let other = study.registered(&two_looks());
        assert_eq!(study.look(&cut, &other)["number"], json!(1));
    }

    fn two_cuts_compared_at_once_are_two_looks(registry) {
        let served = Served::new(registry);
        let study = Study::new(&served);
        let plan = study.registered(&two_looks());
        let cuts = [study.cut("first"), study.cut("second")];
        let ask = |cut: &str| study.investigator.post(cut, &json!({ "plan": plan["id"] })).status;
        let statuses = at_once(2, |number| ask(&cuts[number]));
        assert!(statuses.contains(&201) && statuses.iter().all(|status| matches!(status, 201 | 409)), "{statuses:?}");
        for (cut, status) in cuts.iter().zip(statuses) {
            assert!(status == 201 || ask(cut) == 201, "asked again it is taken");
        }
        let numbers = cuts.each_ref().map(|cut| study.look(cut, &plan)["number"].as_u64().unwrap());
        assert!(numbers == [1, 2] || numbers == [2, 1], "{numbers:?}");
        assert_eq!(registry.raw().count("plan_look"), 2);
    }

    fn a_look_that_was_taken_stays_taken(registry) {
        let served = Served::new(registry);
        let study = Study::new(&served);
        let plan = study.registered(&two_looks());
        study.look(&study.cut("first"), &plan);
        one_store_refuses(registry, "UPDATE plan_look SET spent = 0");
        one_store_refuses(registry, "DELETE FROM plan_look");
        match registry.engine {
            Engine::Postgres => one_store_refuses(registry, "TRUNCATE plan_look"),
            Engine::Sqlite => one_store_refuses(
                registry,
                "INSERT OR REPLACE INTO plan_look (plan_number, look, cut, information, spent)
                 SELECT plan_number, look, cut, 0.0, 0.0 FROM plan_look",
            ),
        }
    }

    /// The migration's own statement, on a registry whose comparisons are older than their looks.
    fn comparisons_from_before_are_looks_that_spent_everything(registry) {
        let served = Served::new(registry);
        let study = Study::new(&served);
        let single = study.registered(&plan());
        let (first, second) = (study.cut("first"), study.cut("second"));
        study.compared(&second, &single);
        registry.hand.advance(60);
        study.compared(&first, &single);
        study.investigator.post(&first, &json!({})).expect(201);
        let mut raw = registry.raw();
        let (migration, open) = match registry.engine {
            Engine::Sqlite => (SQLITE, "DROP TRIGGER plan_look_deleted"),
            Engine::Postgres => (POSTGRES, "ALTER TABLE plan_look DISABLE TRIGGER USER"),
        };
        raw.run(open).unwrap();
        raw.run("DELETE FROM plan_look").unwrap();
        let statement = &migration[migration.find("INSERT INTO").unwrap()..];
        raw.run(&statement[..=statement.find(';').unwrap()]).unwrap();
        let look = study.look(&second, &single);
        assert_eq!((level(&look), &look["taken"]), (0.95, &json!([{ "information": 0.0, "spent": (1.0 - 0.95) / 2.0 }])));
        assert_eq!(study.look(&first, &single)["no_verdict"], json!("beyond_the_plan"));
        assert_eq!(raw.count("plan_look"), 2);
    }

    fn looks_that_cannot_be_taken_are_refused_at_their_fields(registry) {
        let served = Served::new(registry);
        let study = Study::new(&served);
        for (field, value) in [
            ("each_arm", json!(0)),
            ("fractions", json!([0.5, 0.9])),
            ("spending", json!("all")),
            ("exponent", json!(2.0)),
        ] {
            let mut plan = two_looks();
            plan["looks"][field] = value;
            let problem = study.investigator.post("/plans", &plan).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, format!("/looks/{field}"), "{problem}");
        }
    }

    /// Opening a comparison again, or its files, shows nothing new; another person, or another
    /// comparison, does.
    fn a_reader_counts_once_with_each_comparison(registry) {
        let served = Served::new(registry);
        let study = Study::new(&served);
        let plan = study.registered(&two_looks());
        let made = study.compared(&study.cut("first"), &plan);
        let address = format!("/comparisons/{}", made["id"].as_str().unwrap());
        for _ in 0..3 {
            study.investigator.get(&address).expect(200);
            study.investigator.get(&format!("{address}/report")).expect(200);
        }
        let opened = |title: &str| {
            let mut plan = two_looks();
            plan["title"] = json!(title);
            study.registered(&plan)["opened_before"].clone()
        };
        assert_eq!(opened("Once more"), json!(1));
        central(&served, Role::Monitor).get(&address).expect(200);
        assert_eq!(opened("And again"), json!(2));
    }
}
