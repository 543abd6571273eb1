//! Access tokens: who asks, for ten minutes at most. What the member may do is not in
//! them; it is read from the database at each request.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use quietbeam_schema::ids::{MemberId, SignInId};
use quietbeam_schema::instant::Instant;
use serde::{Deserialize, Serialize};

use crate::clock::{NoRandomness, Randomness};
use crate::store::sha256_hex;

/// How long an access token lives.
pub const LIFETIME_SECONDS: i64 = 600;
/// How far two clocks may differ.
const LEEWAY_SECONDS: i64 = 5;
const ALGORITHM: Algorithm = Algorithm::HS256;
const TYPE: &str = "at+jwt";
const LONGEST_TOKEN: usize = 2048;
const KEY_BYTES: usize = 32;

/// Why a token was refused. For the log; outside there is one answer for all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TokenRefused {
    /// Not a token at all.
    #[error("malformed token")]
    Malformed,
    /// Another algorithm, type or key, or a header that we never write.
    #[error("foreign token header")]
    Header,
    /// Signed by somebody else, or changed.
    #[error("wrong signature")]
    Signature,
    /// A claim is missing, of another kind, or unknown.
    #[error("claims are not ours")]
    Claims,
    /// Meant for somebody else.
    #[error("wrong issuer or audience")]
    Audience,
    /// Too old, too young or too long-lived.
    #[error("outside its lifetime")]
    Lifetime,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Claims {
    iss: String,
    aud: String,
    sub: MemberId,
    sid: SignInId,
    jti: String,
    iat: u64,
    nbf: u64,
    exp: u64,
}

/// Whom a token names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Named {
    /// The member.
    pub member: MemberId,
    /// The sign-in.
    pub sign_in: SignInId,
}

struct Key {
    id: String,
    encoding: EncodingKey,
    decoding: DecodingKey,
}

/// Issues and checks tokens with a fixed ring of keys: the first signs, all verify.
pub struct Tokens {
    signing: Key,
    former: Vec<Key>,
    issuer: String,
    audience: String,
}

impl Tokens {
    /// Takes the keys from the key file.
    pub fn new(keys: KeyRing, issuer: String, audience: String) -> Self {
        let KeyRing { signing, former } = keys;
        let former = former.into_iter().map(Key::new).collect();
        Self { signing: Key::new(signing), former, issuer, audience }
    }

    /// A token for a member's sign-in.
    pub fn issue(&self, named: Named, now: Instant, randomness: &Randomness) -> Result<String, IssueError> {
        let seconds = u64::try_from(now.unix_seconds()).unwrap_or(0);
        let claims = Claims {
            iss: self.issuer.clone(),
            aud: self.audience.clone(),
            sub: named.member,
            sid: named.sign_in,
            jti: crate::store::hex(&randomness.bytes::<16>()?),
            iat: seconds,
            nbf: seconds,
            exp: seconds + LIFETIME_SECONDS.unsigned_abs(),
        };
        jsonwebtoken::encode(&self.signing.header(), &claims, &self.signing.encoding)
            .map_err(|_| IssueError::Signing)
    }

    /// Whom the token names, if it is one of ours and in force.
    pub fn check(&self, token: &str, now: Instant) -> Result<Named, TokenRefused> {
        if token.len() > LONGEST_TOKEN {
            return Err(TokenRefused::Malformed);
        }
        let header = jsonwebtoken::decode_header(token).map_err(|_| TokenRefused::Malformed)?;
        // The whole header must be one that we would write: no other algorithm or type, no
        // key or address of a key inside the token, nothing declared critical.
        let key = std::iter::once(&self.signing)
            .chain(&self.former)
            .find(|key| key.header() == header)
            .ok_or(TokenRefused::Header)?;
        let claims = self.verified(token, key)?;
        if claims.iss != self.issuer || claims.aud != self.audience {
            return Err(TokenRefused::Audience);
        }
        let seconds = |value: u64| i64::try_from(value).map_err(|_| TokenRefused::Lifetime);
        let (from, until) = (seconds(claims.nbf)?, seconds(claims.exp)?);
        let now = now.unix_seconds();
        let in_force = from <= now + LEEWAY_SECONDS && now <= until + LEEWAY_SECONDS;
        if !in_force || seconds(claims.iat)? > from || until - from > LIFETIME_SECONDS {
            return Err(TokenRefused::Lifetime);
        }
        Ok(Named { member: claims.sub, sign_in: claims.sid })
    }

