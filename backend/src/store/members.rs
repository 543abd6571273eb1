//! Members: created, changed, disabled, never deleted, because the trail names them.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::{CentreCode, MemberId};
use serde_json::{Value, json};

use super::connection::MultiBackend;
use super::dialect::lock_members;
use super::error::{Broken, Refused, StoreError, taken};
use super::session::{Session, Writing, read};
use super::tables::{member, member_centre, sign_in};
use crate::access::Action;
use crate::access::action::{
    KeepOwnAccount, ManageCentres, ManageMembers, ReadComparisons, ReadHistory, ReadScreeningLog, SignIn,
};
use crate::access::member::{Member, NewMember};
use crate::access::password::PasswordHash;
use crate::access::preference::Preferences;

/// The permits that read members.
pub trait ReadsMembers: Action {}
impl ReadsMembers for ManageMembers {}
impl ReadsMembers for KeepOwnAccount {}
impl ReadsMembers for SignIn {}

/// The permits of administrators.
pub trait Administers: Action {}
impl Administers for ManageMembers {}
impl Administers for ManageCentres {}

impl<A: Administers> Session<'_, A, Writing> {
    /// Waits for other administrators. What is read from here on stays until this
    /// transaction ends, so that the version that was checked is the one that is changed.
    pub fn alone_among_administrators(&mut self) -> Result<(), StoreError> {
        Ok(lock_members(self.connection)?)
    }
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = member, check_for_backend(MultiBackend))]
pub(super) struct Row {
    pub(super) id: String,
    sign_in_name: String,
    printed_name: String,
    role: String,
    pub(super) password_hash: String,
    pub(super) auth_epoch: i64,
    created_at: String,
    disabled_at: Option<String>,
    theme: String,
    single_keys: String,
}

impl<A: ReadsMembers, M> Session<'_, A, M> {
    pub(super) fn member_row(&mut self, id: MemberId) -> Result<Row, StoreError> {
        let row: Option<Row> = member::table
            .select(Row::as_select())
            .filter(member::id.eq(id.to_string()))
            .first(self.connection)
            .optional()?;
        row.ok_or(StoreError::Absent("member"))
    }

    pub(super) fn read_member(&mut self, row: Row) -> Result<Member, StoreError> {
        let centres: Vec<String> = member_centre::table
            .select(member_centre::centre)
            .filter(member_centre::member.eq(row.id.clone()))
            .load(self.connection)?;
        let centres = centres
            .iter()
            .map(|code| read(code, "member_centre", "centre"))
            .collect::<Result<BTreeSet<CentreCode>, _>>()?;
        to_member(row, centres)
    }
}

/// The permits that read who did or signed something.
pub trait NamesMembers: Action {}
impl NamesMembers for ReadHistory {}
impl NamesMembers for ReadScreeningLog {}
impl NamesMembers for ReadComparisons {}

impl<A: NamesMembers, M> Session<'_, A, M> {
    /// The printed names of those among the actors who are members: whoever may read what
    /// was done may read who did it.
    pub fn printed_names(
        &mut self,
        actors: impl Iterator<Item = Actor>,
    ) -> Result<BTreeMap<MemberId, String>, StoreError> {
        let ids: BTreeSet<MemberId> = actors
            .filter_map(|actor| match actor {
                Actor::Member(id) => Some(id),
                Actor::Operator | Actor::Nobody => None,
            })
            .collect();
        let rows: Vec<(String, String)> = member::table
            .select((member::id, member::printed_name))
            .filter(member::id.eq_any(ids.iter().map(ToString::to_string).collect::<Vec<_>>()))
            .load(self.connection)?;
        rows.into_iter().map(|(id, name)| Ok((read(&id, "member", "id")?, name))).collect()
    }
}

impl<M> Session<'_, ManageMembers, M> {
    /// One member.
    pub fn find_member(&mut self, id: MemberId) -> Result<Member, StoreError> {
        let row = self.member_row(id)?;
        self.read_member(row)
    }

    /// All members in the order they were created.
    pub fn list_members(&mut self) -> Result<Vec<Member>, StoreError> {
        let rows: Vec<Row> = member::table
            .select(Row::as_select())
            .order((member::created_at.asc(), member::id.asc()))
            .load(self.connection)?;
        let pairs: Vec<(String, String)> = member_centre::table
            .select((member_centre::member, member_centre::centre))
            .load(self.connection)?;
        let mut centres: BTreeMap<String, BTreeSet<CentreCode>> = BTreeMap::new();
        for (id, centre) in pairs {
            centres.entry(id).or_default().insert(read(&centre, "member_centre", "centre")?);
        }
        rows.into_iter()
            .map(|row| {
                let centres = centres.remove(&row.id).unwrap_or_default();
                to_member(row, centres)
            })
            .collect()
    }
}

