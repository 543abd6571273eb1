//! Many writers at once.

use std::sync::mpsc;
use std::thread;

use quietbeam::access::Permit;
use quietbeam::access::action::{ManageCentres, SubmitCase};
use quietbeam::store::{Broken, NewCase, StoreError};
use quietbeam_schema::ids::CaseCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::{Engine, Registry, content};

on_both_stores! {
    fn one_failing_job_does_not_hurt_its_neighbours(registry) {
        let centre = registry.centre("S07");
        let codes = registry.codes(centre, 60);
        thread::scope(|scope| {
            for (number, code) in codes.iter().copied().enumerate() {
                scope.spawn(move || {
                    let permit = Permit::<SubmitCase>::for_operator("test");
                    let outcome: Result<(), StoreError> = registry.store.write_blocking(permit, move |session| {
                        session.save_new_case(NewCase { code, content: content(number) })?;
                        match number % 3 {
                            0 => Ok(()),
                            1 => Err(StoreError::Absent("anything")),
                            _ => panic!("a defect in a handler"),
                        }
                    });
                    match number % 3 {
                        0 => outcome.unwrap(),
                        1 => assert!(matches!(outcome, Err(StoreError::Absent("anything")))),
                        _ => assert!(matches!(outcome, Err(StoreError::Broken(Broken::Panicked)))),
                    }
                });
            }
        });
        assert_eq!(registry.raw().count("case_revision"), 20);
        assert_eq!(registry.raw().count("audit_event WHERE deed = 'case_submitted'"), 20);
        // The store still works afterwards.
        registry.centre("S08");
    }

    fn what_was_confirmed_is_there_after_a_restart(registry) {
        let centre = registry.centre("S07");
        registry.cases(centre, 7);
        let store = registry.reopen();
        let permit = Permit::<ManageCentres>::for_operator("test");
        assert_eq!(store.read_blocking(permit, |session| session.list_centres()).unwrap().len(), 1);
        assert_eq!(registry.raw().count("case_revision"), 7);
    }
}

/// What a full disk does: SQLite ends the whole transaction in the middle of a batch. What
/// was written before is gone and must not be confirmed; what comes after must not be kept
/// in a transaction of its own while its author is told that it failed.
#[test]
fn of_a_batch_that_the_database_ended_nothing_is_kept_or_confirmed() {
    let registry = Registry::new(Engine::Sqlite);
    let centre = registry.centre("S07");
    let codes = registry.codes(centre, 3);
    registry
        .raw()
        .run(
            "CREATE TRIGGER disk_full BEFORE INSERT ON case_revision WHEN NEW.period = 'poison'
             BEGIN SELECT RAISE(ROLLBACK, 'the disk is full'); END",
        )
        .unwrap();
    let (begun, wait_begun) = mpsc::channel();
    let (go, wait_go) = mpsc::channel::<()>();
    let store = registry.store.clone();
    let blocker = thread::spawn(move || {
        let permit = Permit::<SubmitCase>::for_operator("test");
        store.write_blocking(permit, move |_| {
            begun.send(()).unwrap();
            wait_go.recv().unwrap();
            Ok::<_, StoreError>(())
        })
    });
    // While the writer is busy, three jobs queue up in this order and become one batch.
    wait_begun.recv().unwrap();
    let outcomes = registry.wait(async {
        let jobs: Vec<_> = codes
            .iter()
            .enumerate()
            .map(|(at, code)| tokio::spawn(poisoned(registry.store.clone(), *code, at)))
            .collect();
        let release = tokio::spawn(async move { go.send(()).unwrap() });
        release.await.unwrap();
        let mut outcomes = Vec::new();
        for job in jobs {
            outcomes.push(job.await.unwrap());
        }
        outcomes
    });
    blocker.join().unwrap().unwrap();
    assert!(outcomes.iter().all(Result::is_err), "{outcomes:?}");
    assert_eq!(registry.raw().count("case_revision"), 0);
    registry.cases(centre, 1);
}

/// The first job is sound, the second makes the database end the transaction, the third is
/// sound again.
async fn poisoned(store: quietbeam::store::Store, code: CaseCode, at: usize) -> Result<(), StoreError> {
    let permit = Permit::<SubmitCase>::for_operator("test");
    store
        .write(permit, move |session| {
            let mut new = NewCase { code, content: content(1) };
            if at == 1 {
                new.content.index.period = "poison".to_owned();
            }
            session.save_new_case(new).map(|_| ())
        })
        .await
}
