//! Duties stay separate, and somebody can always manage members.

use quietbeam::access::Permit;
use quietbeam::access::action::ManageMembers;
use quietbeam::access::member::NewMember;
use quietbeam::access::password::PasswordHash;
use quietbeam::store::{Conflict, Refused, Session, StoreError, Writing};
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::Registry;

fn new(name: &str, role: Role, centres: &[CentreCode]) -> NewMember {
    NewMember {
        sign_in_name: name.parse().unwrap(),
        printed_name: "A Person".to_owned(),
        membership: Membership::new(role, centres.iter().copied().collect()).unwrap(),
        password: PasswordHash::from_stored("no password opens this".to_owned()),
    }
}

fn operate<T: Send + 'static>(
    registry: &Registry,
    work: impl FnOnce(&mut Session<'_, ManageMembers, Writing>) -> Result<T, StoreError> + Send + 'static,
) -> Result<T, StoreError> {
    registry.store.write_blocking(Permit::for_operator("test"), work)
}

on_both_stores! {
    fn the_first_administrator_is_made_once(registry) {
        operate(registry, |session| session.bootstrap_administrator(new("first", Role::Administrator, &[]))).unwrap();
        let second = operate(registry, |session| session.bootstrap_administrator(new("second", Role::Administrator, &[])));
        assert!(matches!(second, Err(StoreError::Refused(Refused::MembersExist))));
    }

    fn nobody_changes_the_own_role_or_state(registry) {
        let desk = Desk::new(registry);
        let id = desk.member("admin", Role::Administrator, &[]);
        desk.member("second", Role::Administrator, &[]);
        let caller = desk.caller("admin");
        let own = |work: fn(&mut Session<'_, ManageMembers, Writing>, quietbeam_schema::ids::MemberId) -> Result<(), StoreError>| {
            let permit = caller.permit::<ManageMembers>().unwrap();
            let refused = registry.store.write_blocking(permit, move |session| work(session, id)).unwrap_err();
            assert!(matches!(refused, StoreError::Refused(Refused::OwnMembership)), "{refused}");
        };
        own(|session, id| session.change_membership(id, &Membership::new(Role::Monitor, [].into()).unwrap()));
        own(|session, id| session.disable_member(id));
        own(|session, id| session.enable_member(id));
    }

    fn the_last_administrator_stays(registry) {
        let desk = Desk::new(registry);
        let first = desk.member("first", Role::Administrator, &[]);
        let second = desk.member("second", Role::Administrator, &[]);
        operate(registry, move |session| session.disable_member(first)).unwrap();
        let monitor = Membership::new(Role::Monitor, [].into()).unwrap();
        for refused in [
            operate(registry, move |session| session.disable_member(second)),
            operate(registry, move |session| session.change_membership(second, &monitor)),
        ] {
            assert!(matches!(refused, Err(StoreError::Refused(Refused::LastAdministrator))));
        }
    }

    fn two_administrators_cannot_disable_each_other_at_once(registry) {
        let desk = Desk::new(registry);
        let ids = [desk.member("first", Role::Administrator, &[]), desk.member("second", Role::Administrator, &[])];
        std::thread::scope(|scope| {
            for id in ids {
                scope.spawn(move || operate(registry, move |session| session.disable_member(id)));
            }
        });
        assert_eq!(registry.raw().count("member WHERE disabled_at IS NULL"), 1);
    }

    fn an_administrator_chooses_nobodys_password(registry) {
        let desk = Desk::new(registry);
        let other = desk.member("other", Role::Monitor, &[]);
        let permit = desk.permit::<ManageMembers>("admin", Role::Administrator, &[]);
        let hash = PasswordHash::from_stored("mine".to_owned());
        let refused = registry.store.write_blocking(permit, move |session| session.reset_password(other, &hash));
        assert!(matches!(refused, Err(StoreError::Refused(Refused::OnlyOperator))));
    }

    fn names_are_unique_and_centres_exist(registry) {
        let centre = registry.centre("S07");
        operate(registry, move |session| session.create_member(new("someone", Role::Coordinator, &[centre]))).unwrap();
        let twice = operate(registry, move |session| session.create_member(new("Someone", Role::Monitor, &[])));
        assert!(matches!(twice, Err(StoreError::Conflict(Conflict::Taken("sign_in_name")))));
        let nowhere: CentreCode = "S99".parse().unwrap();
        let lost = operate(registry, move |session| session.create_member(new("lost", Role::Coordinator, &[nowhere])));
        assert!(matches!(lost, Err(StoreError::Absent("centre"))));
        assert_eq!(registry.raw().count("member"), 1);
        let members = operate(registry, |session| session.list_members()).unwrap();
        assert_eq!(members[0].membership.centres().iter().collect::<Vec<_>>(), [&centre]);
    }
}
