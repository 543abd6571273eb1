//! Signing in, staying signed in, signing out, and finding out who asks.

use std::sync::Arc;

use quietbeam_schema::audit::Actor;
use quietbeam_schema::ids::SignInId;

use super::action::{KeepOwnAccount, Policed};
use super::member::{Member, SignInName};
use super::password::{HashingFailed, Password, Passwords};
use super::permit::{Authority, NotAllowed, Permit};
use super::token::{IssueError, LIFETIME_SECONDS, Named, TokenRefused, Tokens};
use crate::clock::{Clock, NoRandomness, Randomness};
use crate::store::{
    Credentials, LiveSignIn, NewSignIn, OwnSignIn, RefreshRules, Rotation, SignInKind, Store, StoreError,
    hex, sha256_hex,
};

const IDLE_SECONDS: i64 = 30 * 60;
const LONGEST_SECONDS: i64 = 12 * 60 * 60;
const RULES: RefreshRules = RefreshRules { idle_seconds: IDLE_SECONDS, grace_seconds: 10 };
/// A browser's sign-in is marked as used at most this often, so that reading a page does
/// not write each time.
const TOUCH_SECONDS: i64 = 60;

/// Where people sign in.
#[derive(Clone)]
pub struct SignInDesk {
    store: Store,
    clock: Clock,
    randomness: Randomness,
    passwords: Passwords,
    tokens: Arc<Tokens>,
}

/// What a program gets at sign-in and at each refresh. No `Debug`: these are secrets.
pub struct Granted {
    /// To be sent with each request.
    pub access_token: String,
    /// Seconds until it expires.
    pub expires_in: i64,
    /// To be exchanged once for the next two tokens.
    pub refresh_token: String,
}

/// What a browser gets at sign-in: the value of its cookie. No `Debug`.
pub struct Cookie(pub String);

