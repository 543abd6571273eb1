//! The society's walk: a summary is composed from menus, previewed, approved, published, corrected.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::plan::plan;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;

use crate::access::visitor_of;

const CENTRES: [&str; 3] = ["S01", "S02", "S03"];

/// Three centres with fourteen cases each, frozen; the cut's identifier.
pub(crate) fn frozen(served: &Served<'_>) -> String {
    for name in CENTRES {
        served.registry.centre(name);
    }
    send(served, 14);
    freeze(served, "spring")
}

/// So many cases more at each of three centres.
pub(crate) fn send(served: &Served<'_>, cases: usize) {
    for name in CENTRES {
        let sign_in = format!("sender.{}.{cases}", name.to_lowercase());
        let coordinator = served.member(&sign_in, Role::Coordinator, &[name.parse().unwrap()]);
        for _ in 0..cases {
            coordinator.post("/cases", &sample::zero_fluoroscopy_case()).expect(201);
        }
    }
}

pub(crate) fn freeze(served: &Served<'_>, name: &str) -> String {
    // No two cuts are taken at the same moment: the later one is the newest.
    served.registry.hand.advance(1);
    let investigator = Visitor::member(served, &format!("freezes.{name}"), Role::Investigator, &[]);
    let taken = investigator.post("/data-cuts", &[("name", name)]).expect(303);
    taken.header("location").unwrap().rsplit('/').next().unwrap().to_owned()
}

/// Composes a summary, approves and publishes it; where it stands for those who did.
pub(crate) fn publish(served: &Served<'_>, cut: &str, fields: &[(&str, &str)]) -> String {
    let (author, publisher) = (society(served, "the.author"), society(served, "the.publisher"));
    let monitor = Visitor::member(served, "the.monitor", Role::Monitor, &[]);
    let fields = [&[("cut", cut), ("profile", "strict"), ("do", "keep")], fields].concat();
    let kept = author.post("/releases/new", &fields).expect(303);
    let address = kept.header("location").unwrap().to_owned();
    let page = monitor.get(&address).expect(200).text();
    monitor.post(&address, &[("do", "approve"), ("read", hidden(&page, "read"))]).expect(303);
    publisher.post(&address, &[("do", "publish")]).expect(303);
    address
}

fn society<'s>(served: &'s Served<'s>, name: &str) -> Visitor<'s> {
    Visitor::member(served, name, Role::Society, &[])
}

/// What stands in a hidden field.
fn hidden<'p>(page: &'p str, name: &str) -> &'p str {
    let field = format!("name=\"{name}\" value=\"");
    let rest = &page[page.find(&field).unwrap_or_else(|| panic!("no {name}: {page}")) + field.len()..];
    &rest[..rest.find('"').unwrap()]
}

