//! A data cut is a point that nothing slips under, and it reads the same for ever.

use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use quietbeam::access::Permit;
use quietbeam::access::action::{
    ChangeCase, ReadDataCuts, ReadOwnPicture, RunComparison, SubmitCase, TakeDataCut,
};
use quietbeam::store::{
    Change, Conflict, DataCut, NewCase, NewComparison, ReadsCutCases, Refused, StoreError,
};
use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CaseCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::{Registry, content};

fn take_cut(registry: &Registry, name: &'static str) -> Result<DataCut, StoreError> {
    let permit = Permit::<TakeDataCut>::for_operator("test");
    registry.store.write_blocking(permit, move |session| session.take_cut(name))
}

fn cases_of(registry: &Registry, cut: &DataCut) -> Vec<(CaseCode, i64, String)> {
    let cut = cut.clone();
    let permit = Permit::<RunComparison>::for_operator("test");
    let read = registry.store.read_blocking(permit, move |session| {
        let mut cases = Vec::new();
        session.each_case(&cut, |row| {
            cases.push((row.code, row.revision, row.content.record));
            Ok::<_, StoreError>(())
        })?;
        assert!(session.verify_cut(&cut)?);
        Ok::<_, StoreError>(cases)
    });
    read.unwrap()
}

fn change(registry: &Registry, code: CaseCode, expected_revision: i64, number: usize) {
    let reason = "typing error".parse().unwrap();
    let change = Change { code, expected_revision, content: content(number), reason };
    let permit = Permit::<ChangeCase>::for_operator("test");
    registry.store.write_blocking(permit, move |session| session.change_case(change)).unwrap();
}

/// How many cases a session reads of a cut, and whether it read them now.
fn counted<A: ReadsCutCases>(registry: &Registry, permit: Permit<A>, cut: &DataCut) -> (usize, bool) {
    let cut = cut.clone();
    let read = registry.store.read_blocking(permit, move |session| {
        let mut now = false;
        let cases = session.once_of_cut(&cut, |session| {
            now = true;
            let mut cases = 0_usize;
            session.each_case(&cut, |_| {
                cases += 1;
                Ok::<_, StoreError>(())
            })?;
            Ok::<_, StoreError>(cases)
        })?;
        Ok::<_, StoreError>((*cases, now))
    });
    read.unwrap()
}

