//! The society's walk: a summary is composed from menus, previewed, approved, published, corrected.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;

use crate::access::visitor_of;

/// Three centres with fourteen cases each, frozen; the cut's identifier.
fn frozen(served: &Served<'_>) -> String {
    for name in ["S01", "S02", "S03"] {
        let centre = served.registry.centre(name);
        let coordinator =
            served.member(&format!("sender.{}", name.to_lowercase()), Role::Coordinator, &[centre]);
        for _ in 0..14 {
            coordinator.post("/cases", &sample::zero_fluoroscopy_case()).expect(201);
        }
    }
    let investigator = visitor_of(served, Role::Investigator, "S01".parse().unwrap());
    let taken = investigator.post("/data-cuts", &[("name", "spring")]).expect(303);
    taken.header("location").unwrap().rsplit('/').next().unwrap().to_owned()
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

    fn what_must_be_mended_keeps_what_was_typed(registry) {
        let served = Served::new(registry);
        let cut = frozen(&served);
        let author = society(&served, "author");
        let refused = |fields: &[(&str, &str)]| author.post("/releases/new", fields).expect(422).text();
        assert!(refused(&[("cut", ""), ("do", "preview")]).contains("href=\"#cut\""));
        let typed = refused(&[
            ("cut", &cut), ("profile", "two_tier"), ("text", "3 were <b>hurt"), ("first_year", "then"), ("do", "keep"),
        ]);
        for field in ["first_year", "profile_reason", "text"] {
            assert!(typed.contains(&format!("href=\"#{field}\"")), "{field}: {typed}");
            assert!(typed.contains(&format!("id=\"{field}\"")), "{field} leads nowhere");
        }
        assert!(typed.contains("3 were &lt;b&gt;hurt") && typed.contains("holds a figure"));
    }
}
