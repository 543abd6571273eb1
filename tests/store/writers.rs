//! Many writers at once.

use std::thread;

use quietbeam::access::Permit;
use quietbeam::access::action::{ManageCentres, SubmitCase};
use quietbeam::store::{Broken, NewCase, StoreError};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::content;

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
