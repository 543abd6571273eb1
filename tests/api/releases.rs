//! Summaries as a series: each is attacked again with everything published by then.

use crate::network::{central, only_mend, step, submit, text};
use quietbeam_analysis::study::staff::NO_JUDGEMENT;
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{conventional_case, with, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

struct Office<'s> {
    centres: Vec<SignedIn<'s>>,
    investigator: SignedIn<'s>,
    author: SignedIn<'s>,
    monitor: SignedIn<'s>,
    publisher: SignedIn<'s>,
}

impl<'s> Office<'s> {
    /// Three centres with fourteen cases each.
    fn new(served: &'s Served<'_>) -> Self {
        let member = |name: &str| {
            let centre = served.registry.centre(name);
            served.member(&format!("coordinator.{}", name.to_lowercase()), Role::Coordinator, &[centre])
        };
        let office = Self {
            centres: ["S01", "S02", "S03"].map(member).into(),
            investigator: central(served, Role::Investigator),
            author: served.member("author", Role::Society, &[]),
            monitor: served.member("monitor", Role::Monitor, &[]),
            publisher: served.member("publisher", Role::Society, &[]),
        };
        (0..14).for_each(|_| office.one_case_each());
        office
    }

    fn one_case_each(&self) {
        self.centres.iter().for_each(|centre| drop(submit(centre, &zero_fluoroscopy_case())));
    }

    fn cut(&self, name: &str) -> Value {
        self.investigator.post("/data-cuts", &json!({ "name": name })).expect(201).json()["id"].clone()
    }

    fn draft(&self, cut: &Value, design: &Value) -> Answer {
        self.author.post("/summary-drafts", &json!({ "data_cut": cut, "design": design })).expect(201)
    }

    fn approve(&self, draft: &Answer) -> Answer {
        self.monitor.send(&Asked::new("POST", format!("{}/approval", path(draft))).if_match(&draft.etag()))
    }

    fn published(&self, draft: &Answer) -> Value {
        self.approve(draft).expect(200);
        step(&self.publisher, &format!("{}/publication", path(draft))).expect(200).json()
    }
}

fn path(draft: &Answer) -> String {
    format!("/summary-drafts/{}", text(&draft.json(), "id"))
}

const WHY: &str = "rare harms must be told";

/// Cases of the whole network as a summary tells them.
fn cases(summary: &Value) -> Value {
    summary["content"]["lines"].as_array().unwrap().last().unwrap()["cases"].clone()
}

