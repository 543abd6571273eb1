//! Which version a change was made from. A change made from another version than
//! the present one is refused, so that nobody's change is lost.

use crate::store::sha256_hex;
use serde::Serialize;

/// The mark of one version of one thing: it changes whenever the thing does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Version(String);

impl Version {
    /// The mark of a case's revision.
    pub fn of_revision(revision: i64) -> Self {
        Self(format!("r{revision}"))
    }

    /// The mark of anything that is shown as JSON.
    pub fn of<T: Serialize>(shown: &T) -> Self {
        let bytes = serde_json::to_vec(shown).unwrap_or_default();
        Self(sha256_hex(&bytes)[..20].to_owned())
    }

    /// The mark of bytes whose SHA-256 is known.
    pub fn of_hash(hash: &str) -> Self {
        Self(hash.to_owned())
    }

    /// As a strong ETag (RFC 9110, section 8.8.3).
    pub fn etag(&self) -> String {
        format!("\"{}\"", self.0)
    }
}

/// The versions that a change accepts, as sent in `If-Match`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IfMatch(Vec<String>);

/// The thing was changed since it was read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("It was changed since you read it; read it again and make your change in what stands there now.")]
pub struct Stale;

impl From<Version> for IfMatch {
    fn from(Version(tag): Version) -> Self {
        Self(vec![tag])
    }
}

impl IfMatch {
    /// Reads a list of entity tags. A weak tag can be sent but never matches, and
    /// neither does `*`: whoever changes a record says which version was read.
    pub fn parse(text: &str) -> Option<Self> {
        let mut tags = Vec::new();
        for tag in text.split(',').map(str::trim) {
            let (weak, quoted) = match tag.strip_prefix("W/") {
                Some(rest) => (true, rest),
                None => (false, tag),
            };
            if quoted == "*" && !weak {
                continue;
            }
            let inner = quoted.strip_prefix('"')?.strip_suffix('"')?;
            if inner.is_empty() || !inner.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'"') {
                return None;
            }
            if !weak {
                tags.push(inner.to_owned());
            }
        }
        Some(Self(tags))
    }

    /// Whether the change was made from this version.
    ///
    /// # Errors
    /// When it was made from another.
    pub fn holds(&self, version: &Version) -> Result<(), Stale> {
        if self.0.contains(&version.0) { Ok(()) } else { Err(Stale) }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn only_the_strong_tag_of_the_version_read_holds() {
        let holds = |sent: &str| IfMatch::parse(sent).unwrap().holds(&Version::of_revision(3)).is_ok();
        assert!(holds("\"r3\""));
        assert!(holds("\"r1\", \"r3\""));
        for other in ["\"r2\"", "W/\"r3\"", "*"] {
            assert!(!holds(other), "{other}");
        }
        for broken in ["", "r3", "\"r3", "\"\"", "\"r 3\""] {
            assert_eq!(IfMatch::parse(broken), None, "{broken}");
        }
    }
}
