//! Judging events: by a form without script, one after the other, on both stores.

use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Answer, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use quietbeam_tests::{on_both_stores, sample};

fn judge<'s>(served: &'s Served<'_>, name: &str) -> Visitor<'s> {
    Visitor::member(served, name, Role::Adjudicator, &[])
}

fn next(docket: &Answer) -> String {
    let page = docket.text();
    let href = page.split("href=\"/adjudication/").nth(1).unwrap_or_else(|| panic!("nothing waits: {page}"));
    format!("/adjudication/{}", href.split('"').next().unwrap())
}

on_both_stores! {
    fn one_event_leads_to_the_next(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let coordinator = served.member("coordinator", Role::Coordinator, &[centre]);
        coordinator.post("/cases", &sample::case_with_tamponade()).expect(201);
        coordinator.post("/cases", &sample::case_with_seen_effusion()).expect(201);
        let one = judge(&served, "one");
        let docket = one.get("/adjudication").expect(200);
        assert!(docket.text().contains("Two events wait for you"), "{}", docket.text());
        let first = next(&docket);
        let card = one.get(&first).expect(200).text();
        for never in ["S07", "ICE", "echo", "Intracardiac", "Zero", "mGy", "not applicable"] {
            let main = card.split("<main").nth(1).unwrap();
            assert!(!main.contains(never), "{never} stands on the card: {main}");
        }
        assert!(card.contains("Persistent AF") || card.contains("Procedure"), "{card}");

        let refused = one.post(&first, &[("ruling", ""), ("sentence", "it needed drainage")]).expect(422).text();
        assert!(refused.contains("href=\"#ruling\"") && refused.contains("it needed drainage"), "{refused}");
        let refused = one.post(&first, &[("ruling", "major"), ("sentence", "")]).expect(422).text();
        assert!(refused.contains("href=\"#sentence\""), "{refused}");
        assert_eq!(registry.raw().count("judgement"), 0);

        let kept = one.post(&first, &[("ruling", "major"), ("sentence", "it needed drainage")]).expect(303);
        let second = kept.header("location").unwrap().to_owned();
        assert!(second.starts_with("/adjudication/") && second != first, "{second}");
        let kept = one.post(&second, &[("ruling", "no_harm"), ("sentence", "nothing was done")]).expect(303);
        assert_eq!(kept.header("location"), Some("/adjudication"));
        let done = one.get("/adjudication").expect(200).text();
        assert!(done.contains("No event waits for you") && done.contains("it needed drainage"), "{done}");

        // Another judge sees neither ruling nor sentence; the same one cannot say more.
        let two = judge(&served, "two");
        let theirs = two.get(&first).expect(200).text();
        assert!(!theirs.contains("it needed drainage"), "{theirs}");
        let again = one.post(&first, &[("ruling", "minor"), ("sentence", "second thoughts")]).expect(303);
        assert_eq!(again.header("location"), Some("/adjudication?gone=true"));
        let gone = one.get("/adjudication?gone=true").expect(200).text();
        assert!(gone.contains("Nothing was kept"), "{gone}");
        assert_eq!(one.get(&first).expect(303).header("location"), Some("/adjudication?gone=true"));
        assert_eq!(registry.raw().count("judgement"), 2);

        two.post(&first, &[("ruling", "major"), ("sentence", "drained")]).expect(303);
        two.post(&second, &[("ruling", "minor"), ("sentence", "watched for long")]).expect(303);
        let monitor = Visitor::member(&served, "monitor", Role::Monitor, &[]);
        let page = monitor.get("/adjudication/progress").expect(200).text();
        for said in ["One event is settled, one is open", "two differ", "two agree", "Major harm", "agree in 1 of 2 events"] {
            assert!(page.contains(said), "{said}: {page}");
        }
        assert!(monitor.get("/watching").expect(200).text().contains("/adjudication/progress"));
        let lead = Visitor::member(&served, "lead", Role::CentreLead, &[centre]);
        assert!(!lead.get("/watching").expect(200).text().contains("/adjudication/progress"));
    }
}