on_both_stores! {
    /// Two drafts, harmless alone: 42 cases, and 45. Together they tell of three.
    fn of_two_drafts_that_race_the_second_is_refused(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        let first = office.draft(&office.cut("first"), &json!({}));
        office.one_case_each();
        let later = office.cut("second");
        let second = office.draft(&later, &json!({}));
        assert_eq!([&first, &second].map(|draft| cases(&draft.json())), [json!({"shown": 42}), json!({"shown": 45})]);
        let third = office.draft(&later, &json!({}));
        office.published(&first);
        let refused = office.approve(&second).problem(409, "discloses");
        assert!(text(&refused, "detail").contains("what was added to cases"), "{refused}");
        let ended = office.monitor.get(&path(&second)).expect(200).json();
        assert_eq!(ended["stage"]["state"], "refused");
        assert_eq!(ended["stage"]["approved"], Value::Null);
        office.approve(&third).problem(409, "discloses");
        // Composed anew, it hides what would tell.
        let anew = office.draft(&later, &json!({}));
        assert_eq!(cases(&anew.json()), json!({"hidden": true}));
        let published = office.published(&anew);
        assert_eq!(published["stage"]["number"], 2);
    }

    /// A draft put in beside the registry says 43 of 42 cases: nobody approves it.
    fn a_draft_that_says_otherwise_than_its_cases_is_refused(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        let draft = office.draft(&office.cut("first"), &json!({}));
        let id = text(&draft.json(), "id").to_owned();
        let other = format!("{}{}", &id[..id.len() - 1], if id.ends_with('0') { '1' } else { '0' });
        let forge = format!(
            "INSERT INTO safety_summary (id, cut, state, stage, content, content_hash, drafted_at, learnt) \
             SELECT '{other}', cut, state, stage, replace(content, '\"shown\":42', '\"shown\":43'), content_hash, drafted_at, learnt \
             FROM safety_summary WHERE id = '{id}'"
        );
        registry.raw().run(&forge).unwrap();
        let forged = office.monitor.get(&format!("/summary-drafts/{other}")).expect(200);
        assert_eq!(cases(&forged.json()), json!({"shown": 43}));
        let refused = office.approve(&forged).problem(409, "summary_differs");
        assert!(text(&refused, "detail").contains("does not say what its cases say now"), "{refused}");
        office.approve(&draft).expect(200);
    }

    /// Approved before the other was published, it is refused at the last step.
    fn what_was_published_after_the_approval_counts_too(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        // One case of another strategy is kept from everyone, and stays so.
        submit(&office.centres[0], &conventional_case());
        let first = office.draft(&office.cut("first"), &json!({}));
        office.one_case_each();
        let second = office.draft(&office.cut("second"), &json!({}));
        office.approve(&second).expect(200);
        office.published(&first);
        let publication = format!("{}/publication", path(&second));
        step(&office.publisher, &publication).problem(409, "discloses");
        // It says so from now on, to everyone who could act on it.
        for reader in [&office.author, &office.monitor, &office.publisher] {
            let ended = reader.get(&path(&second)).expect(200).json();
            assert_eq!(ended["stage"]["state"], "refused");
            assert!(ended["stage"]["approved"].is_object());
            assert!(text(&ended["stage"], "reason").contains("what was added to cases"), "{ended}");
            // What a seat could work out is not told to whoever reads of it.
            let held = |row: &Value| row["held"].as_array().unwrap().iter().filter(|held| held.is_object()).cloned().collect::<Vec<_>>();
            let held: Vec<Value> = ended["learnt"]["rows"].as_array().unwrap().iter().flat_map(held).collect();
            assert!(held.iter().any(|held| held["wide"] == false) && held.iter().any(|held| held["wide"] == true));
            for held in held {
                assert_eq!(held["low"].is_null(), held["wide"] == false, "{held}");
            }
        }
        let last = &registry.audit()[0].event;
        assert_eq!(last.deed.name(), "summary_refused");
        assert!(last.reason.as_ref().is_some_and(|reason| reason.contains("what was added to cases")));
        step(&office.publisher, &publication).problem(409, "illegal_step");
        assert_eq!(served.stranger().get("/summaries").expect(200).json()["items"].as_array().unwrap().len(), 1);
    }

    /// What could be learnt is other once more is out: the approver reads it again first.
    fn an_approver_signs_what_could_be_learnt(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        // One case of another strategy must be kept from everyone.
        submit(&office.centres[0], &conventional_case());
        let cut = office.cut("first");
        let design = json!({ "tables": ["completeness"], "question": "How safe was it?", "text": "In our own words." });
        let [first, second] = [json!({}), design].map(|design| office.draft(&cut, &design));
        let learnt = &second.json()["learnt"];
        assert_eq!(learnt["seats"].as_array().unwrap().len(), 1 + 3 + 3);
        assert!(!learnt["rows"].as_array().unwrap().is_empty());
        office.published(&first);
        office.approve(&second).problem(412, "stale");
        let read = office.monitor.get(&path(&second)).expect(200);
        assert_ne!(read.etag(), second.etag());
        assert_eq!(read.json()["content_hash"], second.json()["content_hash"]);
        let published = office.published(&read);
        assert_eq!(published["content"]["tables"][0]["key"], "completeness");
        let public = served.stranger().get("/summaries/2").expect(200).text();
        assert!(public.contains("In our own words.") && !public.contains("\"learnt\""), "{public}");
    }

    /// Fifteen cases a centre in which the operator's badge read 12 µSv over the apron.
    fn badges_of_staff_are_told_by_role_in_every_form(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        let badge = json!({ "staff_dose_operator": 12.0, "staff_dose_operator_unit": "uSv", "staff_badge_position": "over_apron" });
        let case = with(conventional_case(), badge);
        for centre in &office.centres {
            (0..15).for_each(|_| drop(submit(centre, &case)));
        }
        office.published(&office.draft(&office.cut("first"), &json!({ "tables": ["staff_dose"] })));
        let stranger = served.stranger();
        let said = stranger.get("/summaries/1").expect(200).json();
        let table = &said["tables"][0];
        assert_eq!(table["key"], "staff_dose");
        let row = table["rows"].as_array().unwrap().iter().find(|row| row["key"] == "operator.over_apron").unwrap();
        assert_eq!(row["cells"][0], json!({ "count": { "shown": 45 } }));
        assert_eq!(row["cells"][2], json!({ "quantity": 12.0 }));
        let file = |address: &str| stranger.send(&Asked::new("GET", format!("//summaries/1{address}")).header("accept", "text/html,*/*")).expect(200);
        let line = |column: &str| format!("staff_dose,operator.over_apron,\"Operator, over the apron\",{column}");
        let csv = file("/tables.csv").text();
        assert!(csv.contains(&line("cases")) && csv.contains(&line("median")), "{csv}");
        // No nurse wore a badge under the apron: of no reading there is no median, and nothing is kept back.
        let nurse = table["rows"].as_array().unwrap().iter().find(|row| row["key"] == "nurse.under_apron").unwrap();
        assert_eq!([&nurse["cells"][0], &nurse["cells"][2]], [&json!({ "count": { "shown": 0 } }), &json!("of_none")]);
        let none = csv.lines().find(|line| line.starts_with("staff_dose,nurse.under_apron,") && line.contains(",median,"));
        assert!(none.is_some_and(|line| line.ends_with(",none,,")), "{none:?}");
        let page = file("").text();
        for told in ["Badge readings of staff", "Operator, over the apron", "Council Directive 2013/59/Euratom", NO_JUDGEMENT] {
            assert!(page.contains(told), "{told}: {page}");
        }
        assert!(file("/summary.pdf").body().starts_with(b"%PDF-"));
    }

    /// A lower threshold is signed with its reason; whoever reads the release reads its numbers.
    fn the_numbers_of_a_profile_are_printed_in_every_form(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        for centre in &office.centres {
            (0..2).for_each(|_| drop(submit(centre, &conventional_case())));
        }
        let cut = office.cut("first");
        let six = |draft: &Answer| {
            let lines = draft.json()["content"]["lines"].clone();
            let line = lines.as_array().unwrap().iter().find(|line| line["procedure_group"] == "all" && line["strategy_intended"] == "conventional");
            line.unwrap()["cases"].clone()
        };
        assert_eq!(six(&office.draft(&cut, &json!({}))), json!({"hidden": true}), "6 are below 11");
        let numbers = json!({ "threshold": 4, "least_width": 4, "least_centres": 3, "coalition": 1 });
        let draft = office.draft(&cut, &json!({ "profile_numbers": numbers, "profile_reason": WHY }));
        assert_eq!(six(&draft), json!({"shown": 6}));
        let chosen = json!({ "threshold": 4, "least_width": 4, "coalition": 1 });
        assert_eq!(draft.json()["content"]["design"]["profile_numbers"], chosen, "three centres are standard");
        assert_eq!(draft.json()["learnt"]["seats"].as_array().unwrap().len(), 1 + 3, "no pair was asked");
        office.published(&draft);
        let stranger = served.stranger();
        let said = stranger.get("/summaries/1").expect(200).json();
        for (number, value) in [("threshold", 4), ("least_centres", 3), ("least_width", 4), ("dominance", 10), ("coalition", 1)] {
            assert_eq!(said["disclosure"][number], value);
        }
        let file = |address: &str| stranger.send(&Asked::new("GET", format!("//summaries/1{address}")).header("accept", "text/html,*/*")).expect(200);
        let csv = file("/tables.csv").text();
        for line in [
            "rules,threshold,Smallest count shown (lower than standard: shows more),here,Here,yes,4,",
            "rules,threshold,Smallest count shown (lower than standard: shows more),standard,Standard,yes,11,",
            "rules,least_centres,Fewest centres behind a count,here,Here,yes,3,",
        ] {
            assert!(csv.contains(line), "{line}: {csv}");
        }
        assert!(!csv.contains("network_cases"), "there is no second tier: {csv}");
        let page = file("").text();
        for told in [WHY, "Smallest count shown (lower than standard: shows more)", "Looked at from outside and from each centre,", "Counts from 1 to 3 are not shown"] {
            assert!(page.contains(told), "{told}: {page}");
        }
        assert!(file("/summary.pdf").body().starts_with(b"%PDF-"));
    }

    /// The first summary has only outsiders to fear and a threshold of 5; what it told is not held against
    /// the next one, which hides it by the standard rules.
    fn after_a_looser_summary_the_next_one_is_judged_by_its_own_numbers(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        for centre in &office.centres {
            (0..2).for_each(|_| drop(submit(centre, &conventional_case())));
        }
        let cut = office.cut("first");
        let loose = json!({ "profile_numbers": { "threshold": 5, "coalition": 0 }, "profile_reason": WHY });
        office.published(&office.draft(&cut, &loose));
        let next = office.draft(&cut, &json!({}));
        let rows = next.json()["learnt"]["rows"].clone();
        assert!(!rows.as_array().unwrap().is_empty());
        let published = office.published(&next);
        assert_eq!(published["stage"]["number"], 2);
        let rules = published["content"]["disclosure"]["rules"].to_string();
        assert!(rules.contains("What a summary before this one told, by numbers of its own, stays told"), "{rules}");
    }

    fn a_design_names_every_field_to_mend(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        let cut = office.cut("first");
        let refused = |design: Value| {
            let problem = office.author.post("/summary-drafts", &json!({ "data_cut": cut, "design": design }));
            only_mend(&problem.problem(422, "must_be_mended"))
        };
        let cases = [
            (json!({ "text": "3 of them" }), "/design/text"),
            (json!({ "profile": "two_tier" }), "/design/profile_reason"),
            (json!({ "first_year": 1900 }), "/design/first_year"),
            (json!({ "first_quarter": "2025" }), "/design/first_quarter"),
            (json!({ "last_year": 2025, "last_quarter": "2025Q2" }), "/design/last_quarter"),
            (json!({ "tables": ["everything"] }), "/design/tables/0"),
            (json!({ "by_centre": true }), "/design/by_centre"),
            (json!({ "profile_numbers": { "threshold": 2 }, "profile_reason": WHY }), "/design/profile_numbers/threshold"),
            (json!({ "profile_numbers": { "threshold": "five" } }), "/design/profile_numbers/threshold"),
            (json!({ "profile_numbers": { "least_width": 12 } }), "/design/profile_numbers/least_width"),
            (json!({ "profile_numbers": { "coalition": 3 } }), "/design/profile_numbers/coalition"),
            (json!({ "profile_numbers": { "network_cases": 500 } }), "/design/profile_numbers/network_cases"),
            (json!({ "profile_numbers": { "size": 3 } }), "/design/profile_numbers/size"),
            (json!({ "profile_numbers": { "threshold": 5 } }), "/design/profile_reason"),
            (json!({ "profile_numbers": { "threshold": 20 }, "profile_reason": WHY }), "/design/profile_reason"),
        ];
        for (design, field) in cases {
            assert_eq!(refused(design).0, field);
        }
    }

    /// A centre gets another region after the cut: the cut's summaries say what they said.
    fn a_region_is_told_as_it_was_when_the_cut_was_taken(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        let administrator = central(&served, Role::Administrator);
        let moved_to = |region: &str| for centre in ["S01", "S02", "S03"] {
            let path = format!("/centres/{centre}");
            let etag = administrator.get(&path).expect(200).etag();
            let new = json!({ "name": centre, "region": region, "kind": "academic", "annual_volume": "200_499" });
            administrator.put(&path, &etag, &new).expect(200);
        };
        moved_to("North");
        let early = office.cut("first");
        moved_to("South");
        let design = json!({ "tables": ["region"], "first_quarter": "2025Q3", "last_quarter": "2025Q3" });
        let draft = office.draft(&early, &design);
        let rows = |draft: &Answer| draft.json()["content"]["tables"][0]["rows"].clone();
        assert_eq!(rows(&draft)[0]["key"], "region.North");
        assert_eq!(rows(&draft)[0]["cells"][0], json!({ "count": { "shown": 42 } }));
        assert_eq!(draft.json()["content"]["design"]["first_quarter"], "2025Q3");
        office.published(&draft);
        let again = office.draft(&early, &design);
        assert_eq!(rows(&again), rows(&draft));
        office.published(&again);
        let late = office.draft(&office.cut("second"), &design);
        assert_eq!(rows(&late)[0]["key"], "region.South");
    }

    /// Nobody entered a log: all cases are of quarters without one.
    fn without_a_log_nothing_is_said_of_eligible_procedures(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        let draft = office.draft(&office.cut("first"), &json!({ "tables": ["capture"] }));
        let rows = draft.json()["content"]["tables"][0]["rows"].clone();
        let all = &rows.as_array().unwrap().last().unwrap()["cells"];
        assert_eq!(all[0], json!({ "count": { "shown": 0 } }));
        assert_eq!(all[4], json!({ "count": { "shown": 42 } }));
    }

    fn a_correction_names_the_summary_that_says_it_right(registry) {
        let served = Served::new(registry);
        let office = Office::new(&served);
        let cut = office.cut("first");
        let [wrong, right] = [json!({}), json!({ "question": "Again?" })].map(|design| {
            let draft = office.draft(&cut, &design);
            let read = office.monitor.get(&path(&draft)).expect(200);
            office.published(&read);
            path(&draft)
        });
        let withdraw = |path: &str, by: Value| {
            let body = json!({ "reason": "a column was mislabelled", "corrected_by": by });
            office.publisher.send(&Asked::new("POST", format!("{path}/withdrawal")).json(&body))
        };
        assert_eq!(only_mend(&withdraw(&wrong, json!(7)).problem(422, "must_be_mended")).0, "/corrected_by");
        withdraw(&right, json!(1)).problem(409, "illegal_step");
        withdraw(&wrong, json!(2)).expect(200);
        let gone = served.stranger().get("/summaries/1");
        assert_eq!(gone.header("link"), Some("</api/v1/summaries/2>; rel=\"successor-version\""));
        assert!(text(&gone.problem(410, "withdrawn"), "detail").ends_with("Corrected by safety summary 2."));
        let listed = served.stranger().get("/summaries").expect(200).json();
        assert_eq!(listed["items"][1]["corrected_by"], 2);
        let page = served.stranger().send(&Asked::new("GET", "//summaries/1").header("accept", "text/html"));
        assert!(page.text().contains("href=\"/summaries/2\""), "{}", page.text());
        let last = &registry.audit()[0].event;
        assert_eq!(last.deed.name(), "summary_withdrawn");
        assert_eq!(last.after.as_ref().unwrap()["corrected_by"], 2);
    }
}
