//! Passwords: Argon2id, and nothing that could print one.

use std::sync::Arc;

use argon2::password_hash::phc::PasswordHash as PhcString;
use argon2::password_hash::{CustomizedPasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};
use tokio::sync::Semaphore;

use crate::clock::{NoRandomness, Randomness};

// The parameters of the OWASP Password Storage Cheat Sheet: 19 MiB, two passes, one lane.
const MEMORY_KIB: u32 = 19_456;
const PASSES: u32 = 2;
const LANES: u32 = 1;
/// How many hashes run at once: each takes a core for tens of milliseconds and 19 MiB.
const AT_ONCE: usize = 2;
const SHORTEST: usize = 15;
const LONGEST_BYTES: usize = 256;

/// A password as typed. No `Debug`, no `Serialize`.
pub struct Password(String);

/// Why a text cannot be a password.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PasswordError {
    /// Fewer than 15 characters.
    #[error("password: use at least {SHORTEST} characters; a sentence of your own is easy to remember")]
    TooShort,
    /// More than 256 bytes.
    #[error("password: use at most {LONGEST_BYTES} bytes")]
    TooLong,
    /// The sign-in name, or one character again and again.
    #[error("password: this is too easy to guess; use a sentence of your own")]
    TooSimple,
}

impl Password {
    /// A new password, held to the rules.
    pub fn new(text: &str, sign_in_name: &str) -> Result<Self, PasswordError> {
        if text.chars().count() < SHORTEST {
            return Err(PasswordError::TooShort);
        }
        if text.len() > LONGEST_BYTES {
            return Err(PasswordError::TooLong);
        }
        let mut letters: Vec<char> = text.to_lowercase().chars().collect();
        letters.sort_unstable();
        letters.dedup();
        let names_owner =
            !sign_in_name.is_empty() && text.to_lowercase().contains(&sign_in_name.to_lowercase());
        if letters.len() < 5 || names_owner {
            return Err(PasswordError::TooSimple);
        }
        Ok(Self(text.to_owned()))
    }

    /// A password typed at sign-in: whatever it is, it is compared, unless it is so long that
    /// it can only be an attack.
    pub fn typed(text: String) -> Result<Self, PasswordError> {
        if text.len() > LONGEST_BYTES { Err(PasswordError::TooLong) } else { Ok(Self(text)) }
    }
}

/// The hash of a password as a PHC string. No `Debug`.
#[derive(Clone)]
pub struct PasswordHash(String);

impl PasswordHash {
    /// As stored.
    pub fn from_stored(text: String) -> Self {
        Self(text)
    }

    /// To be stored.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Hashes and compares passwords away from the threads that serve requests.
#[derive(Clone)]
pub struct Passwords {
    turn: Arc<Semaphore>,
    randomness: Randomness,
    /// Compared with when there is no such member, so that the answer takes as long.
    decoy: PasswordHash,
}

/// Hashing failed.
#[derive(Debug, thiserror::Error)]
#[error("the password could not be hashed")]
pub struct HashingFailed;

impl From<NoRandomness> for HashingFailed {
    fn from(_: NoRandomness) -> Self {
        HashingFailed
    }
}

impl Passwords {
    /// Prepares the decoy, which takes one hash.
    pub fn new(randomness: Randomness) -> Result<Self, HashingFailed> {
        let unguessable = randomness.bytes::<32>()?;
        let decoy = hash(&unguessable, &randomness)?;
        Ok(Self { turn: Arc::new(Semaphore::new(AT_ONCE)), randomness, decoy })
    }

    /// Hashes a new password.
    pub async fn hash(&self, password: Password) -> Result<PasswordHash, HashingFailed> {
        let randomness = self.randomness.clone();
        self.in_turn(move || hash(password.0.as_bytes(), &randomness)).await?
    }

    /// [`Passwords::hash`] for the command line.
    pub fn hash_blocking(&self, password: &Password) -> Result<PasswordHash, HashingFailed> {
        hash(password.0.as_bytes(), &self.randomness)
    }

    /// Whether the password is the one. Without a hash the same work is done and the answer
    /// is no.
    pub async fn matches(
        &self,
        password: Password,
        stored: Option<PasswordHash>,
    ) -> Result<bool, HashingFailed> {
        let known = stored.is_some();
        let stored = stored.unwrap_or_else(|| self.decoy.clone());
        let same = self.in_turn(move || verify(password.0.as_bytes(), &stored)).await?;
        Ok(known && same)
    }

