//! Another centre's record is not there: not found, never "forbidden".

use quietbeam::access::action::{
    ChangeCase, IssueCaseCodes, ReadAudit, ReadCase, ReadCentres, ReadHistory, SubmitCase,
};
use quietbeam::store::{AuditFilter, CaseFilter, Change, NewCase, PageRequest, Refused, StoreError};
use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::content;

on_both_stores! {
    fn another_centre_answers_like_nothing_at_all(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        let (mine, theirs) = (registry.cases(own, 3), registry.cases(other, 4));
        let unused = registry.codes(other, 1)[0];
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[own]);
        let caller = desk.caller("coordinator");
        let store = &registry.store;
        let nowhere = CaseCode::from_random([3; 16]);

        for code in [theirs[0], nowhere] {
            let read = store.read_blocking(caller.permit::<ReadCase>().unwrap(), move |session| session.current_case(code));
            assert_eq!(read.unwrap_err().to_string(), "case not found");
            let history = store.read_blocking(caller.permit::<ReadHistory>().unwrap(), move |session| session.case_history(code));
            assert_eq!(history.unwrap_err().to_string(), "case not found");
            let change = Change { code, expected_revision: 1, content: content(1), reason: "typing error".parse().unwrap() };
            let changed = store.write_blocking(caller.permit::<ChangeCase>().unwrap(), move |session| session.change_case(change));
            assert_eq!(changed.unwrap_err().to_string(), "case not found");
        }
        for code in [unused, nowhere, theirs[1]] {
            let new = NewCase { code, content: content(1) };
            let saved = store.write_blocking(caller.permit::<SubmitCase>().unwrap(), move |session| session.save_new_case(new));
            assert_eq!(saved.unwrap_err().to_string(), "case code not found");
        }
        let issued = store.write_blocking(caller.permit::<IssueCaseCodes>().unwrap(), move |session| session.issue_case_codes(other, 1));
        assert!(matches!(issued, Err(StoreError::Absent("centre"))));

        let list = |filter: CaseFilter| {
            let permit = caller.permit::<ReadCase>().unwrap();
            store.read_blocking(permit, move |session| session.list_cases(&filter, PageRequest::first())).unwrap().rows
        };
        assert_eq!(list(CaseFilter::default()).len(), mine.len());
        assert_eq!(list(CaseFilter { centre: Some(other), ..CaseFilter::default() }), []);
        assert_eq!(list(CaseFilter { period: Quarter::parse("2025Q1").ok(), ..CaseFilter::default() }).len(), 1);
    }

    fn the_trail_and_the_centres_are_narrowed_too(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        registry.cases(other, 1);
        let desk = Desk::new(registry);
        desk.member("lead", Role::CentreLead, &[own]);
        let caller = desk.caller("lead");
        let trail = registry
            .store
            .read_blocking(caller.permit::<ReadAudit>().unwrap(), |session| {
                session.list_audit(&AuditFilter::default(), PageRequest::first())
            })
            .unwrap();
        assert!(!trail.rows.is_empty() && trail.rows.iter().all(|row| row.event.centre == Some(own)));
        let centres =
            registry.store.read_blocking(caller.permit::<ReadCentres>().unwrap(), |session| session.list_centres()).unwrap();
        assert_eq!(centres.iter().map(|centre| centre.code).collect::<Vec<_>>(), [own]);
    }

    fn central_roles_see_all_centres(registry) {
        let (one, two) = (registry.centre("S07"), registry.centre("S08"));
        registry.cases(one, 2);
        registry.cases(two, 2);
        let desk = Desk::new(registry);
        let permit = desk.permit::<ReadCase>("monitor", Role::Monitor, &[]);
        let page = registry
            .store
            .read_blocking(permit, |session| session.list_cases(&CaseFilter::default(), PageRequest::first()))
            .unwrap();
        assert_eq!(page.rows.len(), 4);
    }

    fn a_list_is_read_page_by_page_without_loss_or_repetition(registry) {
        let centre = registry.centre("S07");
        let mut expected = registry.cases(centre, 25);
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let caller = desk.caller("coordinator");
        let (mut seen, mut after) = (Vec::new(), None);
        loop {
            let permit = caller.permit::<ReadCase>().unwrap();
            let request = PageRequest { after, limit: 10 };
            let page = registry
                .store
                .read_blocking(permit, move |session| session.list_cases(&CaseFilter::default(), request))
                .unwrap();
            seen.extend(page.rows.iter().map(|row| row.code));
            after = page.next;
            if after.is_none() {
                break;
            }
        }
        expected.reverse();
        assert_eq!(seen, expected);
    }

    fn the_centre_is_the_own_one_unless_it_is_named(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        let desk = Desk::new(registry);
        desk.member("one", Role::Coordinator, &[own]);
        desk.member("two", Role::Coordinator, &[own, other]);
        let ask = |name: &str, named| {
            let permit = desk.caller(name).permit::<SubmitCase>().unwrap();
            registry.store.read_blocking(permit, move |session| session.centre_or_own(named))
        };
        assert_eq!(ask("one", None).unwrap(), own);
        assert!(matches!(ask("one", Some(other)), Err(StoreError::Absent("centre"))));
        assert!(matches!(ask("two", None), Err(StoreError::Refused(Refused::CentreNotNamed))));
        assert_eq!(ask("two", Some(other)).unwrap(), other);
    }
}
