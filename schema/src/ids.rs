//! One newtype for each identifier, so that none can stand in for another.
//!
//! A code never comes from a person: [`CaseCode`] is built from random bytes that
//! the caller hands in, and everything that looks like a hospital number is refused.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// The letters of a case code: no vowel but A, and nothing that looks like a neighbour
/// (0/O, 1/I/L, U/V). Their number is prime, which the check character relies on.
const ALPHABET: &[u8; 29] = b"23456789ABCDFGHJKMNPQRSTVWXYZ";
const MODULUS: u32 = 29;
const CASE_CODE_LENGTH: usize = 10;

/// The random code of one case: nine random characters and a check character.
///
/// With weights 10, 9, … 1 on the positions, a valid code sums to 0 modulo 29. Since 29 is
/// prime and the weights differ, every single wrong character and every swap of two
/// characters is caught.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct CaseCode([u8; CASE_CODE_LENGTH]);

/// Why a text is no case code. The sentences go on after the name of the field.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CaseCodeError {
    /// Only digits: most likely a hospital number, which must never be stored.
    #[error(
        "looks like a hospital number; use the case code that the registry issued and keep the hospital number at your centre"
    )]
    LooksLikeHospitalNumber,
    /// Not ten characters long.
    #[error("has {found} characters where a case code has 10; copy it again from your list")]
    WrongLength {
        /// How many characters were found.
        found: usize,
    },
    /// A character that no case code contains.
    #[error("has a character, number {position}, that no case code contains; copy it again from your list")]
    WrongLetter {
        /// Counted from 1.
        position: usize,
    },
    /// The check character does not fit the other nine.
    #[error("contains a typing error; compare it with your list")]
    WrongCheckCharacter,
}

impl CaseCode {
    /// Builds a code from 16 random bytes. Codes without any letter are skipped, so that
    /// "only digits" can always be read as "a hospital number".
    #[must_use]
    pub fn from_random(bytes: [u8; 16]) -> Self {
        let mut number = u128::from_be_bytes(bytes);
        loop {
            let code = Self::from_number(number);
            if code.0.iter().any(u8::is_ascii_alphabetic) {
                return code;
            }
            number = number.wrapping_add(1);
        }
    }

    fn from_number(mut number: u128) -> Self {
        let mut places = [0_usize; CASE_CODE_LENGTH];
        for place in places.iter_mut().take(CASE_CODE_LENGTH - 1).rev() {
            *place = (number % u128::from(MODULUS)) as usize;
            number /= u128::from(MODULUS);
        }
        let rest = weighted_sum(&places) % MODULUS;
        places[CASE_CODE_LENGTH - 1] = ((MODULUS - rest) % MODULUS) as usize;
        Self(places.map(|place| ALPHABET[place]))
    }

    /// The code as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        // Only bytes of the alphabet are ever stored.
        std::str::from_utf8(&self.0).unwrap_or_default()
    }
}

fn weighted_sum(places: &[usize; CASE_CODE_LENGTH]) -> u32 {
    places.iter().zip((1..=10_u32).rev()).map(|(place, weight)| *place as u32 * weight).sum()
}

impl FromStr for CaseCode {
    type Err = CaseCodeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        if text.len() >= 4 && text.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(CaseCodeError::LooksLikeHospitalNumber);
        }
        let found = text.chars().count();
        if found != CASE_CODE_LENGTH {
            return Err(CaseCodeError::WrongLength { found });
        }
        let mut places = [0_usize; CASE_CODE_LENGTH];
        for (index, letter) in text.chars().enumerate() {
            let letter = letter.to_ascii_uppercase();
            places[index] = ALPHABET
                .iter()
                .position(|known| char::from(*known) == letter)
                .ok_or(CaseCodeError::WrongLetter { position: index + 1 })?;
        }
        if !weighted_sum(&places).is_multiple_of(MODULUS) {
            return Err(CaseCodeError::WrongCheckCharacter);
        }
        Ok(Self(places.map(|place| ALPHABET[place])))
    }
}

/// The code of a centre: `S` and two digits, handed out at random so that it tells neither
/// the region nor the order of joining.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct CentreCode(u8);

/// Why a text is no centre code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a centre code is the letter S and two digits, such as S07")]
pub struct CentreCodeError;

