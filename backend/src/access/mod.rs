//! Who may do what: sign-in, sessions, permits.

pub mod action;
pub mod deputy;
pub mod member;
pub mod password;
pub mod permit;
pub mod preference;
pub mod session;
pub mod token;

pub use action::{Action, Policed};
pub use permit::{CentreScope, Permit};
