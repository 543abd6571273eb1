//! A person who can sign in.

use std::str::FromStr;

use quietbeam_schema::access::Membership;
use quietbeam_schema::ids::MemberId;
use quietbeam_schema::instant::Instant;

use super::preference::Preferences;

/// The name a member signs in with. It may be an address of a person, so it is neither
/// shown in errors nor written to a log: no `Debug`, no `Serialize`.
#[derive(Clone, PartialEq, Eq)]
pub struct SignInName(String);

/// Why a text is no sign-in name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SignInNameError {
    /// Too short or too long.
    #[error("sign_in_name: use 3 to 64 characters")]
    Length,
    /// A character other than letters, digits and `. _ - @ +`.
    #[error("sign_in_name: use only letters a to z, digits and . _ - @ +")]
    Character,
}

impl SignInName {
    /// The name in lower case.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl FromStr for SignInName {
    type Err = SignInNameError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let name = text.trim().to_ascii_lowercase();
        if !(3..=64).contains(&name.chars().count()) {
            return Err(SignInNameError::Length);
        }
        let known = |byte: u8| byte.is_ascii_alphanumeric() || b"._-@+".contains(&byte);
        if !name.bytes().all(known) {
            return Err(SignInNameError::Character);
        }
        Ok(Self(name))
    }
}

/// A member as the registry knows it.
#[derive(Clone)]
pub struct Member {
    /// Its identifier.
    pub id: MemberId,
    /// The name to sign in with.
    pub sign_in_name: SignInName,
    /// The name as printed beside what the member signs.
    pub printed_name: String,
    /// Role and centres.
    pub membership: Membership,
    /// When it was created.
    pub created_at: Instant,
    /// Since when it cannot sign in.
    pub disabled_at: Option<Instant>,
    /// How it likes the pages.
    pub preferences: Preferences,
}

/// A member to be created.
pub struct NewMember {
    /// The name to sign in with.
    pub sign_in_name: SignInName,
    /// The name as printed.
    pub printed_name: String,
    /// Role and centres.
    pub membership: Membership,
    /// The hash of the password.
    pub password: super::password::PasswordHash,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn names_are_folded_and_bounded() {
        assert!("Lead.S07".parse::<SignInName>().unwrap().as_str() == "lead.s07");
        for (text, expected) in [
            ("", SignInNameError::Length),
            ("ab", SignInNameError::Length),
            ("x y z", SignInNameError::Character),
            ("名前の人", SignInNameError::Character),
        ] {
            assert_eq!(text.parse::<SignInName>().err(), Some(expected), "{text}");
        }
        assert_eq!("x".repeat(65).parse::<SignInName>().err(), Some(SignInNameError::Length));
    }
}