impl CentreCode {
    /// Builds a centre code from one random byte; the caller asks again when it is taken.
    #[must_use]
    pub fn from_random(byte: u8) -> Self {
        Self(byte % 100)
    }

    /// The number in it, below 100; codes stand in its order.
    #[must_use]
    pub fn number(self) -> u8 {
        self.0
    }
}

impl FromStr for CentreCode {
    type Err = CentreCodeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text.trim().as_bytes() {
            [b'S' | b's', tens @ b'0'..=b'9', units @ b'0'..=b'9'] => {
                Ok(Self((tens - b'0') * 10 + (units - b'0')))
            }
            _ => Err(CentreCodeError),
        }
    }
}

impl fmt::Display for CentreCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "S{:02}", self.0)
    }
}

impl fmt::Display for CaseCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// The code of a room within its centre: `R1` to `R99`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct RoomCode(u8);

/// Why a text is no room code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a room code is the letter R and a number from 1 to 99, such as R1")]
pub struct RoomCodeError;

impl FromStr for RoomCode {
    type Err = RoomCodeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let digits = text.trim().strip_prefix(['R', 'r']).ok_or(RoomCodeError)?;
        if digits.starts_with('0') || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(RoomCodeError);
        }
        digits.parse().ok().filter(|number| (1..=99).contains(number)).map(Self).ok_or(RoomCodeError)
    }
}

impl fmt::Display for RoomCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "R{}", self.0)
    }
}

/// The running number of a published safety summary, counted from 1 without gaps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct SummaryNumber(pub i64);

impl fmt::Display for SummaryNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// Why a text is no identifier of the registry.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("this is not an identifier that the registry issued")]
pub struct IdError;

/// Lays out the 128 bits as RFC 9562 section 5.7 says: milliseconds, version 7, random.
fn version_7(unix_milliseconds: i64, random: [u8; 10]) -> [u8; 16] {
    let mut bytes = [0_u8; 16];
    bytes[..6].copy_from_slice(&unix_milliseconds.to_be_bytes()[2..]);
    bytes[6..].copy_from_slice(&random);
    bytes[6] = (bytes[6] & 0x0f) | 0x70;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    bytes
}

fn write_hyphenated(bytes: &[u8; 16], f: &mut fmt::Formatter<'_>) -> fmt::Result {
    for (index, byte) in bytes.iter().enumerate() {
        if matches!(index, 4 | 6 | 8 | 10) {
            f.write_str("-")?;
        }
        write!(f, "{byte:02x}")?;
    }
    Ok(())
}

fn read_hyphenated(text: &str) -> Result<[u8; 16], IdError> {
    if text.len() != 36 || !text.is_ascii() {
        return Err(IdError);
    }
    let mut digits = [0_u8; 32];
    let mut filled = 0;
    for (index, byte) in text.bytes().enumerate() {
        match (matches!(index, 8 | 13 | 18 | 23), byte) {
            (true, b'-') => {}
            // Only the lower-case spelling: one identifier has one text.
            (false, b'0'..=b'9' | b'a'..=b'f') => {
                digits[filled] = if byte <= b'9' { byte - b'0' } else { byte - b'a' + 10 };
                filled += 1;
            }
            _ => return Err(IdError),
        }
    }
    let mut bytes = [0_u8; 16];
    for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
        *byte = pair[0] << 4 | pair[1];
    }
    Ok(bytes)
}

macro_rules! time_ordered_id {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name([u8; 16]);

        impl $name {
            /// Builds a version 7 identifier from the time and random bytes handed in.
            #[must_use]
            pub fn from_random(unix_milliseconds: i64, random: [u8; 10]) -> Self {
                Self(version_7(unix_milliseconds, random))
            }
        }

        impl FromStr for $name {
            type Err = IdError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                read_hyphenated(text).map(Self)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write_hyphenated(&self.0, f)
            }
        }

        text_form!($name, IdError);
    )+};
}

macro_rules! text_form {
    ($name:ident, $error:ty) => {
        impl TryFrom<String> for $name {
            type Error = $error;
            fn try_from(text: String) -> Result<Self, Self::Error> {
                text.parse()
            }
        }

        impl From<$name> for String {
            fn from(value: $name) -> String {
                value.to_string()
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(self, f)
            }
        }
    };
}

text_form!(CaseCode, CaseCodeError);
text_form!(CentreCode, CentreCodeError);
text_form!(RoomCode, RoomCodeError);