/// Why nobody is signed in.
#[derive(Debug, thiserror::Error)]
pub enum SignInError {
    /// Wrong name, wrong password, disabled, expired, signed out: one answer for all.
    #[error("sign-in name or password is wrong, or the sign-in is over; sign in again")]
    Refused,
    /// The registry is broken or too busy.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Hashing failed.
    #[error(transparent)]
    Hashing(#[from] HashingFailed),
    /// A token could not be issued.
    #[error(transparent)]
    Issue(#[from] IssueError),
}

impl From<NoRandomness> for SignInError {
    fn from(error: NoRandomness) -> Self {
        IssueError::from(error).into()
    }
}

impl From<TokenRefused> for SignInError {
    fn from(refused: TokenRefused) -> Self {
        tracing::debug!(%refused, "access token refused");
        SignInError::Refused
    }
}

/// Why a password was not changed.
#[derive(Debug, thiserror::Error)]
pub enum PasswordChangeError {
    /// The present password was typed wrong.
    #[error("This is not your present password.")]
    NotThePresentOne,
    /// Something broke.
    #[error(transparent)]
    SignIn(#[from] SignInError),
}

struct Typed<'t> {
    name: &'t str,
    password: String,
}

/// Somebody whose sign-in and authority were read from the database for this very request.
pub struct Caller {
    authority: Authority,
    member: Member,
    sign_in: SignInId,
    request_id: String,
    form_token: Option<String>,
}

impl Caller {
    /// The member.
    pub fn member(&self) -> &Member {
        &self.member
    }

    /// As written in the audit trail.
    pub fn actor(&self) -> Actor {
        Actor::Member(self.member.id)
    }

    /// The sign-in, to be ended by signing out.
    pub fn sign_in(&self) -> SignInId {
        self.sign_in
    }

    /// The right to do `A`, if the policy gives it to the member's role.
    pub fn permit<A: Policed>(&self) -> Result<Permit<A>, NotAllowed> {
        Permit::for_member(&self.authority, &self.request_id)
    }

    /// The value that forms of this browser's sign-in must carry; programs have none.
    pub fn form_token(&self) -> Option<&str> {
        self.form_token.as_deref()
    }

    fn new(live: LiveSignIn, request_id: &str, form_token: Option<String>) -> Self {
        let LiveSignIn { id, member, .. } = live;
        let authority = Authority {
            member: member.id,
            role: member.membership.role(),
            centres: member.membership.centres().clone(),
        };
        Self { authority, member, sign_in: id, request_id: request_id.to_owned(), form_token }
    }
}

impl SignInDesk {
    /// A desk over the store.
    pub fn new(
        store: Store,
        clock: Clock,
        randomness: Randomness,
        tokens: Tokens,
    ) -> Result<Self, HashingFailed> {
        let passwords = Passwords::new(randomness.clone())?;
        Ok(Self { store, clock, randomness, passwords, tokens: Arc::new(tokens) })
    }

    /// Hashes and compares passwords.
    pub fn passwords(&self) -> &Passwords {
        &self.passwords
    }

    /// Signs a program in.
    pub async fn sign_in(
        &self,
        name: &str,
        password: String,
        request_id: &str,
    ) -> Result<Granted, SignInError> {
        let refresh_token = self.secret()?;
        let (member, sign_in) =
            self.begin(Typed { name, password }, SignInKind::Api, &refresh_token, request_id).await?;
        self.grant(Named { member: member.id, sign_in }, refresh_token)
    }

    /// Signs a browser in.
    pub async fn sign_in_browser(
        &self,
        name: &str,
        password: String,
        request_id: &str,
    ) -> Result<Cookie, SignInError> {
        let cookie = self.secret()?;
        self.begin(Typed { name, password }, SignInKind::Browser, &cookie, request_id).await?;
        Ok(Cookie(cookie))
    }

    /// Asks somebody who is signed in for the password again, because something is signed.
    /// A wrong one is noted like a failed sign-in.
    pub async fn confirm(&self, caller: &Caller, password: String) -> Result<(), SignInError> {
        let (member, request_id) = (caller.member(), caller.request_id.as_str());
        let password = Password::typed(password).map_err(|_| SignInError::Refused)?;
        let found = self.find(member.sign_in_name.as_str(), request_id).await?;
        let stored = found.filter(|found| found.member.disabled_at.is_none()).map(|found| found.password);
        if self.passwords.matches(password, stored).await? {
            return Ok(());
        }
        let (permit, id) = (Permit::to_sign_in(request_id), member.id);
        let noted = self.store.write(permit, move |session| session.note_failed_sign_in(Some(id))).await;
        noted.map_err(SignInError::Store)?;
        Err(SignInError::Refused)
    }

    /// Exchanges a refresh token.
    pub async fn refresh(&self, refresh_token: &str, request_id: &str) -> Result<Granted, SignInError> {
        let successor = self.tokens.successor(refresh_token)?;
        let (old, new) = (sha256_hex(refresh_token.as_bytes()), sha256_hex(successor.as_bytes()));
        let permit = Permit::to_sign_in(request_id);
        let rotation = self.store.write(permit, move |session| session.rotate(&old, &new, RULES)).await;
        match rotation.map_err(SignInError::Store)? {
            Rotation::Rotated(live) => {
                self.grant(Named { member: live.member.id, sign_in: live.id }, successor)
            }
            Rotation::Unknown | Rotation::Reused => Err(SignInError::Refused),
        }
    }

    /// Who sends this access token.
    pub async fn caller(&self, access_token: &str, request_id: &str) -> Result<Caller, SignInError> {
        let named = self.tokens.check(access_token, self.clock.now())?;
        let live = self
            .store
            .read(Permit::to_sign_in(request_id), move |session| {
                session.live_sign_in(named.sign_in, SignInKind::Api)
            })
            .await
            .map_err(SignInError::Store)?
            .filter(|live| live.member.id == named.member)
            .ok_or(SignInError::Refused)?;
        Ok(Caller::new(live, request_id, None))
    }

    /// Whose browser sends this cookie.
    pub async fn browser_caller(&self, cookie: &str, request_id: &str) -> Result<Caller, SignInError> {
        let token_hash = sha256_hex(cookie.as_bytes());
        let live = self
            .store
            .read(Permit::to_sign_in(request_id), move |session| {
                match session.sign_in_of_token(&token_hash)? {
                    Some(id) => session.live_sign_in(id, SignInKind::Browser),
                    None => Ok::<_, StoreError>(None),
                }
            })
            .await
            .map_err(SignInError::Store)?
            .ok_or(SignInError::Refused)?;
        let (now, last_used) = (self.clock.now(), live.last_used_at);
        if now >= last_used.plus_seconds(IDLE_SECONDS) {
            return Err(SignInError::Refused);
        }
        if now >= last_used.plus_seconds(TOUCH_SECONDS) {
            let id = live.id;
            let permit = Permit::to_sign_in(request_id);
            self.store
                .write(permit, move |session| session.touch_sign_in(id))
                .await
                .map_err(SignInError::Store)?;
        }
        let form_token = sha256_hex(format!("form of {cookie}").as_bytes());
        Ok(Caller::new(live, request_id, Some(form_token)))
    }

    /// Ends the caller's sign-in.
    pub async fn sign_out(&self, caller: &Caller) -> Result<(), SignInError> {
        let permit = caller.permit::<KeepOwnAccount>().map_err(|_| SignInError::Refused)?;
        let id = caller.sign_in;
        self.store.write(permit, move |session| session.sign_out(id)).await.map_err(SignInError::Store)
    }

    /// The caller's sign-ins that still live.
    pub async fn sign_ins(&self, caller: &Caller) -> Result<Vec<OwnSignIn>, SignInError> {
        let permit = caller.permit::<KeepOwnAccount>().map_err(|_| SignInError::Refused)?;
        let used_since = self.clock.now().plus_seconds(-IDLE_SECONDS);
        let own = self.store.read(permit, move |session| session.own_sign_ins(used_since)).await;
        own.map_err(SignInError::Store)
    }

    /// Changes the caller's password, if the present one was typed right. A wrong one is
    /// noted: it may be somebody else at a machine that was left. All sign-ins end.
    pub async fn change_password(
        &self,
        caller: &Caller,
        present: String,
        new: Password,
    ) -> Result<(), PasswordChangeError> {
        let permit = || caller.permit::<KeepOwnAccount>().map_err(|_| SignInError::Refused);
        let stored = self.store.read(permit()?, |session| session.own_password()).await;
        let stored = stored.map_err(SignInError::Store)?;
        let matches = match Password::typed(present) {
            Ok(present) => self.passwords.matches(present, Some(stored)).await.map_err(SignInError::from)?,
            Err(_) => false,
        };
        if !matches {
            let noted = self.store.write(permit()?, |session| session.note_refused_password()).await;
            noted.map_err(SignInError::Store)?;
            return Err(PasswordChangeError::NotThePresentOne);
        }
        let hash = self.passwords.hash(new).await.map_err(SignInError::from)?;
        let changed = self.store.write(permit()?, move |session| session.change_own_password(&hash)).await;
        Ok(changed.map_err(SignInError::Store)?)
    }

    async fn begin(
        &self,
        typed: Typed<'_>,
        kind: SignInKind,
        token: &str,
        request_id: &str,
    ) -> Result<(Member, SignInId), SignInError> {
        let password = Password::typed(typed.password).map_err(|_| SignInError::Refused)?;
        let found = self.find(typed.name, request_id).await?;
        let stored = found.as_ref().map(|found| found.password.clone());
        let matches = self.passwords.matches(password, stored).await?;
        let member_id = found.as_ref().map(|found| found.member.id);
        let able = found.filter(|found| matches && found.member.disabled_at.is_none());
        let Some(credentials) = able else {
            let permit = Permit::to_sign_in(request_id);
            let noted = self.store.write(permit, move |session| session.note_failed_sign_in(member_id)).await;
            noted.map_err(SignInError::Store)?;
            return Err(SignInError::Refused);
        };
        let member = credentials.member.clone();
        let token_hash = sha256_hex(token.as_bytes());
        let new = NewSignIn { credentials, kind, token_hash, lasts_seconds: LONGEST_SECONDS };
        let permit = Permit::to_sign_in(request_id);
        let begun = self.store.write(permit, move |session| session.begin_sign_in(new)).await;
        let sign_in = begun.map_err(SignInError::Store)?.ok_or(SignInError::Refused)?;
        Ok((member, sign_in))
    }

    async fn find(&self, name: &str, request_id: &str) -> Result<Option<Credentials>, SignInError> {
        // A name that cannot exist takes the same way as one that does not.
        let name: SignInName = match name.parse() {
            Ok(name) => name,
            Err(_) => return Ok(None),
        };
        let permit = Permit::to_sign_in(request_id);
        let found = self.store.read(permit, move |session| session.credentials(&name)).await;
        found.map_err(SignInError::Store)
    }

    fn grant(&self, named: Named, refresh_token: String) -> Result<Granted, SignInError> {
        let access_token = self.tokens.issue(named, self.clock.now(), &self.randomness)?;
        Ok(Granted { access_token, expires_in: LIFETIME_SECONDS, refresh_token })
    }

    /// 256 random bits as text.
    fn secret(&self) -> Result<String, SignInError> {
        Ok(hex(&self.randomness.bytes::<32>()?))
    }
}