impl Session<'_, ManageMembers, Writing> {
    /// Creates a member.
    pub fn create_member(&mut self, new: NewMember) -> Result<MemberId, StoreError> {
        let id = self.new_id(MemberId::from_random)?;
        diesel::insert_into(member::table)
            .values((
                member::id.eq(id.to_string()),
                member::sign_in_name.eq(new.sign_in_name.as_str().to_owned()),
                member::printed_name.eq(new.printed_name),
                member::role.eq(new.membership.role().name()),
                member::password_hash.eq(new.password.as_str().to_owned()),
                member::auth_epoch.eq(1_i64),
                member::created_at.eq(self.now().to_string()),
                member::disabled_at.eq(None::<String>),
            ))
            .execute(self.connection)
            .map_err(taken("sign_in_name"))?;
        self.join_centres(id, new.membership.centres())?;
        self.record(
            Event::new(Deed::MemberCreated, Subject::Member, id)
                .values(None, Some(membership_json(&new.membership))),
        )?;
        Ok(id)
    }

    /// Creates the first administrator of an empty registry.
    pub fn bootstrap_administrator(&mut self, new: NewMember) -> Result<MemberId, StoreError> {
        lock_members(self.connection)?;
        let members: i64 = member::table.count().get_result(self.connection)?;
        if members > 0 {
            return Err(Refused::MembersExist.into());
        }
        self.create_member(new)
    }

    /// Changes the role or the centres of another member. Its sign-ins end.
    pub fn change_membership(&mut self, id: MemberId, new: &Membership) -> Result<(), StoreError> {
        self.not_oneself(id)?;
        let old = self.find_member(id)?.membership;
        if old.role() == Role::Administrator && new.role() != Role::Administrator {
            self.keep_an_administrator(id)?;
        }
        diesel::update(member::table)
            .filter(member::id.eq(id.to_string()))
            .set((member::role.eq(new.role().name()), member::auth_epoch.eq(member::auth_epoch + 1)))
            .execute(self.connection)?;
        diesel::delete(member_centre::table.filter(member_centre::member.eq(id.to_string())))
            .execute(self.connection)?;
        self.join_centres(id, new.centres())?;
        self.end_sign_ins(id)?;
        self.record(
            Event::new(Deed::MemberChanged, Subject::Member, id)
                .values(Some(membership_json(&old)), Some(membership_json(new))),
        )
    }

    /// Keeps another member from signing in. Its sign-ins end at once.
    pub fn disable_member(&mut self, id: MemberId) -> Result<(), StoreError> {
        self.not_oneself(id)?;
        if self.find_member(id)?.membership.role() == Role::Administrator {
            self.keep_an_administrator(id)?;
        }
        diesel::update(member::table)
            .filter(member::id.eq(id.to_string()))
            .set((
                member::disabled_at.eq(Some(self.now().to_string())),
                member::auth_epoch.eq(member::auth_epoch + 1),
            ))
            .execute(self.connection)?;
        self.end_sign_ins(id)?;
        self.record(Event::new(Deed::MemberDisabled, Subject::Member, id))
    }

    /// Lets a disabled member sign in again.
    pub fn enable_member(&mut self, id: MemberId) -> Result<(), StoreError> {
        self.not_oneself(id)?;
        self.member_row(id)?;
        diesel::update(member::table)
            .filter(member::id.eq(id.to_string()))
            .set(member::disabled_at.eq(None::<String>))
            .execute(self.connection)?;
        self.record(Event::new(Deed::MemberEnabled, Subject::Member, id))
    }

    /// Sets a member's password from the command line. An administrator who could choose the
    /// password of another could act in that person's name.
    pub fn reset_password(&mut self, id: MemberId, password: &PasswordHash) -> Result<(), StoreError> {
        if self.actor() != Actor::Operator {
            return Err(Refused::OnlyOperator.into());
        }
        self.member_row(id)?;
        self.set_password(id, password)
    }

    fn join_centres(&mut self, id: MemberId, centres: &BTreeSet<CentreCode>) -> Result<(), StoreError> {
        use diesel::result::{DatabaseErrorKind, Error};
        for centre in centres {
            diesel::insert_into(member_centre::table)
                .values((
                    member_centre::member.eq(id.to_string()),
                    member_centre::centre.eq(centre.to_string()),
                ))
                .execute(self.connection)
                .map_err(|error| match error {
                    Error::DatabaseError(DatabaseErrorKind::ForeignKeyViolation, _) => {
                        StoreError::Absent("centre")
                    }
                    other => other.into(),
                })?;
        }
        Ok(())
    }

    fn not_oneself(&self, id: MemberId) -> Result<(), StoreError> {
        if self.actor() == Actor::Member(id) { Err(Refused::OwnMembership.into()) } else { Ok(()) }
    }

    fn keep_an_administrator(&mut self, leaving: MemberId) -> Result<(), StoreError> {
        lock_members(self.connection)?;
        let others: i64 = member::table
            .filter(member::role.eq(Role::Administrator.name()))
            .filter(member::disabled_at.is_null())
            .filter(member::id.ne(leaving.to_string()))
            .count()
            .get_result(self.connection)?;
        if others > 0 { Ok(()) } else { Err(Refused::LastAdministrator.into()) }
    }
}

