//! The kinds of value a field can hold, each with its reading and its writing.

use crate::vocabulary::CodeList;
use thiserror::Error;
use validator::{ValidateLength, ValidateRange};

#[cfg(test)]
mod tests;

/// What a variable's values look like; drives the import header, the API
/// document, the codebook and the entry form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// One code of a closed list.
    Code(&'static CodeList),
    /// Several codes of a closed list, separated by `;` in files.
    Codes(&'static CodeList),
    /// A whole number between two hard limits, inclusive.
    Whole {
        /// Smallest value accepted.
        min: i64,
        /// Largest value accepted.
        max: i64,
    },
    /// A decimal number between two hard limits, inclusive.
    Decimal {
        /// Smallest value accepted.
        min: f64,
        /// Largest value accepted.
        max: f64,
    },
    /// A number with its unit, in two columns; limits are in the canonical unit.
    Quantity(&'static crate::quantity::Dimension),
    /// A quarter of a year, such as `2025Q3`.
    Quarter,
    /// A case code issued by the registry.
    CaseCode,
    /// A code of the centre's own operators, `O` and two digits.
    OperatorCode,
    /// A code of the centre's own X-ray rooms, `R` and a number.
    RoomCode,
    /// Short free text, screened for anything that could name a person.
    Text {
        /// Longest text accepted, in characters.
        max_chars: usize,
    },
}

/// What is wrong with one value, with the mend in the sentence.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ValueProblem {
    /// The code is not in the list.
    #[error("is not a code of this list; use one of: {}", .0.codes_joined())]
    NotInList(&'static CodeList),
    /// The same code stands twice.
    #[error("names {0} twice; name each code once")]
    NamedTwice(&'static str),
    /// A code that excludes the others stands beside them.
    #[error("has {0} beside other codes; give {0} alone or leave it out")]
    NotAlone(&'static str),
    /// Not a whole number.
    #[error("is not a whole number; write digits only, such as 42")]
    NotWhole,
    /// Not a number.
    #[error("is not a number; write it with digits and a point, such as 27.4")]
    NotNumber,
    /// A comma with two readings.
    #[error(
        "has a comma that could separate decimals or thousands; write decimals with a point and thousands without any mark"
    )]
    UnclearComma,
    /// Outside the hard limits.
    #[error("is {value}, outside {min} to {max}; check the number and its unit")]
    OutOfRange {
        /// The value as read.
        value: String,
        /// Smallest value accepted.
        min: String,
        /// Largest value accepted.
        max: String,
    },
    /// Not a quarter.
    #[error("is not a quarter of a year; write the year and the quarter, such as 2025Q3, never a full date")]
    NotQuarter,
    /// A quarter before the registry's first.
    #[error("is before 2010Q1, the first quarter this registry accepts")]
    QuarterTooEarly,
    /// A calendar date where none may stand.
    #[error("is a full date; give the quarter, or days and minutes from the procedure")]
    FullDate,
    /// The unit is not one of the quantity's.
    #[error("has a unit that this quantity does not take; use one of: {0}")]
    NotUnit(String),
    /// Dose per area instead of dose times area.
    #[error("is given per area; kerma-area product is kerma times area, in a unit such as Gy.cm2")]
    PerArea,
    /// Effective or equivalent dose where kerma is asked.
    #[error(
        "is given in a unit of effective or equivalent dose; kerma is read from the console in mGy or Gy"
    )]
    NotKerma,
    /// A case code that this registry cannot have issued.
    #[error("{0}")]
    CaseCode(#[from] crate::ids::CaseCodeError),
    /// Not an operator code.
    #[error("is not an operator code; write O and two digits, such as O07")]
    NotOperator,
    /// Not a room code.
    #[error("is not a room code; write R and a number from 1 to 99, such as R1")]
    NotRoom,
    /// Text that could name a person.
    #[error("{0}")]
    Identifying(#[from] crate::screen::Identifying),
    /// Text longer than the field takes.
    #[error("has {length} characters; {max} at the most")]
    TooLong {
        /// Characters found.
        length: usize,
        /// Characters accepted.
        max: usize,
    },
}

/// A value that one field can hold.
pub trait FieldValue: Sized {
    /// What its values look like.
    const KIND: Kind;

    /// Reads the value as typed, spaces around it ignored.
    ///
    /// # Errors
    /// What is wrong, with the mend.
    fn parse(text: &str) -> Result<Self, ValueProblem>;

    /// The value as written in files and JSON; `parse(text())` gives it back.
    fn text(&self) -> String;
}

/// A whole number that cannot lie outside `MIN..=MAX`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Whole<const MIN: i64, const MAX: i64>(i64);

impl<const MIN: i64, const MAX: i64> Whole<MIN, MAX> {
    /// The number.
    pub fn get(self) -> i64 {
        self.0
    }
}

impl<const MIN: i64, const MAX: i64> FieldValue for Whole<MIN, MAX> {
    const KIND: Kind = Kind::Whole { min: MIN, max: MAX };

    fn parse(text: &str) -> Result<Self, ValueProblem> {
        let number: i64 = text.trim().parse().map_err(|_| ValueProblem::NotWhole)?;
        if number.validate_range(Some(MIN), Some(MAX), None, None) {
            Ok(Self(number))
        } else {
            Err(ValueProblem::OutOfRange {
                value: number.to_string(),
                min: MIN.to_string(),
                max: MAX.to_string(),
            })
        }
    }

    fn text(&self) -> String {
        self.0.to_string()
    }
}

/// A decimal number that cannot lie outside `MIN..=MAX` thousandths.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Decimal<const MIN: i64, const MAX: i64>(f64);

impl<const MIN: i64, const MAX: i64> Decimal<MIN, MAX> {
    /// The number.
    pub fn get(self) -> f64 {
        self.0
    }
}

impl<const MIN: i64, const MAX: i64> FieldValue for Decimal<MIN, MAX> {
    const KIND: Kind = Kind::Decimal { min: MIN as f64 / 1000.0, max: MAX as f64 / 1000.0 };

    fn parse(text: &str) -> Result<Self, ValueProblem> {
        let number = parse_number(text)?;
        let (min, max) = (MIN as f64 / 1000.0, MAX as f64 / 1000.0);
        if number.validate_range(Some(min), Some(max), None, None) {
            Ok(Self(number))
        } else {
            Err(ValueProblem::OutOfRange {
                value: number.to_string(),
                min: min.to_string(),
                max: max.to_string(),
            })
        }
    }

    fn text(&self) -> String {
        self.0.to_string()
    }
}

/// Reads a finite number written with digits, a sign, one point or decimal comma and an
/// exponent. A comma that might group thousands is refused: 1,234 mGy read wrongly is a
/// thousandfold dose.
pub(crate) fn parse_number(text: &str) -> Result<f64, ValueProblem> {
    let text = &decimal_point(text.trim())?;
    // Rust also reads "inf" and "nan", which no person means as a measurement.
    let plain = text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e' | 'E'));
    match text.parse::<f64>() {
        Ok(number) if plain && number.is_finite() => Ok(number),
        _ => Err(ValueProblem::NotNumber),
    }
}

/// A number with a decimal comma, written with a point; any text without a comma as it is.
///
/// # Errors
/// A comma that could group thousands, or that is no part of a number.
pub fn decimal_point(text: &str) -> Result<String, ValueProblem> {
    let Some((whole, decimals)) = text.split_once(',') else { return Ok(text.to_owned()) };
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let unsigned = whole.trim_start_matches(['-', '+']);
    if !digits(unsigned) || !digits(decimals) {
        let only_digits = text.bytes().all(|byte| byte.is_ascii_digit() || b",.+-".contains(&byte));
        return Err(if only_digits { ValueProblem::UnclearComma } else { ValueProblem::NotNumber });
    }
    // Thousands come in threes and never after a leading zero.
    let may_be_thousands = decimals.len() == 3 && unsigned.len() <= 3 && !unsigned.starts_with('0');
    if may_be_thousands { Err(ValueProblem::UnclearComma) } else { Ok(format!("{whole}.{decimals}")) }
}

/// Short free text that passed the screen for identifying content.
#[derive(Clone, PartialEq, Eq)]
pub struct ScreenedText<const MAX: usize>(String);

impl<const MAX: usize> ScreenedText<MAX> {
    /// The text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl<const MAX: usize> FieldValue for ScreenedText<MAX> {
    const KIND: Kind = Kind::Text { max_chars: MAX };

    /// A remark is one line: a workbook keeps no other, and the same remark must be the same
    /// record by whatever way it came.
    fn parse(text: &str) -> Result<Self, ValueProblem> {
        let text = &text.trim().replace(['\t', '\n', '\r'], " ");
        if !text.validate_length(None, Some(MAX as u64), None) {
            return Err(ValueProblem::TooLong { length: text.chars().count(), max: MAX });
        }
        crate::screen::screen(text)?;
        Ok(Self(text.to_owned()))
    }

    fn text(&self) -> String {
        self.0.clone()
    }
}

/// An operator's code, `O` and two digits, meaningful inside one centre only.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct OperatorCode(u8);

impl FieldValue for OperatorCode {
    const KIND: Kind = Kind::OperatorCode;

    fn parse(text: &str) -> Result<Self, ValueProblem> {
        let digits = text.trim().strip_prefix(['O', 'o']).ok_or(ValueProblem::NotOperator)?;
        // A sign would pass as a number of one digit.
        match digits.parse() {
            Ok(number) if digits.len() == 2 && !digits.starts_with('+') => Ok(Self(number)),
            _ => Err(ValueProblem::NotOperator),
        }
    }

    fn text(&self) -> String {
        format!("O{:02}", self.0)
    }
}

impl FieldValue for crate::ids::CaseCode {
    const KIND: Kind = Kind::CaseCode;

    fn parse(text: &str) -> Result<Self, ValueProblem> {
        Ok(text.trim().parse()?)
    }

    fn text(&self) -> String {
        self.as_str().to_owned()
    }
}

impl FieldValue for crate::ids::RoomCode {
    const KIND: Kind = Kind::RoomCode;

    fn parse(text: &str) -> Result<Self, ValueProblem> {
        text.parse().map_err(|_| ValueProblem::NotRoom)
    }

    fn text(&self) -> String {
        self.to_string()
    }
}
