//! Signing in, staying signed in and signing out.

use quietbeam::access::Permit;
use quietbeam::access::action::{KeepOwnAccount, ManageMembers, ReadCase, SubmitCase};
use quietbeam::access::password::Password;
use quietbeam::access::session::{Granted, SignInError};
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::{Desk, PASSWORD};
use quietbeam_tests::registry::Registry;

fn sign_in(desk: &Desk, name: &str, password: &str) -> Result<Granted, SignInError> {
    desk.registry.wait(desk.desk.sign_in(name, password.to_owned(), "test"))
}

fn refresh(desk: &Desk, token: &str) -> Result<Granted, SignInError> {
    desk.registry.wait(desk.desk.refresh(token, "test"))
}

fn is_known(desk: &Desk, access_token: &str) -> bool {
    desk.registry.wait(desk.desk.caller(access_token, "test")).is_ok()
}

fn refused<T>(outcome: Result<T, SignInError>) {
    assert!(matches!(outcome, Err(SignInError::Refused)));
}

fn deeds(registry: &Registry) -> Vec<Deed> {
    registry.audit().iter().map(|row| row.event.deed).collect()
}

on_both_stores! {
    fn only_name_and_password_together_open_the_door(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let granted = sign_in(&desk, "Coordinator", PASSWORD).unwrap();
        assert!(is_known(&desk, &granted.access_token));
        for (name, password) in [
            ("coordinator", "wrong password, but long"),
            ("coordinator", ""),
            ("coordinator", &PASSWORD.to_uppercase()),
            ("nobody", PASSWORD),
            ("", PASSWORD),
            ("' OR 1=1 --", PASSWORD),
        ] {
            refused(sign_in(&desk, name, password));
        }
        refused(sign_in(&desk, "coordinator", &"x".repeat(257)));
        let seen = deeds(registry);
        assert_eq!(seen.iter().filter(|deed| **deed == Deed::SignedIn).count(), 1);
        assert_eq!(seen.iter().filter(|deed| **deed == Deed::SignInFailed).count(), 6);
    }

    fn a_refresh_token_is_no_access_token_nor_the_reverse(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let granted = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        assert!(!is_known(&desk, &granted.refresh_token));
        refused(refresh(&desk, &granted.access_token));
        refused(registry.wait(desk.desk.browser_caller(&granted.refresh_token, "test")));
        let cookie = registry.wait(desk.desk.sign_in_browser("coordinator", PASSWORD.to_owned(), "test")).unwrap();
        refused(refresh(&desk, &cookie.0));
    }

    fn a_refresh_token_used_twice_ends_the_sign_in(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let first = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        let second = refresh(&desk, &first.refresh_token).unwrap();
        let third = refresh(&desk, &second.refresh_token).unwrap();
        assert!(is_known(&desk, &third.access_token));
        // Within seconds, but the successor is in use already: not a lost answer.
        refused(refresh(&desk, &first.refresh_token));
        assert!(!is_known(&desk, &third.access_token));
        refused(refresh(&desk, &third.refresh_token));
        assert_eq!(deeds(registry)[0], Deed::RefreshReused);
    }

    fn a_lost_answer_can_be_asked_for_again_for_ten_seconds(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let first = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        let second = refresh(&desk, &first.refresh_token).unwrap();
        registry.hand.advance(10);
        let again = refresh(&desk, &first.refresh_token).unwrap();
        assert!(second.refresh_token == again.refresh_token);
        registry.hand.advance(1);
        refused(refresh(&desk, &first.refresh_token));
        assert!(!is_known(&desk, &again.access_token));
    }

    fn refresh_ends_after_half_an_hour_idle_and_twelve_hours_in_all(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let idle = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        registry.hand.advance(30 * 60);
        refused(refresh(&desk, &idle.refresh_token));

        let mut granted = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        for _ in 0..24 {
            registry.hand.advance(29 * 60);
            granted = refresh(&desk, &granted.refresh_token).unwrap();
        }
        registry.hand.advance(24 * 60 + 1);
        refused(refresh(&desk, &granted.refresh_token));
    }

    fn a_browser_is_signed_in_while_it_is_used(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let cookie = registry.wait(desk.desk.sign_in_browser("coordinator", PASSWORD.to_owned(), "test")).unwrap();
        let visit = || registry.wait(desk.desk.browser_caller(&cookie.0, "test"));
        for _ in 0..3 {
            registry.hand.advance(29 * 60);
            visit().unwrap();
        }
        let caller = visit().unwrap();
        assert_eq!(caller.form_token(), visit().unwrap().form_token());
        assert!(caller.form_token().is_some_and(|token| !cookie.0.contains(token)));
        registry.hand.advance(30 * 60);
        refused(visit());
    }

    fn authority_is_read_at_every_request(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        let desk = Desk::new(registry);
        let id = desk.member("coordinator", Role::Coordinator, &[own]);
        let manage = || Permit::<ManageMembers>::for_operator("test");
        let store = &registry.store;

        // Demoted: the old token is of no more use, a new one gives the new rights only.
        let granted = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        let membership = Membership::new(Role::Investigator, [].into()).unwrap();
        store.write_blocking(manage(), move |session| session.change_membership(id, &membership)).unwrap();
        assert!(!is_known(&desk, &granted.access_token));
        refused(refresh(&desk, &granted.refresh_token));
        let caller = desk.caller("coordinator");
        assert!(caller.permit::<SubmitCase>().is_err() && caller.permit::<ReadCase>().is_ok());

        // Moved to another centre.
        let membership = Membership::new(Role::Coordinator, [other].into()).unwrap();
        store.write_blocking(manage(), move |session| session.change_membership(id, &membership)).unwrap();
        let permit = desk.caller("coordinator").permit::<SubmitCase>().unwrap();
        assert!(permit.centres().covers(other) && !permit.centres().covers(own));

        // Disabled.
        let granted = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        store.write_blocking(manage(), move |session| session.disable_member(id)).unwrap();
        assert!(!is_known(&desk, &granted.access_token));
        refused(sign_in(&desk, "coordinator", PASSWORD));
        store.write_blocking(manage(), move |session| session.enable_member(id)).unwrap();
        assert!(!is_known(&desk, &granted.access_token));
        assert!(sign_in(&desk, "coordinator", PASSWORD).is_ok());
    }

    fn signing_out_and_a_new_password_end_sign_ins(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let granted = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        let caller = registry.wait(desk.desk.caller(&granted.access_token, "test")).unwrap();
        registry.wait(desk.desk.sign_out(&caller)).unwrap();
        assert!(!is_known(&desk, &granted.access_token));
        refused(refresh(&desk, &granted.refresh_token));

        let elsewhere = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        let caller = desk.caller("coordinator");
        let password = Password::new("another sentence of my own", "coordinator").unwrap();
        let hash = desk.desk.passwords().hash_blocking(&password).unwrap();
        registry
            .store
            .write_blocking(caller.permit::<KeepOwnAccount>().unwrap(), move |session| session.change_own_password(&hash))
            .unwrap();
        assert!(!is_known(&desk, &elsewhere.access_token));
        refused(sign_in(&desk, "coordinator", PASSWORD));
        assert!(sign_in(&desk, "coordinator", "another sentence of my own").is_ok());
    }

    fn secrets_are_stored_as_hashes_only(registry) {
        let centre = registry.centre("S07");
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        let granted = sign_in(&desk, "coordinator", PASSWORD).unwrap();
        let stored = registry.raw().texts("SELECT token_hash FROM refresh_token");
        assert!(!stored.is_empty() && !stored.contains(&granted.refresh_token));
        let hash = &registry.raw().texts("SELECT password_hash FROM member")[0];
        // The parameters of the OWASP Password Storage Cheat Sheet for Argon2id.
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
    }
}