impl<M> Session<'_, KeepOwnAccount, M> {
    /// The member who asks.
    pub fn own_account(&mut self) -> Result<Member, StoreError> {
        let row = self.own_row()?;
        self.read_member(row)
    }

    /// The hash to compare the old password with before a new one is set.
    pub fn own_password(&mut self) -> Result<PasswordHash, StoreError> {
        Ok(PasswordHash::from_stored(self.own_row()?.password_hash))
    }

    fn own_row(&mut self) -> Result<Row, StoreError> {
        let Actor::Member(id) = self.actor() else { return Err(StoreError::Absent("member")) };
        self.member_row(id)
    }
}

impl Session<'_, KeepOwnAccount, Writing> {
    /// Sets the own password. All sign-ins end, the present one too.
    pub fn change_own_password(&mut self, password: &PasswordHash) -> Result<(), StoreError> {
        let Actor::Member(id) = self.actor() else { return Err(StoreError::Absent("member")) };
        self.set_password(id, password)
    }

    /// Notes that the own password was asked for and another was typed, which may be somebody
    /// else at a machine that was left.
    pub fn note_refused_password(&mut self) -> Result<(), StoreError> {
        let Actor::Member(id) = self.actor() else { return Err(StoreError::Absent("member")) };
        self.record(Event::new(Deed::PasswordRefused, Subject::Member, id))
    }

    /// Keeps how the member likes the pages.
    pub fn keep_preferences(&mut self, new: Preferences) -> Result<(), StoreError> {
        let old = self.own_account()?;
        diesel::update(member::table)
            .filter(member::id.eq(old.id.to_string()))
            .set((member::theme.eq(new.theme.name()), member::single_keys.eq(new.single_keys.name())))
            .execute(self.connection)?;
        self.record(
            Event::new(Deed::PreferencesKept, Subject::Member, old.id)
                .values(Some(preferences_json(old.preferences)), Some(preferences_json(new))),
        )
    }
}

impl<A: ReadsMembers> Session<'_, A, Writing> {
    fn set_password(&mut self, id: MemberId, password: &PasswordHash) -> Result<(), StoreError> {
        diesel::update(member::table)
            .filter(member::id.eq(id.to_string()))
            .set((
                member::password_hash.eq(password.as_str().to_owned()),
                member::auth_epoch.eq(member::auth_epoch + 1),
            ))
            .execute(self.connection)?;
        self.end_sign_ins(id)?;
        self.record(Event::new(Deed::PasswordChanged, Subject::Member, id))
    }

    fn end_sign_ins(&mut self, id: MemberId) -> Result<(), StoreError> {
        diesel::update(sign_in::table)
            .filter(sign_in::member.eq(id.to_string()))
            .filter(sign_in::ended_at.is_null())
            .set(sign_in::ended_at.eq(Some(self.now().to_string())))
            .execute(self.connection)?;
        Ok(())
    }
}

fn to_member(row: Row, centres: BTreeSet<CentreCode>) -> Result<Member, StoreError> {
    const TABLE: &str = "member";
    let role = read(&row.role, TABLE, "role")?;
    let membership =
        Membership::new(role, centres).map_err(|_| Broken::Unreadable { table: TABLE, column: "role" })?;
    Ok(Member {
        id: read(&row.id, TABLE, "id")?,
        sign_in_name: read(&row.sign_in_name, TABLE, "sign_in_name")?,
        printed_name: row.printed_name,
        membership,
        created_at: read(&row.created_at, TABLE, "created_at")?,
        disabled_at: row.disabled_at.map(|at| read(&at, TABLE, "disabled_at")).transpose()?,
        preferences: Preferences {
            theme: read(&row.theme, TABLE, "theme")?,
            single_keys: read(&row.single_keys, TABLE, "single_keys")?,
        },
    })
}

fn preferences_json(preferences: Preferences) -> Value {
    json!({ "theme": preferences.theme.name(), "single_keys": preferences.single_keys.name() })
}

fn membership_json(membership: &Membership) -> Value {
    json!({ "role": membership.role(), "centres": membership.centres() })
}
