//! Receipts: the same files again change nothing, and each centre has its own.

use quietbeam::access::Permit;
use quietbeam::access::action::ImportFiles;
use quietbeam::store::{Conflict, StoreError};
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
}