time_ordered_id! {
    /// A person who can sign in.
    MemberId,
    /// One sign-in of a member, from the password to the sign-out.
    SignInId,
    /// A question about one case.
    DataQueryId,
    /// A case that is being entered.
    DraftId,
    /// The receipt of one import.
    ImportId,
    /// A version of an analysis plan.
    PlanId,
    /// An approval of a centre.
    ApprovalId,
    /// Files that are being looked through or stored.
    ImportJobId,
    /// A frozen point in the chain of revisions.
    DataCutId,
    /// One computed comparison.
    ComparisonId,
    /// A safety summary from its first draft on.
    SummaryId,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use proptest::prelude::*;

    use super::*;

    #[test]
    fn says_precisely_what_is_wrong_with_a_case_code() {
        let good = CaseCode::from_random([7; 16]);
        let check = |text: &str, expected: CaseCodeError| {
            assert_eq!(text.parse::<CaseCode>().unwrap_err(), expected, "{text}");
        };
        check("0012345678", CaseCodeError::LooksLikeHospitalNumber);
        check("4711", CaseCodeError::LooksLikeHospitalNumber);
        check("", CaseCodeError::WrongLength { found: 0 });
        check(&good.as_str()[..9], CaseCodeError::WrongLength { found: 9 });
        check(&format!("{}0", &good.as_str()[..9]), CaseCodeError::WrongLetter { position: 10 });
        check("ABCDÉFGHJK", CaseCodeError::WrongLetter { position: 5 });
        assert_eq!(format!(" {} ", good.as_str().to_lowercase()).parse(), Ok(good));
    }

    #[test]
    fn never_issues_a_code_without_a_letter() {
        // All places zero would be the code 2222222222.
        let code = CaseCode::from_random([0; 16]);
        assert!(code.as_str().bytes().any(|byte| byte.is_ascii_alphabetic()), "{code}");
        assert_eq!(code.as_str().parse(), Ok(code));
    }

    #[test]
    fn reads_centre_and_room_codes_strictly() {
        assert_eq!("S07".parse::<CentreCode>().unwrap().to_string(), "S07");
        for wrong in ["", "S7", "S007", "T07", "S0x", "07"] {
            assert!(wrong.parse::<CentreCode>().is_err(), "{wrong}");
        }
        assert_eq!("R12".parse::<RoomCode>().unwrap().to_string(), "R12");
        for wrong in ["R0", "R01", "R100", "R", "12", "R+1"] {
            assert!(wrong.parse::<RoomCode>().is_err(), "{wrong}");
        }
    }

    /// The example of RFC 9562 appendix A.6: time 0x017F22E279B0, rand_a 0xCC3,
    /// rand_b 0b01 followed by 0x8C4DC0C0C07398F.
    #[test]
    fn lays_out_version_7_as_the_standard_does() {
        let id = MemberId::from_random(
            0x017F_22E2_79B0,
            [0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F],
        );
        assert_eq!(id.to_string(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
        assert_eq!(id.to_string().parse(), Ok(id));
        assert!(id.to_string().to_uppercase().parse::<MemberId>().is_err());
    }

    proptest! {
        #[test]
        fn every_code_reads_back(bytes: [u8; 16]) {
            let code = CaseCode::from_random(bytes);
            prop_assert_eq!(code.as_str().parse(), Ok(code));
        }

        #[test]
        fn every_single_substitution_is_caught(bytes: [u8; 16], at in 0..10_usize, letter in 0..29_usize) {
            let code = CaseCode::from_random(bytes);
            let mut wrong = code.as_str().as_bytes().to_vec();
            prop_assume!(wrong[at] != ALPHABET[letter]);
            wrong[at] = ALPHABET[letter];
            prop_assert!(String::from_utf8(wrong).unwrap().parse::<CaseCode>().is_err());
        }

        #[test]
        fn every_swap_is_caught(bytes: [u8; 16], one in 0..10_usize, other in 0..10_usize) {
            let code = CaseCode::from_random(bytes);
            let mut wrong = code.as_str().as_bytes().to_vec();
            prop_assume!(wrong[one] != wrong[other]);
            wrong.swap(one, other);
            prop_assert!(String::from_utf8(wrong).unwrap().parse::<CaseCode>().is_err());
        }
    }
}