on_both_stores! {
    fn what_is_made_of_a_cut_is_made_once_and_only_for_those_who_see_all_of_it(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        registry.cases(own, 2);
        registry.cases(other, 3);
        let first = take_cut(registry, "first").unwrap();
        let network = || Permit::<RunComparison>::for_operator("test");
        let desk = Desk::new(registry);
        desk.member("lead", Role::CentreLead, &[own]);
        let lead = desk.caller("lead");
        let narrow = || lead.permit::<ReadOwnPicture>().unwrap();

        // A lead reads the own cases alone, and leaves nothing behind for others.
        assert_eq!(counted(registry, narrow(), &first), (2, true));
        assert_eq!(counted(registry, network(), &first), (5, true));
        assert_eq!(counted(registry, network(), &first), (5, false));
        assert_eq!(counted(registry, narrow(), &first), (2, true), "what all centres gave is not for one");

        registry.cases(other, 1);
        let second = take_cut(registry, "second").unwrap();
        assert_eq!(counted(registry, network(), &second), (6, true), "another cut is read anew");
        assert_eq!(counted(registry, network(), &first), (5, false), "and the first one is still kept");
    }

    fn what_comes_later_does_not_touch_a_cut(registry) {
        let centre = registry.centre("S07");
        let codes = registry.cases(centre, 5);
        change(registry, codes[0], 1, 100);
        let cut = take_cut(registry, "first").unwrap();
        let before = cases_of(registry, &cut);
        assert_eq!((cut.cases, before.len()), (5, 5));
        assert!(before.contains(&(codes[0], 2, content(100).record)));

        change(registry, codes[0], 2, 200);
        change(registry, codes[1], 1, 201);
        registry.cases(centre, 3);
        assert_eq!(cases_of(registry, &cut), before);
        let second = take_cut(registry, "second").unwrap();
        assert_eq!(second.cases, 8);
        assert_ne!(second.content_hash, cut.content_hash);
        let again = take_cut(registry, "third").unwrap();
        assert_eq!(again.content_hash, second.content_hash);
    }

    fn more_cases_than_fit_a_page_are_all_seen_once(registry) {
        let centre = registry.centre("S07");
        let mut codes = registry.cases(centre, 4_321);
        let cut = take_cut(registry, "large").unwrap();
        let seen: Vec<CaseCode> = cases_of(registry, &cut).into_iter().map(|(code, ..)| code).collect();
        codes.sort();
        assert_eq!(seen, codes);
        assert_eq!(cut.cases, 4_321);
    }

    fn a_cut_waits_for_the_writer_in_flight(registry) {
        let centre = registry.centre("S07");
        let codes = registry.codes(centre, 2);
        registry.cases(centre, 1);
        thread::scope(|scope| {
            let (written, wait_written) = mpsc::channel();
            let (finish, wait_finish) = mpsc::channel::<()>();
            let code = codes[0];
            scope.spawn(move || {
                let permit = Permit::<SubmitCase>::for_operator("test");
                let saved: Result<_, StoreError> = registry.store.write_blocking(permit, move |session| {
                    let saved = session.save_new_case(NewCase { code, content: content(1) })?;
                    written.send(()).unwrap();
                    wait_finish.recv().unwrap();
                    Ok(saved)
                });
                saved.unwrap();
            });
            wait_written.recv().unwrap();
            let (taken, wait_taken) = mpsc::channel();
            scope.spawn(move || taken.send(take_cut(registry, "waits").unwrap()).unwrap());
            let early = wait_taken.recv_timeout(Duration::from_millis(300));
            assert!(early.is_err(), "the cut was taken while a writer was in flight");
            finish.send(()).unwrap();
            let cut = wait_taken.recv().unwrap();
            assert_eq!(cut.cases, 2);
            assert_eq!(cases_of(registry, &cut).len(), 2);
        });
    }

    fn cuts_taken_while_many_write_stay_true(registry) {
        let centre = registry.centre("S07");
        registry.cases(centre, 1);
        let codes = registry.codes(centre, 200);
        let names = ["a", "b", "c", "d", "e"];
        let cuts: Vec<DataCut> = thread::scope(|scope| {
            for chunk in codes.chunks(25) {
                scope.spawn(move || {
                    for code in chunk.iter().copied() {
                        let permit = Permit::<SubmitCase>::for_operator("test");
                        let new = NewCase { code, content: content(3) };
                        registry.store.write_blocking(permit, move |session| session.save_new_case(new)).unwrap();
                        change(registry, code, 1, 4);
                    }
                });
            }
            let takers: Vec<_> =
                names.iter().map(|name| scope.spawn(move || take_cut(registry, name).unwrap())).collect();
            takers.into_iter().map(|taker| taker.join().unwrap()).collect()
        });
        for cut in cuts {
            assert_eq!(cases_of(registry, &cut).len() as i64, cut.cases);
        }
    }

    fn an_empty_registry_and_a_taken_name_are_refused(registry) {
        assert!(matches!(take_cut(registry, "none"), Err(StoreError::Refused(Refused::NothingToCut))));
        let centre = registry.centre("S07");
        registry.cases(centre, 1);
        take_cut(registry, "once").unwrap();
        assert!(matches!(take_cut(registry, "once"), Err(StoreError::Conflict(Conflict::Taken("name")))));
        let permit = Permit::<ReadDataCuts>::for_operator("test");
        assert_eq!(registry.store.read_blocking(permit, |session| session.list_cuts()).unwrap().len(), 1);
    }

    fn a_cut_and_a_comparison_cannot_be_altered(registry) {
        let centre = registry.centre("S07");
        registry.cases(centre, 1);
        let cut = take_cut(registry, "fixed").unwrap().id;
        let new = NewComparison {
            cut,
            request: r#"{"endpoint":"acute_success"}"#.to_owned(),
            result: r#"{"difference":0.01}"#.to_owned(),
            software_version: "0.1.0".to_owned(),
        };
        let saved = new.clone();
        let permit = || Permit::<RunComparison>::for_operator("test");
        let kept = registry.store.write_blocking(permit(), move |session| session.save_comparison(saved)).unwrap();
        let request = new.request.clone();
        let same = registry.store.read_blocking(permit(), move |session| {
            let other = session.same_comparison(cut, &request, "0.2.0")?;
            assert_eq!(other, None);
            session.same_comparison(cut, &request, "0.1.0")
        });
        assert_eq!(same.unwrap(), Some(kept.clone()));
        assert_eq!(kept.content, new);
        for statement in [
            "UPDATE data_cut SET content_hash = ''",
            "DELETE FROM comparison",
            "UPDATE comparison SET result = '{}'",
        ] {
            assert!(registry.raw().run(statement).unwrap_err().contains("append-only"), "{statement}");
        }
        assert!(registry.raw().run("DELETE FROM data_cut").is_err());
    }

    fn a_hash_notices_a_changed_record(registry) {
        let centre = registry.centre("S07");
        registry.cases(centre, 3);
        let cut = take_cut(registry, "hashed").unwrap();
        // What only somebody with the database's own keys could do.
        let mut raw = registry.raw();
        match registry.engine {
            quietbeam_tests::registry::Engine::Sqlite => raw.run("DROP TRIGGER case_revision_updated"),
            quietbeam_tests::registry::Engine::Postgres => raw.run("ALTER TABLE case_revision DISABLE TRIGGER USER"),
        }
        .unwrap();
        raw.run("UPDATE case_revision SET record_hash = 'forged' WHERE seq = 2").unwrap();
        let permit = Permit::<RunComparison>::for_operator("test");
        assert!(!registry.store.read_blocking(permit, move |session| session.verify_cut(&cut)).unwrap());
    }
}
