//! Receipts: the same files again change nothing, and each centre has its own.

use quietbeam::access::Permit;
use quietbeam::access::action::ImportFiles;
use quietbeam::store::{Conflict, JobFile, NewJob, StoreError};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use serde_json::json;

on_both_stores! {
    fn the_same_files_are_recognised_at_the_same_centre(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        let content = json!({ "created": 3, "codes": { "4": "ABCDFGHJKM" } });
        let keep = |centre, content: serde_json::Value| {
            let permit = Permit::<ImportFiles>::for_operator("test");
            registry.store.write_blocking(permit, move |session| session.keep_receipt(centre, "hash", content))
        };
        let kept = keep(own, content.clone()).unwrap();
        assert!(matches!(keep(own, content.clone()), Err(StoreError::Conflict(Conflict::Taken("files")))));
        keep(other, content.clone()).unwrap();

        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[own]);
        let caller = desk.caller("coordinator");
        let find = |centre| {
            let permit = caller.permit::<ImportFiles>().unwrap();
            registry.store.read_blocking(permit, move |session| session.find_receipt(centre, "hash"))
        };
        assert_eq!(find(own).unwrap(), Some(kept.clone()));
        assert!(matches!(find(other), Err(StoreError::Absent("centre"))));
        let listed = registry
            .store
            .read_blocking(caller.permit::<ImportFiles>().unwrap(), |session| session.list_receipts())
            .unwrap();
        assert_eq!(listed, [kept]);
    }

    /// A holder that comes back late, or one that begins anew, takes nothing back.
    fn what_was_told_to_be_done_is_not_taken_back(registry) {
        let centre = registry.centre("S07");
        let write = || Permit::<ImportFiles>::for_operator("test");
        let files = vec![JobFile { kind: "cases".to_owned(), content: "text".to_owned() }];
        let new = NewJob { centre, layout: "[]".to_owned(), files_hash: "hash".to_owned(), rows: 900, files };
        let id = registry.store.write_blocking(write(), move |session| session.begin_import_job(new)).unwrap();
        let claim = |holder: &'static str| {
            registry.store.write_blocking(write(), move |session| session.claim_import_job(Some(id), holder)).unwrap()
        };
        let keep = |holder: &'static str, rows| {
            registry.store.write_blocking(write(), move |session| session.keep_import_job(id, holder, rows)).unwrap()
        };
        let told = || {
            let job = registry.store.read_blocking(write(), move |session| session.import_job(id)).unwrap();
            job.rows_done
        };
        assert!(claim("first").is_some());
        for (rows, expected) in [(300, 300), (600, 600), (500, 600)] {
            assert!(keep("first", rows));
            assert_eq!(told(), expected);
        }
        assert!(claim("second").is_none(), "it is held");
        registry.hand.advance(60);
        assert!(claim("second").is_some());
        assert!(!keep("first", 700), "it lost the job");
        assert!(keep("second", 100));
        assert_eq!(told(), 600);
        assert!(keep("second", 800));
        assert_eq!(told(), 800);
    }
}
