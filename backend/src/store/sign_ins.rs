//! Sign-ins and their refresh tokens, which are stored as hashes only.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::{MemberId, SignInId};
use quietbeam_schema::instant::Instant;
use serde_json::json;

use super::connection::MultiBackend;
use super::error::{Broken, StoreError};
use super::members::Row as MemberRow;
use super::session::{Session, Writing, read};
use super::tables::{member, refresh_token, sign_in};
use crate::access::action::{KeepOwnAccount, SignIn};
use crate::access::member::{Member, SignInName};
use crate::access::password::PasswordHash;

/// What a sign-in is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignInKind {
    /// Short-lived access tokens and a refresh token that changes at each use.
    Api,
    /// An opaque cookie.
    Browser,
}

impl SignInKind {
    fn name(self) -> &'static str {
        match self {
            SignInKind::Api => "api",
            SignInKind::Browser => "browser",
        }
    }
}

/// A member as needed to check a password.
pub(crate) struct Credentials {
    pub(crate) member: Member,
    pub(crate) password: PasswordHash,
    auth_epoch: i64,
}

/// A sign-in to be noted.
pub(crate) struct NewSignIn {
    pub(crate) credentials: Credentials,
    pub(crate) kind: SignInKind,
    pub(crate) token_hash: String,
    pub(crate) lasts_seconds: i64,
}

/// A sign-in of the member who asks, as its account page lists it.
pub struct OwnSignIn {
    /// Its identifier.
    pub id: SignInId,
    /// What it is for.
    pub kind: SignInKind,
    /// When it began.
    pub began_at: Instant,
    /// When it was last used, to the minute.
    pub last_used_at: Instant,
}

/// A living sign-in with the member as the database knows it now.
pub(crate) struct LiveSignIn {
    pub(crate) id: SignInId,
    pub(crate) member: Member,
    pub(crate) last_used_at: Instant,
}

/// What came of showing a refresh token.
pub(crate) enum Rotation {
    /// The successor is in force.
    Rotated(LiveSignIn),
    /// Not a token of a living sign-in.
    Unknown,
    /// The token had been used before. The sign-in was ended: it may be stolen.
    Reused,
}

/// How refresh tokens live.
#[derive(Clone, Copy)]
pub(crate) struct RefreshRules {
    /// A sign-in ends when not used for so long.
    pub(crate) idle_seconds: i64,
    /// An answer that got lost may be asked for again within this time.
    pub(crate) grace_seconds: i64,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = sign_in, check_for_backend(MultiBackend))]
struct Row {
    member: String,
    auth_epoch: i64,
    last_used_at: String,
    ends_at: String,
    ended_at: Option<String>,
}

impl<M> Session<'_, SignIn, M> {
    /// The member of that name, disabled or not.
    pub(crate) fn credentials(&mut self, name: &SignInName) -> Result<Option<Credentials>, StoreError> {
        let row: Option<MemberRow> = member::table
            .select(MemberRow::as_select())
            .filter(member::sign_in_name.eq(name.as_str().to_owned()))
            .first(self.connection)
            .optional()?;
        let Some(row) = row else { return Ok(None) };
        let auth_epoch = row.auth_epoch;
        let password = PasswordHash::from_stored(row.password_hash.clone());
        let member = self.read_member(row)?;
        Ok(Some(Credentials { member, password, auth_epoch }))
    }

    /// The sign-in, if it lives: not ended, not over, the member not disabled, and nothing
    /// changed about role, centres or password since.
    pub(crate) fn live_sign_in(
        &mut self,
        id: SignInId,
        kind: SignInKind,
    ) -> Result<Option<LiveSignIn>, StoreError> {
        let row: Option<Row> = sign_in::table
            .select(Row::as_select())
            .filter(sign_in::id.eq(id.to_string()))
            .filter(sign_in::kind.eq(kind.name()))
            .first(self.connection)
            .optional()?;
        let Some(row) = row else { return Ok(None) };
        let ends_at: Instant = read(&row.ends_at, "sign_in", "ends_at")?;
        if row.ended_at.is_some() || self.now() >= ends_at {
            return Ok(None);
        }
        let member_id: MemberId = read(&row.member, "sign_in", "member")?;
        let member_row = self.member_row(member_id)?;
        let same_epoch = member_row.auth_epoch == row.auth_epoch;
        let member = self.read_member(member_row)?;
        if !same_epoch || member.disabled_at.is_some() {
            return Ok(None);
        }
        let last_used_at = read(&row.last_used_at, "sign_in", "last_used_at")?;
        Ok(Some(LiveSignIn { id, member, last_used_at }))
    }

    /// A member who can sign in, for what goes on after the sign-in.
    pub(crate) fn able_member(&mut self, id: MemberId) -> Result<Option<Member>, StoreError> {
        let row = self.member_row(id)?;
        let member = self.read_member(row)?;
        Ok(Some(member).filter(|member| member.disabled_at.is_none()))
    }

    /// The sign-in that a token belongs to, used before or not.
    pub(crate) fn sign_in_of_token(&mut self, token_hash: &str) -> Result<Option<SignInId>, StoreError> {
        let id: Option<String> = refresh_token::table
            .select(refresh_token::sign_in)
            .filter(refresh_token::token_hash.eq(token_hash.to_owned()))
            .first(self.connection)
            .optional()?;
        id.map(|id| read(&id, "refresh_token", "sign_in")).transpose()
    }
}