    async fn in_turn<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, HashingFailed> {
        let turn = Arc::clone(&self.turn).acquire_owned().await.map_err(|_| HashingFailed)?;
        let work = move || {
            let outcome = work();
            drop(turn);
            outcome
        };
        tokio::task::spawn_blocking(work).await.map_err(|_| HashingFailed)
    }
}

fn hasher() -> Result<Argon2<'static>, HashingFailed> {
    let params = Params::new(MEMORY_KIB, PASSES, LANES, None).map_err(|_| HashingFailed)?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

fn hash(password: &[u8], randomness: &Randomness) -> Result<PasswordHash, HashingFailed> {
    let salt = randomness.bytes::<16>()?;
    let params = Params::new(MEMORY_KIB, PASSES, LANES, None).map_err(|_| HashingFailed)?;
    let hash = hasher()?.hash_password_with_params(password, &salt, params).map_err(|_| HashingFailed)?;
    Ok(PasswordHash(hash.to_string()))
}

fn verify(password: &[u8], stored: &PasswordHash) -> bool {
    let Ok(stored) = PhcString::new(&stored.0) else { return false };
    hasher().is_ok_and(|hasher| hasher.verify_password(password, &stored).is_ok())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;

    const GOOD: &str = "quiet rooms need no heavy aprons";

    #[test]
    fn long_and_not_obvious_is_all_that_is_asked() {
        let refused = |text: &str| Password::new(text, "lead.s07").err();
        assert_eq!(refused(&GOOD[..14]), Some(PasswordError::TooShort));
        assert_eq!(refused(&GOOD[..15]), None);
        assert_eq!(refused(""), Some(PasswordError::TooShort));
        assert_eq!(refused(&format!("{}{GOOD}", "é".repeat(112))), None);
        assert_eq!(refused(&format!("{}{GOOD}x", "é".repeat(112))), Some(PasswordError::TooLong));
        assert_eq!(refused("aaaaaaaaaaaaaaaaaaaa"), Some(PasswordError::TooSimple));
        assert_eq!(refused("121212121212121212"), Some(PasswordError::TooSimple));
        assert_eq!(refused("the Lead.S07 pass phrase"), Some(PasswordError::TooSimple));
        // Any script, spaces and signs count.
        assert_eq!(refused("静かな部屋には重いエプロンはいらない"), None);
        assert_eq!(refused("🫀 ⚡ 🚪 🔇 🩻 🌊 🪑 🕯 🧵 🍃"), None);
    }

    #[test]
    fn the_same_password_has_another_hash_each_time() {
        let randomness = Randomness::seeded(1);
        let (one, other) =
            (hash(GOOD.as_bytes(), &randomness).unwrap(), hash(GOOD.as_bytes(), &randomness).unwrap());
        assert_ne!(one.as_str(), other.as_str());
        assert!(verify(GOOD.as_bytes(), &one) && verify(GOOD.as_bytes(), &other));
        assert!(!verify(&GOOD.as_bytes()[1..], &one));
    }

    #[test]
    fn what_is_no_hash_matches_nothing() {
        for stored in ["", "plain", GOOD, "$argon2id$v=19$m=19456,t=2,p=1$c2FsdHNhbHQ"] {
            assert!(!verify(GOOD.as_bytes(), &PasswordHash::from_stored(stored.to_owned())), "{stored}");
        }
    }

    /// Whoever is unknown costs as much as whoever is known, so nobody can tell by the time.
    #[test]
    fn the_decoy_is_a_hash_of_the_same_cost_and_matches_nothing() {
        let passwords = Passwords::new(Randomness::seeded(1)).unwrap();
        let cost = |hash: &PasswordHash| hash.as_str().rsplitn(3, '$').last().map(str::to_owned);
        let real = passwords.hash_blocking(&Password::new(GOOD, "").unwrap()).unwrap();
        assert_eq!(cost(&passwords.decoy), cost(&real));
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        let matches = |text: &str, stored| {
            runtime.block_on(passwords.matches(Password::typed(text.to_owned()).unwrap(), stored)).unwrap()
        };
        assert!(matches(GOOD, Some(real.clone())));
        assert!(!matches(GOOD, None));
        assert!(!matches("", None));
        assert!(!matches("another sentence", Some(real)));
    }
}
