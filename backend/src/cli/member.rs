//! `quietbeam member`: the first administrator, and what an operator must be
//! able to mend when nobody can sign in.

use super::Failure;
use super::registry::{Common, Registry, new_password};
use crate::access::Permit;
use crate::access::action::ManageMembers;
use crate::access::member::NewMember;
use crate::access::password::{Password, PasswordHash, Passwords};
use crate::registry::members::Shown;
use clap::{Args, Subcommand};
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::ids::CentreCode;
use std::io::Write;
use std::path::PathBuf;

/// Add a member, list the members, or give one a new password. The first
/// member must be an administrator.
///
/// Example: quietbeam member add --role administrator --sign-in first.admin --name "First Administrator"
#[derive(Args)]
pub(super) struct MemberArgs {
    #[command(subcommand)]
    step: Step,
}

#[derive(Subcommand)]
enum Step {
    /// Add a member. The password is asked for, or read from a file.
    Add {
        /// coordinator, centre_lead, monitor, adjudicator, investigator, society or administrator.
        #[arg(long)]
        role: Role,
        /// The name to sign in with.
        #[arg(long = "sign-in", value_name = "SIGN_IN_NAME")]
        sign_in: String,
        /// The name as printed beside what the member signs.
        #[arg(long)]
        name: String,
        /// A centre the member belongs to; may be given again.
        #[arg(long)]
        centre: Vec<CentreCode>,
        /// File that holds the password.
        #[arg(long, value_name = "FILE")]
        password_file: Option<PathBuf>,
        #[command(flatten)]
        common: Common,
    },
    /// List the members.
    List {
        #[command(flatten)]
        common: Common,
    },
    /// Give a member a new password; every sign-in of the member ends.
    Password {
        /// The name the member signs in with.
        #[arg(long = "sign-in", value_name = "SIGN_IN_NAME")]
        sign_in: String,
        /// File that holds the new password.
        #[arg(long, value_name = "FILE")]
        password_file: Option<PathBuf>,
        #[command(flatten)]
        common: Common,
    },
}

pub(super) fn run(args: MemberArgs, out: &mut dyn Write) -> Result<(), Failure> {
    match args.step {
        Step::Add { role, sign_in, name, centre, password_file, common } => {
            let refused = |error: &dyn std::fmt::Display| Failure::Refused(error.to_string());
            let membership =
                Membership::new(role, centre.into_iter().collect()).map_err(|error| refused(&error))?;
            let sign_in_name = sign_in.parse().map_err(|error| refused(&error))?;
            let password = new_password(password_file.as_deref(), &sign_in)?;
            let registry = Registry::open(&common.options)?;
            let password = hash(&registry, &password)?;
            let added = add(&registry, NewMember { sign_in_name, printed_name: name, membership, password })?;
            print(&[added], common.json, out)
        }
        Step::List { common } => {
            let registry = Registry::open(&common.options)?;
            print(&all(&registry)?, common.json, out)
        }
        Step::Password { sign_in, password_file, common } => {
            let password = new_password(password_file.as_deref(), &sign_in)?;
            let registry = Registry::open(&common.options)?;
            let hash = hash(&registry, &password)?;
            let name = sign_in.to_ascii_lowercase();
            let found = all(&registry)?.into_iter().find(|member| member.sign_in_name == name);
            let Some(member) = found else {
                return Err(Failure::Refused("there is no such member".to_owned()));
            };
            let id = member.id;
            registry.store.write_blocking(operator(), move |session| session.reset_password(id, &hash))?;
            print(&[member], common.json, out)
        }
    }
}

fn operator() -> Permit<ManageMembers> {
    Permit::for_operator("members from the command line")
}

fn hash(registry: &Registry, password: &Password) -> Result<PasswordHash, Failure> {
    let broken = |error: crate::access::password::HashingFailed| Failure::Broken(error.to_string());
    Passwords::new(registry.randomness.clone()).map_err(broken)?.hash_blocking(password).map_err(broken)
}

/// Adds a member; the first must be an administrator, or nobody could ever
/// manage the others.
pub(super) fn add(registry: &Registry, new: NewMember) -> Result<Shown, Failure> {
    let first = all(registry)?.is_empty();
    if first && new.membership.role() != Role::Administrator {
        return Err(Failure::Refused("the first member must be an administrator".to_owned()));
    }
    let member = registry.store.write_blocking(operator(), move |session| {
        let id = if first { session.bootstrap_administrator(new)? } else { session.create_member(new)? };
        session.find_member(id)
    })?;
    Ok(member.into())
}

fn all(registry: &Registry) -> Result<Vec<Shown>, Failure> {
    let members = registry.store.read_blocking(operator(), |session| session.list_members())?;
    Ok(members.into_iter().map(Shown::from).collect())
}

fn print(members: &[Shown], json: bool, out: &mut dyn Write) -> Result<(), Failure> {
    if json {
        serde_json::to_writer_pretty(&mut *out, &members)?;
        return Ok(writeln!(out)?);
    }
    for member in members {
        let centres: Vec<String> = member.centres.iter().map(ToString::to_string).collect();
        let state = if member.enabled { "" } else { "  disabled" };
        writeln!(
            out,
            "{}  {}  {}  {}{state}",
            member.sign_in_name,
            member.printed_name,
            member.role,
            centres.join(" ")
        )?;
    }
    Ok(())
}
