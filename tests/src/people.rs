//! Members who sign in for a test.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use quietbeam::access::action::ManageMembers;
use quietbeam::access::member::NewMember;
use quietbeam::access::password::{Password, PasswordHash};
use quietbeam::access::session::{Caller, SignInDesk};
use quietbeam::access::token::{KeyRing, Tokens};
use quietbeam::access::{Permit, Policed};
use quietbeam::clock::Randomness;
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::ids::{CentreCode, MemberId};

use crate::registry::Registry;

/// The password of every test member.
pub const PASSWORD: &str = "quiet rooms need no heavy aprons";

/// The password of everyone in the demo, as the demo prints it.
pub const DEMO_PASSWORD: &str = "seven lanterns over a quiet field";

/// A registry with its sign-in desk.
pub struct Desk<'r> {
    /// The registry.
    pub registry: &'r Registry,
    /// Where people sign in.
    pub desk: SignInDesk,
}

impl<'r> Desk<'r> {
    /// A desk with a new key.
    pub fn new(registry: &'r Registry) -> Self {
        Self::with_keys(registry, KeyRing::generate(&Randomness::system()).expect("random bytes"))
    }

    /// A desk that signs with a known key.
    pub fn with_keys(registry: &'r Registry, keys: KeyRing) -> Self {
        let randomness = Randomness::system();
        let tokens =
            Tokens::new(keys, "https://registry.test".to_owned(), "https://registry.test".to_owned());
        let desk = SignInDesk::new(registry.store.clone(), registry.clock.clone(), randomness, tokens)
            .expect("a desk");
        Self { registry, desk }
    }

    /// Creates a member.
    pub fn member(&self, name: &str, role: Role, centres: &[CentreCode]) -> MemberId {
        let centres: BTreeSet<CentreCode> = centres.iter().copied().collect();
        let password = Password::new(PASSWORD, name).expect("a good password");
        let new = NewMember {
            sign_in_name: name.parse().expect("a sign-in name"),
            printed_name: name.to_uppercase(),
            membership: Membership::new(role, centres).expect("a membership"),
            password: self.hash(&password),
        };
        let permit = Permit::<ManageMembers>::for_operator("test");
        self.registry
            .store
            .write_blocking(permit, move |session| session.create_member(new))
            .expect("a member")
    }

    /// All test members have the same password; hashing it is slow on purpose.
    fn hash(&self, password: &Password) -> PasswordHash {
        static HASH: OnceLock<PasswordHash> = OnceLock::new();
        HASH.get_or_init(|| self.desk.passwords().hash_blocking(password).expect("a hash")).clone()
    }

    /// Signs a member in and comes back as a caller.
    pub fn caller(&self, name: &str) -> Caller {
        let desk = &self.desk;
        self.registry.wait(async {
            let granted = desk.sign_in(name, PASSWORD.to_owned(), "test").await.expect("a sign-in");
            desk.caller(&granted.access_token, "test").await.expect("a caller")
        })
    }

    /// Creates a member and comes back with its permit.
    pub fn permit<A: Policed>(&self, name: &str, role: Role, centres: &[CentreCode]) -> Permit<A> {
        self.member(name, role, centres);
        self.caller(name).permit().expect("a permit")
    }
}
