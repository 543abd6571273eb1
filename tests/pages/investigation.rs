//! The investigator's walk: a plan is written and registered, the data are frozen, the plan is
//! carried out, and the report says what was shown.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::Registry;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;

use crate::access::visitor_of;

/// A plan as the form sends it.
const PLAN: [(&str, &str); 17] = [
    ("title", "Zero-fluoroscopy against conventional"),
    ("question", "Is zero-fluoroscopy no worse\nthan conventional fluoroscopy?"),
    ("eligibility-procedure_groups", "svt"),
    ("eligibility-procedure_groups", "flutter"),
    ("eligibility-procedure_groups", "af_first"),
    ("eligibility-exclude", "epicardial"),
    ("endpoints-0-endpoint", "acute_success"),
    ("endpoints-0-margin", "3"),
    ("endpoints-0-expected", "95"),
    ("endpoints-0-reason", "Three in a hundred more repeats are outweighed by sparing everyone the beam."),
    ("endpoints-0-source", "decision of the writing group"),
    ("method", "standardised"),
    ("covariates", "structural_hd"),
    ("missing_covariates", "indicator"),
    ("level", "95"),
    ("least_known", "90"),
    ("sensitivity", "leave_one_centre_out"),
];

fn with<'a>(fields: &[(&'a str, &'a str)], more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let kept = fields.iter().filter(|(name, _)| !more.iter().any(|(other, _)| other == name));
    kept.chain(more).copied().collect()
}

fn investigator<'s>(served: &'s Served<'s>) -> Visitor<'s> {
    visitor_of(served, Role::Investigator, served.registry.centre("S07"))
}

/// Registers the plan and gives its address.
fn registered(visitor: &Visitor<'_>, fields: &[(&str, &str)]) -> String {
    let sent = with(fields, &[("do", "register")]);
    visitor.post("/plans/new", &sent).expect(303).header("location").unwrap().to_owned()
}

fn last(address: &str) -> &str {
    address.rsplit('/').next().unwrap()
}

/// Sends whole cases, as a comparison needs them.
fn sent(served: &Served<'_>, number: usize) {
    let coordinator = served.member("sender", Role::Coordinator, &["S07".parse().unwrap()]);
    for _ in 0..number {
        coordinator.post("/cases", &sample::zero_fluoroscopy_case()).expect(201);
    }
}

fn taken(visitor: &Visitor<'_>, name: &str) -> String {
    visitor.post("/data-cuts", &[("name", name)]).expect(303).header("location").unwrap().to_owned()
}

fn frozen(registry: &Registry, visitor: &Visitor<'_>, name: &str) -> String {
    registry.cases("S07".parse().unwrap(), 3);
    taken(visitor, name)
}

/// Where a plan, a cut of three cases and the report of its comparison stand.
fn carried_out(served: &Served<'_>, visitor: &Visitor<'_>) -> [String; 3] {
    let plan = registered(visitor, &PLAN);
    sent(served, 3);
    let cut = taken(visitor, "first");
    let fields = [("plan", last(&plan)), ("cut", last(&cut))];
    let report = visitor.post("/comparisons", &fields).expect(303).header("location").unwrap().to_owned();
    [plan, cut, report]
}