on_both_stores! {
    fn three_people_take_a_summary_to_the_public_and_correct_it(registry) {
        let served = Served::new(registry);
        let cut = frozen(&served);
        let (author, publisher) = (society(&served, "author"), society(&served, "publisher"));
        let monitor = visitor_of(&served, Role::Monitor, "S01".parse().unwrap());
        let fields = [("cut", cut.as_str()), ("tables", "completeness"), ("profile", "strict"), ("question", "How safe <b>was it?")];
        author.get("/releases/new").expect(200);
        let preview = author.post("/releases/new", &[&fields[..], &[("do", "preview")]].concat()).expect(200).text();
        for said in ["How safe &lt;b&gt;was it?", "What is known, by intended strategy", "Centres S01 and S02 together", "Keep as draft"] {
            assert!(preview.contains(said), "{said}: {preview}");
        }
        assert!(author.get("/releases").expect(200).text().contains("No summary was composed yet"));
        let draft = || {
            let kept = author.post("/releases/new", &[&fields[..], &[("do", "keep")]].concat()).expect(303);
            kept.header("location").unwrap().to_owned()
        };
        let publish = |address: &str| {
            let page = monitor.get(address).expect(200).text();
            let read = hidden(&page, "read");
            monitor.post(address, &[("do", "approve"), ("read", "00")]).expect(422);
            monitor.post(address, &[("do", "approve"), ("read", read)]).expect(303);
            let refused = author.post(address, &[("do", "publish")]).expect(422).text();
            assert!(refused.contains("ask somebody else") || refused.contains("whoever drafted"), "{refused}");
            publisher.post(address, &[("do", "publish")]).expect(303);
        };
        let wrong = draft();
        assert!(!author.get(&wrong).expect(200).text().contains("Approve exactly this"));
        publish(&wrong);
        let right = draft();
        publish(&right);

        let silent = publisher.post(&wrong, &[("do", "withdraw"), ("reason", ""), ("corrected_by", "2")]).expect(422).text();
        assert!(silent.contains("href=\"#reason\"") && silent.contains("id=\"reason\""), "{silent}");
        publisher.post(&wrong, &[("do", "withdraw"), ("reason", "a column was mislabelled"), ("corrected_by", "2")]).expect(303);
        assert!(author.get("/releases").expect(200).text().contains("corrected by safety summary 2"));
        let gone = author.get("/summaries/1").expect(410).text();
        assert!(gone.contains("a column was mislabelled") && gone.contains("href=\"/summaries/2\""), "{gone}");
        publisher.post(&right, &[("do", "withdraw"), ("reason", "cut too early"), ("corrected_by", "")]).expect(303);
        author.get("/summaries/2").expect(410);
    }

    /// Harmless alone, approved, and refused at the last step, because another was published meanwhile.
    fn a_refused_summary_says_so_and_is_composed_anew(registry) {
        let served = Served::new(registry);
        let first = frozen(&served);
        let (author, publisher) = (society(&served, "author"), society(&served, "publisher"));
        let monitor = visitor_of(&served, Role::Monitor, "S01".parse().unwrap());
        let approved = |cut: &str, question: &str| {
            let fields = [("cut", cut), ("profile", "strict"), ("tables", "year"), ("question", question), ("do", "keep")];
            let address = author.post("/releases/new", &fields).expect(303).header("location").unwrap().to_owned();
            let page = monitor.get(&address).expect(200).text();
            monitor.post(&address, &[("do", "approve"), ("read", hidden(&page, "read"))]).expect(303);
            address
        };
        let early = approved(&first, "Then?");
        send(&served, 1);
        let second = freeze(&served, "summer");
        let late = approved(&second, "And now?");
        publisher.post(&early, &[("do", "publish")]).expect(303);
        let refused = publisher.post(&late, &[("do", "publish")]).expect(422).text();
        for said in ["what was added to cases", "this summary ends here", "What the public would have read", "too narrow", "Compose it anew"] {
            assert!(refused.contains(said), "{said}: {refused}");
        }
        assert!(!refused.contains("Publish for everyone") && !refused.contains("3 to 3"), "{refused}");
        assert!(monitor.get(&late).expect(200).text().contains("Whoever composes can compose it anew"));
        let list = monitor.get("/releases").expect(200).text();
        assert!(list.contains("refused, to be composed anew") && !list.contains("waits for publication"), "{list}");

        let seen = author.get(&late).expect(200).text();
        let anew = format!("/releases/new?like={}", late.rsplit('/').next().unwrap());
        assert!(seen.contains(&format!("href=\"{anew}\"")), "{seen}");
        let menus = author.get(&anew).expect(200).text();
        let newest = format!("<option value=\"{second}\" selected>");
        assert!(menus.contains(&newest) && menus.contains("And now?"), "{menus}");
        let ticked = menus.split("<input").filter(|field| field.contains("checked"));
        let ticked: Vec<&str> = ticked.filter(|field| field.contains("name=\"tables\"")).collect();
        assert!(ticked.len() == 1 && ticked[0].contains("value=\"year\""), "{ticked:?}");
        assert!(author.get("/releases/new").expect(200).text().contains(&newest));
        author.get("/releases/new?like=nothing").expect(400);
        author.get("/releases/new?like=01930000-0000-7000-8000-000000000000").expect(404);
    }

    fn what_must_be_mended_keeps_what_was_typed(registry) {
        let served = Served::new(registry);
        let cut = frozen(&served);
        let author = society(&served, "author");
        let refused = |fields: &[(&str, &str)]| author.post("/releases/new", fields).expect(422).text();
        assert!(refused(&[("cut", ""), ("do", "preview")]).contains("href=\"#cut\""));
        let typed = refused(&[
            ("cut", &cut), ("profile", "two_tier"), ("text", "3 were <b>hurt"), ("first", "then"), ("do", "keep"),
            ("told_first", "comparison"),
        ]);
        for field in ["first", "told_first", "profile_reason", "text"] {
            assert!(typed.contains(&format!("href=\"#{field}\"")), "{field}: {typed}");
            assert!(typed.contains(&format!("id=\"{field}\"")), "{field} leads nowhere");
        }
        assert!(typed.contains("3 were &lt;b&gt;hurt") && typed.contains("holds a figure"));
    }

    /// Whoever approves reads every number of the profile, those that are not standard marked, and the reason.
    fn an_approver_reads_which_numbers_are_not_standard(registry) {
        let served = Served::new(registry);
        let cut = frozen(&served);
        let author = society(&served, "author");
        let monitor = visitor_of(&served, Role::Monitor, "S01".parse().unwrap());
        let with = |fields: &[(&'static str, &'static str)], act: &'static str| {
            let fields = [&[("cut", cut.as_str()), ("profile", "strict"), ("do", act)], fields].concat();
            author.post("/releases/new", &fields)
        };
        let menus = author.get("/releases/new").expect(200).text();
        assert!(menus.contains("standard 11; from 3 to 1,000"), "{menus}");
        for (typed, field, why) in [
            ("ten", "profile_numbers-threshold", "in digits alone"),
            ("2", "profile_numbers-threshold", "from 3 to 1000"),
            ("4", "profile_numbers-least_width", "from 1 to 4"),
            ("9", "profile_reason", "“Smallest count shown” is 9, not 11"),
        ] {
            let refused = with(&[("profile_numbers-threshold", typed)], "keep").expect(422).text();
            let led = [format!("href=\"#{field}\""), format!("id=\"{field}\""), format!("value=\"{typed}\"")];
            assert!(led.iter().all(|part| refused.contains(part)) && refused.contains(why), "{typed}: {refused}");
        }
        let chosen = [("profile_numbers-threshold", "9"), ("profile_numbers-least_centres", "4"), ("profile_reason", "rare <b>harms")];
        let marks = ["Smallest count shown (lower than standard: shows more)", "Fewest centres behind a count (higher than standard: shows less)"];
        let preview = with(&chosen, "preview").expect(200).text();
        let kept = with(&chosen, "keep").expect(303);
        let address = kept.header("location").unwrap();
        let read = monitor.get(address).expect(200).text();
        assert!(marks.iter().all(|mark| preview.contains(mark) && read.contains(mark)), "{read}");
        for signed in ["It shows more than the standard strict profile", "“Smallest count shown” is 9, not 11", "“rare &lt;b&gt;harms”", "Approve exactly this"] {
            assert!(read.contains(signed), "{signed}: {read}");
        }
        let anew = author.get(&format!("/releases/new?like={}", address.rsplit('/').next().unwrap())).expect(200).text();
        assert!(anew.contains("name=\"profile_numbers-threshold\" value=\"9\""), "{anew}");
        let none = with(&[("profile_numbers-threshold", "43")], "preview").expect(200).text();
        let some = with(&[], "preview").expect(200).text();
        assert!(none.contains("No count above zero may be shown") && !some.contains("No count above zero"), "{none}");
        let standard = with(&[], "keep").expect(303);
        let silent = monitor.get(standard.header("location").unwrap()).expect(200).text();
        assert!(!silent.contains("than standard") && !silent.contains("shows more than"), "{silent}");
    }

    fn a_comparison_is_offered_and_refused_until_its_report_is_final(registry) {
        let served = Served::new(registry);
        let investigator = served.member("compares", Role::Investigator, &[]);
        let plan = investigator.post("/plans", &plan()).expect(201).json();
        let cut = frozen(&served);
        let question = serde_json::json!({ "plan": plan["id"] });
        let made = investigator.post(&format!("/data-cuts/{cut}/comparisons"), &question).expect(201).json();
        let id = made["id"].as_str().unwrap();
        let author = society(&served, "author");
        let menu = author.get("/releases/new").expect(200).text();
        assert!(menu.contains("Plan 1.1 on “spring”: Zero-fluoroscopy against conventional"), "{menu}");
        let fields = [("cut", cut.as_str()), ("comparison", id), ("profile", "strict"), ("do", "preview")];
        let refused = author.post("/releases/new", &fields).expect(422).text();
        for said in [
            "href=\"#comparison\"",
            "its checklist lacks 23",
            &format!("<option value=\"{id}\" selected"),
        ] {
            assert!(refused.contains(said), "{said}: {refused}");
        }
        let funding = serde_json::json!({ "text": "Nobody paid for it; the group has no conflicts of interest." });
        let item = format!("/comparisons/{id}/checklist/23");
        investigator.send(&Asked::new("PUT", item).json(&funding)).expect(200);
        let preview = author.post("/releases/new", &fields).expect(200).text();
        assert!(preview.contains("The comparison, as it was planned"), "{preview}");
    }
}
