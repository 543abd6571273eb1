//! The invented people of the demo. They sign in as real ones do.

use super::super::Failure;
use super::super::member;
use super::super::registry::{Registry, wait};
use crate::access::member::NewMember;
use crate::access::password::{Password, Passwords};
use crate::access::session::Caller;
use crate::demo::Network;
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::ids::CentreCode;
use std::collections::{BTreeMap, BTreeSet};

/// The password of everyone in the demo, known to everyone.
pub(super) const PASSWORD: &str = "seven lanterns over a quiet field";

/// A sign-in that is worth trying.
pub(super) struct Shown {
    pub(super) sign_in: &'static str,
    pub(super) says: &'static str,
}

pub(super) const SHOWN: [Shown; 6] = [
    Shown { sign_in: "coordinator.s01", says: "coordinator of S01: sends cases, answers queries" },
    Shown { sign_in: "lead.s01", says: "centre lead of S01: signs the screening log" },
    Shown { sign_in: INVESTIGATOR.0, says: "investigator: data cuts and comparisons" },
    Shown { sign_in: JUDGES[0].0, says: "adjudicator: judges events without knowing the arm" },
    Shown { sign_in: COMPOSER.0, says: "society: composes safety summaries" },
    Shown { sign_in: ADMINISTRATOR.0, says: "administrator: centres and members, no clinical values" },
];

/// Sign-in name, printed name and role of those who belong to no centre.
type Central = (&'static str, &'static str, Role);
const ADMINISTRATOR: Central = ("admin", "Demo Administrator", Role::Administrator);
const INVESTIGATOR: Central = ("investigator", "Demo Investigator", Role::Investigator);
const COMPOSER: Central = ("society", "Demo Society Author", Role::Society);
const MONITOR: Central = ("monitor", "Demo Monitor", Role::Monitor);
const PUBLISHER: Central = ("society.publisher", "Demo Society Publisher", Role::Society);

const JUDGES: [Central; 3] = [
    ("judge.one", "Demo Judge One", Role::Adjudicator),
    ("judge.two", "Demo Judge Two", Role::Adjudicator),
    ("judge.three", "Demo Judge Three", Role::Adjudicator),
];

/// Everyone, signed in.
pub(super) struct Staff {
    pub(super) investigator: Caller,
    pub(super) composer: Caller,
    pub(super) monitor: Caller,
    pub(super) publisher: Caller,
    pub(super) judges: Vec<Caller>,
    /// Coordinator and lead of each centre.
    pub(super) centres: BTreeMap<CentreCode, (Caller, Caller)>,
}

/// Creates the people of the centres that are open, and signs everyone in.
pub(super) fn employ(registry: &Registry, network: &Network) -> Result<Staff, Failure> {
    let broken = |error: &dyn std::fmt::Display| Failure::Broken(error.to_string());
    let password = Password::new(PASSWORD, "").map_err(|error| broken(&error))?;
    let hashed = Passwords::new(registry.randomness.clone())
        .and_then(|passwords| passwords.hash_blocking(&password))
        .map_err(|error| broken(&error))?;
    let add = |sign_in: &str, name: &str, role: Role, centre: Option<CentreCode>| {
        let membership = Membership::new(role, centre.into_iter().collect::<BTreeSet<_>>())
            .map_err(|error| broken(&error))?;
        let sign_in_name = sign_in.parse().map_err(|error| broken(&error))?;
        let new =
            NewMember { sign_in_name, printed_name: name.to_owned(), membership, password: hashed.clone() };
        member::add(registry, new).map(|_| ())
    };
    let central = [ADMINISTRATOR, INVESTIGATOR, COMPOSER, MONITOR, PUBLISHER];
    for (sign_in, name, role) in central.into_iter().chain(JUDGES) {
        add(sign_in, name, role, None)?;
    }
    for centre in &network.centres {
        let code = centre.centre.code;
        add(&coordinator(code), &format!("Demo Coordinator {code}"), Role::Coordinator, Some(code))?;
        add(&lead(code), &format!("Demo Lead {code}"), Role::CentreLead, Some(code))?;
    }
    sign_everyone_in(registry, network.centres.iter().map(|centre| centre.centre.code))
}

/// Signs in those who look at the results of an earlier run.
pub(super) fn return_to_work(registry: &Registry) -> Result<Staff, Failure> {
    sign_everyone_in(registry, std::iter::empty())
}

fn sign_everyone_in(
    registry: &Registry,
    centres: impl Iterator<Item = CentreCode>,
) -> Result<Staff, Failure> {
    let desk = registry.desk()?;
    wait(async {
        let enter = async |name: &str| {
            let granted = desk.sign_in(name, PASSWORD.to_owned(), "demo").await?;
            Ok::<_, Failure>(desk.caller(&granted.access_token, "demo").await?)
        };
        let mut staff = Staff {
            investigator: enter(INVESTIGATOR.0).await?,
            composer: enter(COMPOSER.0).await?,
            monitor: enter(MONITOR.0).await?,
            publisher: enter(PUBLISHER.0).await?,
            judges: Vec::new(),
            centres: BTreeMap::new(),
        };
        for (name, ..) in JUDGES {
            staff.judges.push(enter(name).await?);
        }
        for code in centres {
            staff.centres.insert(code, (enter(&coordinator(code)).await?, enter(&lead(code)).await?));
        }
        Ok(staff)
    })
}

fn coordinator(centre: CentreCode) -> String {
    format!("coordinator.{centre}").to_ascii_lowercase()
}

fn lead(centre: CentreCode) -> String {
    format!("lead.{centre}").to_ascii_lowercase()
}