on_both_stores! {
    fn a_plan_is_checked_with_its_cost_and_registered_once(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        visitor.get("/plans/new").expect(200);
        let empty = visitor.post("/plans/new", &[("do", "register"), ("title", "<b>x")]).expect(422).text();
        for field in ["question", "eligibility-procedure_groups", "endpoints-0-endpoint", "method", "level"] {
            assert!(empty.contains(&format!("href=\"#{field}\"")), "{field}");
            assert!(empty.contains(&format!("id=\"{field}\"")), "{field} leads nowhere");
        }
        assert!(empty.contains("&lt;b&gt;x") && !empty.contains("<b>x"));

        let checked = visitor.post("/plans/new", &with(&PLAN, &[("do", "check")])).expect(200).text();
        assert!(checked.contains("cases</b> in each arm") || checked.contains("</b> cases in each arm"), "{checked}");
        assert!(checked.contains("In scope now"));
        assert!(visitor.get("/plans").expect(200).text().contains("No plan is registered yet"));

        let plan = registered(&visitor, &PLAN);
        assert_eq!(registered(&visitor, &PLAN), plan, "a button pressed twice registers one plan");
        let page = visitor.get(&plan).expect(200).text();
        for said in ["less than 3 points worse", "Epicardial access", "Nobody can have looked", "Plan 1.1"] {
            assert!(page.contains(said), "{said}: {page}");
        }
        assert!(visitor.get("/plans").expect(200).text().contains(&plan));
    }

    fn numbers_of_a_plan_are_mended_in_points(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        for (field, typed, said) in [
            ("endpoints-0-margin", "-3", "above 0 and below 50"),
            ("endpoints-0-margin", "three", "Nothing that reads as a number"),
            ("endpoints-0-margin", "", "Nothing that reads as a number"),
            ("level", "0.95", "from 90 to 99.9"),
            ("least_known", "9", "from 50 to 100"),
            ("endpoints-0-expected", "100", "between 0 and 100"),
            ("endpoints-0-reason", "short", "at least 20"),
            ("covariates", "ice_used", "on the way to its effect"),
            ("endpoints-1-margin", "1", "Choose the endpoint"),
            ("eligibility-exclude", "low_capture", "Nothing stands here"),
            ("eligibility-least_capture", "90", "stands for nothing unless"),
            ("looks-fractions", "100", "such as 50; 100"),
            ("looks-each_arm", "many", "Write with how many cases of each arm"),
            ("looks-exponent", "two", "Choose from the list"),
        ] {
            let page = visitor.post("/plans/new", &with(&PLAN, &[(field, typed), ("do", "check")])).expect(422).text();
            assert!(page.contains(said), "{field} = {typed}: {said}");
            assert!(page.contains("decision of the writing group"), "what was typed is lost");
        }
    }

    fn a_margin_is_typed_as_a_ratio_and_told_as_one(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        // A browser sends the scale of the endpoints that nobody asks for, too.
        let as_sent = [("endpoints-0-scale", "risk_difference"), ("endpoints-1-scale", "risk_difference"), ("endpoints-2-scale", "risk_difference")];
        visitor.post("/plans/new", &with(&with(&PLAN, &as_sent), &[("do", "check")])).expect(200);
        let ratio = [("endpoints-0-scale", "risk_ratio"), ("endpoints-0-margin", "1,5")];
        let checked = visitor.post("/plans/new", &with(&with(&PLAN, &ratio), &[("do", "check")])).expect(200).text();
        assert!(checked.contains("value=\"1,5\""), "{checked}");
        for (typed, said) in [("1", "1 stands here; write how many times as often"), ("", "Nothing that reads as a number")] {
            let wrong = with(&with(&PLAN, &ratio), &[("endpoints-0-margin", typed), ("do", "check")]);
            let page = visitor.post("/plans/new", &wrong).expect(422).text();
            assert!(page.contains("href=\"#endpoints-0-margin\"") && page.contains(said), "{typed}: {page}");
        }
        let plan = registered(&visitor, &with(&PLAN, &ratio));
        let page = visitor.get(&plan).expect(200).text();
        assert!(page.contains("failure to reach acute success less than 1.5 times as frequent"), "{page}");
        let form = visitor.get(&format!("{plan}/amend")).expect(200).text();
        assert!(form.contains("value=\"1.5\"") && form.contains("value=\"risk_ratio\" checked"), "{form}");
        sent(&served, 3);
        let cut = taken(&visitor, "first");
        let fields = [("plan", last(&plan)), ("cut", last(&cut))];
        let report = visitor.post("/comparisons", &fields).expect(303).header("location").unwrap().to_owned();
        let page = visitor.get(&report).expect(200).text();
        assert!(page.contains("is failure to reach acute success less than 1.5 times as frequent with zero-fluoroscopy?"), "{page}");
        assert!(visitor.get(&format!("{report}/report.pdf")).expect(200).body().starts_with(b"%PDF-"));
    }

    fn single_types_and_ages_are_chosen_shown_and_amended(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        let form = visitor.get("/plans/new").expect(200).text();
        for said in ["costs cases", "for whom the answer holds", "Typical flutter", "60–69 years", "Congenital heart disease"] {
            assert!(form.contains(said), "{said}");
        }
        assert!(!form.contains("value=\"diag_only\""), "a study that is no ablation can be chosen");
        let narrow = [("eligibility-procedures", "vt_idio"), ("eligibility-age_bands", "60_69"), ("eligibility-exclude", "congenital")];
        let twice = with(&PLAN, &[("eligibility-procedures", "avnrt"), ("do", "check")]);
        let page = visitor.post("/plans/new", &twice).expect(422).text();
        assert!(page.contains("href=\"#eligibility-procedures\"") && page.contains("AVNRT is compared with the whole of its group"), "{page}");
        let both = with(&PLAN, &[("eligibility-age_bands", "18_29"), ("eligibility-exclude", "paediatric"), ("do", "check")]);
        assert!(visitor.post("/plans/new", &both).expect(422).text().contains("and not both"));
        let plan = registered(&visitor, &with(&PLAN, &narrow));
        let page = visitor.get(&plan).expect(200).text();
        for said in ["<dt>Single types</dt><dd>Idiopathic VT</dd>", "<dt>Ages</dt><dd>60–69 years</dd>", "Congenital heart disease"] {
            assert!(page.contains(said), "{said}: {page}");
        }
        let older = registered(&visitor, &PLAN);
        assert!(visitor.get(&older).expect(200).text().contains("<dt>Ages</dt><dd>all</dd>"));
        // An amendment begins with what stands there and shows what changed.
        let form = visitor.get(&format!("{plan}/amend")).expect(200).text();
        assert_eq!(form.matches("checked").count(), visitor.post("/plans/new", &with(&with(&PLAN, &narrow), &[("do", "check")])).expect(200).text().matches("checked").count());
        let fields = with(&with(&PLAN, &narrow), &[("eligibility-age_bands", "70_79"), ("reason", "Older patients are what is asked."), ("do", "register")]);
        let amended = visitor.post(&format!("{plan}/amend"), &fields).expect(303).header("location").unwrap().to_owned();
        let page = visitor.get(&amended).expect(200).text();
        assert!(page.contains("60_69") && page.contains("70_79"), "{page}");
    }

    fn looks_are_planned_shown_and_told_in_the_report(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        let looks = [("looks-fractions", "50; 100"), ("looks-each_arm", "3"), ("looks-spending", "power_family"), ("looks-exponent", "1,5")];
        let fields = [with(&PLAN, &looks), vec![("subgroups", "structural_hd"), ("subgroups", "sex")]].concat();
        let checked = visitor.post("/plans/new", &with(&fields, &[("do", "check")])).expect(200).text();
        assert!(checked.contains("Looking several times adds ") && checked.contains("value=\"50; 100\""), "{checked}");
        let wrong = visitor.post("/plans/new", &with(&fields, &[("looks-exponent", "50"), ("do", "check")])).expect(422).text();
        assert!(wrong.contains("href=\"#looks-exponent\"") && wrong.contains("Is 50; write the exponent"), "{wrong}");
        let plan = registered(&visitor, &fields);
        let page = visitor.get(&plan).expect(200).text();
        assert!(page.contains("Told apart by") && page.contains("Sex, Structural heart disease"), "{page}");
        assert!(page.contains("Two times, at 50 % and 100 % of 3 cases in each arm.") && page.contains("exponent 1.5"), "{page}");
        let form = visitor.get(&format!("{plan}/amend")).expect(200).text();
        assert!(form.contains("value=\"50; 100\"") && form.contains("value=\"1.5\""), "{form}");
        sent(&served, 3);
        let cut = taken(&visitor, "first");
        let fields = [("plan", last(&plan)), ("cut", last(&cut))];
        let report = visitor.post("/comparisons", &fields).expect(303).header("location").unwrap().to_owned();
        let page = visitor.get(&report).expect(200).text();
        // One arm alone is worth nothing, so nothing is spent.
        assert!(page.contains("This is look 1 of 2 that the plan orders."), "{page}");
        let paper = visitor.get(&format!("{report}/report.pdf")).expect(200);
        assert!(paper.body().starts_with(b"%PDF-"));
    }

    fn before_a_plan_the_cases_are_counted_and_no_outcome_is_looked_at(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        sent(&served, 3);
        let asked = "/plans/outlook?endpoint=acute_success&margin=3&expected=95&level=95&group=";
        let page = visitor.get(asked).expect(200).text();
        for said in ["takes 869 cases in each arm", "By the end of each quarter", "is not told: one arm", "no look at the outcome"] {
            assert!(page.contains(said), "{said}: {page}");
        }
        let refused = visitor.get("/plans/outlook?margin=three&endpoint=&expected=&level=0.95").expect(422).text();
        for field in ["endpoint", "margin", "expected", "level"] {
            assert!(refused.contains(&format!("href=\"#{field}\"")), "{field}: {refused}");
        }
        assert!(!visitor.get("/plans/outlook").expect(200).text().contains("Must be mended"));
        // What no plan chooses is told where plans are written.
        let form = visitor.get("/plans/new").expect(200).text();
        assert!(form.contains("What every plan here does") && form.contains("unit of clustering"), "{form}");
        let blank = visitor.get("/plans/outlook?endpoint=&margin=&expected=&level=&group=").expect(422).text();
        assert!(blank.contains("href=\"#margin\"") && !blank.contains("NaN"), "{blank}");
        visitor.get("/plans/outlook?p=0.4").expect(400);
        // An address from before there was a scale, or with none that there is, asks for points.
        for scale in ["&scale=", "&scale=odds", "&scale=risk_difference"] {
            let again = visitor.get(&format!("{asked}{scale}")).expect(200).text();
            assert_eq!(page, again, "{scale}");
        }
        let looks = |deed: &str| registry.audit().iter().filter(|row| row.event.deed.name() == deed).count();
        assert_eq!((looks("comparison_opened"), looks("comparison_run")), (0, 0));
        let plan = registered(&visitor, &PLAN);
        let known = visitor.get(&plan).expect(200).text().split("When it was registered").nth(1).unwrap().to_owned();
        let numbers: Vec<&str> = known.split("<dd>").skip(1).take(3).map(|cell| cell.split('<').next().unwrap()).collect();
        assert_eq!(numbers, ["3", "0", "0"], "cases entered, comparisons computed, looks");
        let monitor = visitor_of(&served, Role::Monitor, "S07".parse().unwrap());
        monitor.get(asked).expect(403);
    }

    fn before_a_plan_a_margin_may_be_a_ratio(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        sent(&served, 3);
        let ask = |margin: &str, expected: &str| {
            let asked = "/plans/outlook?endpoint=acute_success&level=95&group=&scale=risk_ratio";
            visitor.get(&format!("{asked}&margin={margin}&expected={expected}"))
        };
        let page = ask("1,5", "95").expect(200).text();
        for said in [
            "value=\"risk_ratio\" checked",
            "failure to reach acute success is less than 1.5 times as frequent takes 1,834 cases",
            "the ratio is 1.14, a third of the margin",
            "to either side of the ratio",
            "Chance that there is none",
            "By the end of each quarter",
        ] {
            assert!(page.contains(said), "{said}: {page}");
        }
        assert!(!page.contains("NaN") && !page.contains("to either side of the difference"), "{page}");
        for (margin, expected, said) in [
            ("1", "95", "1 stands here; write how many times as often"),
            ("0,9", "95", "0.9 stands here; write how many times as often"),
            ("6", "95", "6 stands here; write how many times as often"),
            ("", "95", "Nothing that reads as a number stands here; write how many times"),
            ("3", "60", "3 stands here, but 40 % with failure to reach acute success are expected already, and 3 times as many would be all or more; write a smaller margin, or check what is expected."),
        ] {
            let refused = ask(margin, expected).expect(422).text();
            assert!(refused.contains("href=\"#margin\"") && refused.contains(said), "{said}: {refused}");
            assert!(refused.contains("value=\"risk_ratio\" checked"), "{refused}");
        }
    }

    fn an_amendment_says_why_and_what_it_changed(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        let plan = registered(&visitor, &PLAN);
        let amend = format!("{plan}/amend");
        let form = visitor.get(&amend).expect(200).text();
        assert!(form.contains("value=\"3\"") && form.contains("decision of the writing group"));
        let stricter = with(&PLAN, &[("endpoints-0-margin", "2,5"), ("do", "register")]);
        assert!(visitor.post(&amend, &stricter).expect(422).text().contains("href=\"#reason\""));
        let same = with(&PLAN, &[("reason", "nothing really"), ("do", "register")]);
        assert!(visitor.post(&amend, &same).expect(422).text().contains("Nothing differs"));
        let reasoned = with(&stricter, &[("reason", "The group agreed on a stricter margin.")]);
        let second = visitor.post(&amend, &reasoned).expect(303).header("location").unwrap().to_owned();
        let page = visitor.get(&second).expect(200).text();
        for said in ["Plan 1.2", "stricter margin", "0.03", "0.025", "less than 2.5 points worse"] {
            assert!(page.contains(said), "{said}: {page}");
        }
    }

    fn two_cuts_are_set_side_by_side(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        assert!(visitor.post("/data-cuts", &[("name", "first")]).expect(422).text().contains("nothing to freeze"));
        let first = frozen(registry, &visitor, "first");
        assert!(visitor.post("/data-cuts", &[("name", "first")]).expect(422).text().contains("choose another"));
        let second = frozen(registry, &visitor, "second");
        for (one, other) in [(&first, &second), (&second, &first)] {
            let page = visitor.get(&format!("{one}?with={}", last(other))).expect(200).text();
            assert!(page.contains("From first to second"), "{page}");
            let row = page.split("id=\"differences\"").nth(1).unwrap().split("id=\"against\"").next().unwrap();
            let numbers: Vec<&str> = row.split("<td class=\"number\">").skip(1).map(|cell| cell.split('<').next().unwrap()).collect();
            assert_eq!(numbers, ["3", "0", "3", "0"], "added, changed, the same, gone");
            let against = page.split("id=\"against\"").nth(1).unwrap();
            let numbers: Vec<&str> = against.split("<td class=\"number\">").skip(1).map(|cell| cell.split('<').next().unwrap()).collect();
            // No approval and no log was ever entered; nothing was asked.
            let expected = if std::ptr::eq(one, &first) { ["3", "6", "3", "6", "0", "0"] } else { ["6", "3", "6", "3", "0", "0"] };
            assert_eq!(numbers, expected, "approval, log, question of both cuts");
        }
    }

    fn a_plan_is_carried_out_and_every_look_is_counted(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        assert!(visitor.get("/comparisons").expect(200).text().contains("write a plan"));
        let plan = registered(&visitor, &PLAN);
        sent(&served, 3);
        let cut = taken(&visitor, "first");
        assert!(visitor.post("/comparisons", &[("plan", ""), ("cut", "x")]).expect(422).text().contains("Choose the data cut"));
        let fields = [("plan", last(&plan)), ("cut", last(&cut))];
        let report = visitor.post("/comparisons", &fields).expect(303).header("location").unwrap().to_owned();
        let again = visitor.post("/comparisons", &fields).expect(303).header("location").unwrap().to_owned();
        assert_eq!(report, again, "the same question to the same data is one look");
        let page = visitor.get(&report).expect(200).text();
        // Three cases of one arm: nothing can be said, and the report says so.
        for said in [
            "Cannot be concluded",
            "Read with care",
            "Patients were not randomised",
            "to the letter the same",
            "Computed",
            "Not the total effect: what remains with echo held alike",
            "cannot be estimated: among the cases of the model echo was used in all or in none",
            "Harm by centre",
        ] {
            assert!(page.contains(said), "{said}: {page}");
        }
        let file = visitor.get(&format!("{report}/report.json")).expect(200);
        let found: serde_json::Value = serde_json::from_str(&file.text()).unwrap();
        assert_eq!(found["flow"]["in_cut"], 3);
        let paper = visitor.get(&format!("{report}/report.pdf")).expect(200);
        assert_eq!(paper.header("content-type"), Some("application/pdf"));
        assert!(paper.body().starts_with(b"%PDF-"), "{:?}", &paper.body()[..20.min(paper.body().len())]);
        assert!(paper.body().len() > 20_000, "both type families and every figure: {}", paper.body().len());
        let second = visitor.get(&format!("{report}/report.pdf")).expect(200);
        assert_eq!(paper.body(), second.body(), "the same report is the same file");
        let later = registered(&visitor, &with(&PLAN, &[("title", "Another plan")]));
        let page = visitor.get(&later).expect(200).text();
        let known = page.split("When it was registered").nth(1).unwrap();
        let numbers: Vec<&str> = known.split("<dd>").skip(1).take(3).map(|cell| cell.split('<').next().unwrap()).collect();
        assert_eq!(numbers, ["3", "1", "1"], "cases entered, comparisons computed, readers");
    }

    fn a_person_writes_what_only_a_person_can_say_and_the_report_is_final(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        let [_, _, report] = carried_out(&served, &visitor);
        let page = visitor.get(&report).expect(200).text();
        assert!(page.contains("<b>Draft. </b>") && page.contains("An item of the checklist"), "{page}");
        let refused = visitor.post(&report, &[("item-22", "short"), ("item-23", "<b>Nobody paid for any of it.")]);
        let refused = refused.expect(422).text();
        assert!(refused.contains("href=\"#item-22\"") && refused.contains("write at least 20"), "{refused}");
        assert!(refused.contains("&lt;b&gt;Nobody paid"), "what was typed is lost");
        assert!(visitor.get(&report).expect(200).text().contains("<b>Draft. </b>"), "all of it or nothing");
        let funding = "Nobody paid for any of it.";
        visitor.post(&report, &[("item-23", funding), ("item-3", ""), ("item-6", "")]).expect(303);
        let page = visitor.get(&report).expect(200).text();
        assert!(!page.contains("<b>Draft. </b>") && page.contains(funding) && page.contains("Written by"), "{page}");
        let paper = visitor.get(&format!("{report}/report.pdf")).expect(200);
        let file = visitor.get(&format!("{report}/report.json")).expect(200).text();
        assert!(file.contains(r#""standing":"final""#) && file.contains(funding), "{file}");
        // Somebody else read nothing there and writes over it: refused, and the own words kept.
        let other = visitor.post(&report, &[("item-23", "The device makers paid for it.")]).expect(422).text();
        assert!(other.contains("Somebody wrote this") && other.contains("The device makers") && other.contains(funding), "{other}");
        visitor.post(&report, &[("item-23", ""), ("read-23", "1")]).expect(303);
        let page = visitor.get(&report).expect(200).text();
        assert!(page.contains("<b>Draft. </b>") && page.contains("Taken back by"), "{page}");
        let again = visitor.get(&format!("{report}/report.pdf")).expect(200);
        assert_ne!(paper.body(), again.body(), "the texts are a part of the report");
        let monitor = visitor_of(&served, Role::Monitor, "S07".parse().unwrap());
        assert!(!monitor.get(&report).expect(200).text().contains("Keep the texts"));
        monitor.post(&report, &[("item-23", funding)]).expect(403);
    }

    fn only_those_who_may_write_and_compare(registry) {
        let served = Served::new(registry);
        let visitor = investigator(&served);
        let [plan, cut, report] = carried_out(&served, &visitor);
        let fields = [("plan", last(&plan)), ("cut", last(&cut))];
        let centre = "S07".parse().unwrap();
        let coordinator = visitor_of(&served, Role::Coordinator, centre);
        for address in [&plan, &cut, &report, &format!("{plan}/amend")] {
            coordinator.get(address).expect(403);
        }
        let monitor = visitor_of(&served, Role::Monitor, centre);
        for address in [&plan, &cut, &report] {
            monitor.get(address).expect(200);
        }
        monitor.get(&format!("{plan}/amend")).expect(403);
        monitor.post("/comparisons", &fields).expect(403);
        let society = visitor_of(&served, Role::Society, centre);
        society.get(&plan).expect(200);
        society.get(&report).expect(403);
        for absent in ["/plans/01930000-0000-7000-8000-000000000000", "/comparisons/nothing", "/data-cuts/nothing"] {
            monitor.get(absent).expect(404);
        }
    }
}