impl Session<'_, SignIn, Writing> {
    /// Notes a failed sign-in; what was typed is not kept.
    pub(crate) fn note_failed_sign_in(&mut self, member: Option<MemberId>) -> Result<(), StoreError> {
        let who = member.map_or("unknown".to_owned(), |id| id.to_string());
        self.record(Event::new(Deed::SignInFailed, Subject::Member, who))
    }

    /// Begins a sign-in unless the member was changed since the password was checked.
    pub(crate) fn begin_sign_in(&mut self, new: NewSignIn) -> Result<Option<SignInId>, StoreError> {
        let NewSignIn { credentials, kind, token_hash, lasts_seconds } = new;
        let member_id = credentials.member.id;
        let row = self.member_row(member_id)?;
        let unchanged = row.auth_epoch == credentials.auth_epoch;
        if !unchanged || self.read_member(row)?.disabled_at.is_some() {
            return Ok(None);
        }
        let id = self.new_id(SignInId::from_random)?;
        let now = self.now().to_string();
        diesel::insert_into(sign_in::table)
            .values((
                sign_in::id.eq(id.to_string()),
                sign_in::member.eq(member_id.to_string()),
                sign_in::kind.eq(kind.name()),
                sign_in::auth_epoch.eq(credentials.auth_epoch),
                sign_in::began_at.eq(now.clone()),
                sign_in::last_used_at.eq(now),
                sign_in::ends_at.eq(self.now().plus_seconds(lasts_seconds).to_string()),
                sign_in::ended_at.eq(None::<String>),
            ))
            .execute(self.connection)?;
        self.keep_token(id, &token_hash)?;
        self.record(
            Event::new(Deed::SignedIn, Subject::SignIn, id)
                .values(None, Some(json!({ "member": member_id, "kind": kind.name() }))),
        )?;
        Ok(Some(id))
    }

    /// Exchanges a refresh token for its successor. A token shown a second time, later than
    /// a lost answer explains, ends the sign-in: one of the two holders is a thief.
    pub(crate) fn rotate(
        &mut self,
        token_hash: &str,
        successor_hash: &str,
        rules: RefreshRules,
    ) -> Result<Rotation, StoreError> {
        let Some(id) = self.sign_in_of_token(token_hash)? else { return Ok(Rotation::Unknown) };
        let Some(live) = self.live_sign_in(id, SignInKind::Api)? else { return Ok(Rotation::Unknown) };
        if self.now() >= live.last_used_at.plus_seconds(rules.idle_seconds) {
            return Ok(Rotation::Unknown);
        }
        let first_use = diesel::update(refresh_token::table)
            .filter(refresh_token::token_hash.eq(token_hash.to_owned()))
            .filter(refresh_token::rotated_at.is_null())
            .set(refresh_token::rotated_at.eq(Some(self.now().to_string())))
            .execute(self.connection)?;
        if first_use == 1 {
            self.keep_token(id, successor_hash)?;
            self.touch_sign_in(id)?;
            return Ok(Rotation::Rotated(live));
        }
        if self.is_lost_answer(token_hash, successor_hash, rules)? {
            return Ok(Rotation::Rotated(live));
        }
        self.end_sign_in(id, Deed::RefreshReused)?;
        Ok(Rotation::Reused)
    }

    /// Whether the token was exchanged moments ago and its successor was not used yet.
    fn is_lost_answer(
        &mut self,
        token_hash: &str,
        successor_hash: &str,
        rules: RefreshRules,
    ) -> Result<bool, StoreError> {
        let rotated_at = |session: &mut Self, hash: &str| -> Result<Option<Option<String>>, StoreError> {
            Ok(refresh_token::table
                .select(refresh_token::rotated_at)
                .filter(refresh_token::token_hash.eq(hash.to_owned()))
                .first(session.connection)
                .optional()?)
        };
        let Some(Some(used)) = rotated_at(self, token_hash)? else { return Ok(false) };
        let used: Instant = read(&used, "refresh_token", "rotated_at")?;
        let successor_unused = rotated_at(self, successor_hash)? == Some(None);
        Ok(successor_unused && self.now() <= used.plus_seconds(rules.grace_seconds))
    }

    /// Notes that the sign-in is in use.
    pub(crate) fn touch_sign_in(&mut self, id: SignInId) -> Result<(), StoreError> {
        diesel::update(sign_in::table)
            .filter(sign_in::id.eq(id.to_string()))
            .set(sign_in::last_used_at.eq(self.now().to_string()))
            .execute(self.connection)?;
        Ok(())
    }

    fn keep_token(&mut self, id: SignInId, token_hash: &str) -> Result<(), StoreError> {
        diesel::insert_into(refresh_token::table)
            .values((
                refresh_token::token_hash.eq(token_hash.to_owned()),
                refresh_token::sign_in.eq(id.to_string()),
                refresh_token::issued_at.eq(self.now().to_string()),
                refresh_token::rotated_at.eq(None::<String>),
            ))
            .execute(self.connection)?;
        Ok(())
    }

    fn end_sign_in(&mut self, id: SignInId, deed: Deed) -> Result<(), StoreError> {
        diesel::update(sign_in::table)
            .filter(sign_in::id.eq(id.to_string()))
            .set(sign_in::ended_at.eq(Some(self.now().to_string())))
            .execute(self.connection)?;
        self.record(Event::new(deed, Subject::SignIn, id))
    }
}