    /// Signature and shape. The library's own checks of claims read the wall clock and skip
    /// what is missing, so they are switched off: our claims are all required by their type
    /// and compared above.
    fn verified(&self, token: &str, key: &Key) -> Result<Claims, TokenRefused> {
        let mut validation = Validation::new(ALGORITHM);
        validation.required_spec_claims.clear();
        validation.validate_exp = false;
        validation.validate_nbf = false;
        validation.validate_aud = false;
        jsonwebtoken::decode::<Claims>(token, &key.decoding, &validation)
            .map(|decoded| decoded.claims)
            .map_err(|error| match error.kind() {
                jsonwebtoken::errors::ErrorKind::InvalidSignature => TokenRefused::Signature,
                _ => TokenRefused::Claims,
            })
    }

    /// The successor of a refresh token. It is computed rather than drawn, so that an answer
    /// that got lost can be given again without keeping the token itself.
    pub(super) fn successor(&self, refresh_token: &str) -> Result<String, IssueError> {
        let message = format!("refresh token after {refresh_token}");
        jsonwebtoken::crypto::sign(message.as_bytes(), &self.signing.encoding, ALGORITHM)
            .map_err(|_| IssueError::Signing)
    }
}

/// A token could not be issued.
#[derive(Debug, thiserror::Error)]
pub enum IssueError {
    /// Signing failed.
    #[error("the token could not be signed")]
    Signing,
    /// No random bytes.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
}

impl Key {
    fn new(bytes: [u8; KEY_BYTES]) -> Self {
        Self {
            id: sha256_hex(&bytes)[..16].to_owned(),
            encoding: EncodingKey::from_secret(&bytes),
            decoding: DecodingKey::from_secret(&bytes),
        }
    }

    fn header(&self) -> Header {
        let mut header = Header::new(ALGORITHM);
        header.typ = Some(TYPE.to_owned());
        header.kid = Some(self.id.clone());
        header
    }
}

/// The keys of a key file: the first line signs, former keys below it still verify.
pub struct KeyRing {
    signing: [u8; KEY_BYTES],
    former: Vec<[u8; KEY_BYTES]>,
}

/// What is wrong with a key file.
#[derive(Debug, thiserror::Error)]
pub enum KeyError {
    /// It cannot be read or created.
    #[error("key file {path}: {error}")]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        error: io::Error,
    },
    /// Others can read it.
    #[error("key file {path} can be read by others; run chmod 600 on it")]
    Open {
        /// The file.
        path: PathBuf,
    },
    /// Not 64 hexadecimal digits, or a key that anybody would try first.
    #[error(
        "key file {path}: each line must be 64 hexadecimal digits of random bytes; delete the file to have a new one made"
    )]
    Weak {
        /// The file.
        path: PathBuf,
    },
    /// No random bytes.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
}

impl KeyRing {
    /// A ring of one new key.
    pub fn generate(randomness: &Randomness) -> Result<Self, NoRandomness> {
        Ok(Self { signing: randomness.bytes()?, former: Vec::new() })
    }

    /// Reads the key file, or makes one that only its owner can read.
    pub fn load_or_create(path: &Path, randomness: &Randomness) -> Result<Self, KeyError> {
        let failed = |error| KeyError::File { path: path.to_owned(), error };
        let created = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
        match created {
            Ok(mut file) => {
                let ring = Self::generate(randomness)?;
                writeln!(file, "{}", crate::store::hex(&ring.signing)).map_err(failed)?;
                file.sync_all().map_err(failed)?;
                Ok(ring)
            }
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Self::load(path),
            Err(error) => Err(failed(error)),
        }
    }

    fn load(path: &Path) -> Result<Self, KeyError> {
        let failed = |error| KeyError::File { path: path.to_owned(), error };
        if fs::metadata(path).map_err(failed)?.mode() & 0o077 != 0 {
            return Err(KeyError::Open { path: path.to_owned() });
        }
        let weak = || KeyError::Weak { path: path.to_owned() };
        let text = fs::read_to_string(path).map_err(failed)?;
        let mut keys = text.lines().map(read_key).collect::<Option<Vec<_>>>().ok_or_else(weak)?.into_iter();
        let signing = keys.next().ok_or_else(weak)?;
        Ok(Self { signing, former: keys.collect() })
    }
}

fn read_key(line: &str) -> Option<[u8; KEY_BYTES]> {
    let line = line.trim();
    if line.len() != 2 * KEY_BYTES || !line.is_ascii() {
        return None;
    }
    let mut key = [0; KEY_BYTES];
    for (index, byte) in key.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&line[2 * index..2 * index + 2], 16).ok()?;
    }
    let mut different = key.to_vec();
    different.sort_unstable();
    different.dedup();
    // 32 random bytes have fewer than 8 different values practically never.
    (different.len() >= 8).then_some(key)
}