impl<M> Session<'_, KeepOwnAccount, M> {
    /// The own sign-ins that live and were used since, the newest first.
    pub fn own_sign_ins(&mut self, used_since: Instant) -> Result<Vec<OwnSignIn>, StoreError> {
        let Actor::Member(own) = self.actor() else { return Err(StoreError::Absent("member")) };
        let epoch = self.member_row(own)?.auth_epoch;
        let rows: Vec<(String, String, String, String)> = sign_in::table
            .select((sign_in::id, sign_in::kind, sign_in::began_at, sign_in::last_used_at))
            .filter(sign_in::member.eq(own.to_string()))
            .filter(sign_in::ended_at.is_null())
            .filter(sign_in::auth_epoch.eq(epoch))
            .filter(sign_in::ends_at.gt(self.now().to_string()))
            .filter(sign_in::last_used_at.gt(used_since.to_string()))
            .order((sign_in::began_at.desc(), sign_in::id.desc()))
            .load(self.connection)?;
        let kind =
            |name: &str| [SignInKind::Api, SignInKind::Browser].into_iter().find(|kind| kind.name() == name);
        rows.into_iter()
            .map(|(id, name, began_at, last_used_at)| {
                Ok(OwnSignIn {
                    id: read(&id, "sign_in", "id")?,
                    kind: kind(&name).ok_or(Broken::Unreadable { table: "sign_in", column: "kind" })?,
                    began_at: read(&began_at, "sign_in", "began_at")?,
                    last_used_at: read(&last_used_at, "sign_in", "last_used_at")?,
                })
            })
            .collect()
    }
}

impl Session<'_, KeepOwnAccount, Writing> {
    /// Ends one of the own sign-ins.
    pub fn sign_out(&mut self, id: SignInId) -> Result<(), StoreError> {
        let Actor::Member(own) = self.actor() else { return Err(StoreError::Absent("sign-in")) };
        let ended = diesel::update(sign_in::table)
            .filter(sign_in::id.eq(id.to_string()))
            .filter(sign_in::member.eq(own.to_string()))
            .filter(sign_in::ended_at.is_null())
            .set(sign_in::ended_at.eq(Some(self.now().to_string())))
            .execute(self.connection)?;
        if ended == 0 {
            return Err(StoreError::Absent("sign-in"));
        }
        self.record(Event::new(Deed::SignedOut, Subject::SignIn, id))
    }
}
