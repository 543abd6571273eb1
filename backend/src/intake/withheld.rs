//! Cells that are not kept, not even until they are mended: what stands in them could point
//! to a person.

use quietbeam_schema::case::CASE_CODE;
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::ids::{CaseCode, RoomCode};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::screen::screen;
use quietbeam_schema::value::{FieldValue, Kind, OperatorCode, decimal_point};

use super::labels::coded;

/// Stands in the place of a cell that is not kept. Every field refuses this character, which
/// ASCII calls "substitute", so that its row waits until somebody looked at it.
pub(super) const NOT_KEPT: &str = "\u{1a}";

/// What a column holds, for the screen.
#[derive(Debug, Clone, Copy)]
pub(super) enum Holds {
    /// A case code of this registry.
    CaseCode,
    /// The values of a variable.
    Value(&'static Variable),
    /// The units of a variable.
    Unit(&'static Variable),
    /// Why a stored case changes.
    Reason,
}

/// Why a cell may not be kept; `None` for the usual one.
pub(super) fn refusal(holds: Holds, text: &str) -> Option<String> {
    let text = text.trim();
    if text.is_empty() || is_plain(holds, text) {
        return None;
    }
    match holds {
        Holds::CaseCode => code_refusal(CASE_CODE.label, text),
        Holds::Value(Variable { kind: Kind::CaseCode, label, .. }) => code_refusal(label, text),
        Holds::Value(variable) => screened(variable.label, text),
        Holds::Unit(variable) => screened(&format!("The unit of {}", variable.label), text),
        Holds::Reason => screened("Reason for the change", text),
    }
}

/// Whether the text is a value of its column. The screen looks at shapes, and a dose can look
/// like a hospital number.
fn is_plain(holds: Holds, text: &str) -> bool {
    let variable = match holds {
        Holds::CaseCode => return text.parse::<CaseCode>().is_ok(),
        Holds::Reason => return false,
        Holds::Unit(Variable { kind: Kind::Quantity(dimension), .. }) => {
            return dimension.unit(text).is_ok();
        }
        Holds::Unit(_) => return false,
        Holds::Value(variable) => variable,
    };
    if variable.missing_allowed && MissingCode::from_code(&coded(variable, text)).is_some() {
        return true;
    }
    match variable.kind {
        Kind::Code(list) | Kind::Codes(list) => coded(variable, text)
            .split(';')
            .all(|part| list.codes.iter().any(|code| code.code.eq_ignore_ascii_case(part.trim()))),
        Kind::Whole { .. } | Kind::Decimal { .. } | Kind::Quantity(_) => is_number(text),
        Kind::Quarter => Quarter::parse(text).is_ok(),
        Kind::CaseCode => text.parse::<CaseCode>().is_ok(),
        Kind::OperatorCode => OperatorCode::parse(text).is_ok(),
        Kind::RoomCode => text.parse::<RoomCode>().is_ok(),
        Kind::Text { .. } => false,
    }
}

/// Whether a text is a number as people write it.
pub(super) fn is_number(text: &str) -> bool {
    decimal_point(text).is_ok_and(|text| text.parse::<f64>().is_ok())
}

fn code_refusal(label: &str, text: &str) -> Option<String> {
    text.parse::<CaseCode>().err().map(|error| format!("{label} {error}. What stood here was not kept."))
}

fn screened(label: &str, text: &str) -> Option<String> {
    let class = screen(text).err()?;
    Some(format!("{label} {class}. What stood here was not kept."))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use quietbeam_schema::case::case_variables;

    fn of(key: &str, text: &str) -> bool {
        let variable = case_variables().into_iter().find(|variable| variable.key == key).unwrap();
        refusal(Holds::Value(variable), text).is_some()
    }

    #[test]
    fn what_could_point_to_a_person_is_not_kept_and_values_are() {
        for (key, text) in [
            ("period", "02.07.2026"),
            ("sex", "Mrs. Example"),
            ("bmi", "MRN 1234567"),
            ("earlier_case_code", "1234567"),
        ] {
            assert!(of(key, text), "{key} {text}");
        }
        for (key, text) in [
            ("period", "2026Q3"),
            ("sex", "q"),
            ("sex", "F"),
            ("age_band", "60-69"),
            ("kap", "123456"),
            ("kap", "4,25"),
            ("air_kerma", "nr"),
            ("air_kerma", "0.85 Gy"),
            ("op_code", "O07"),
        ] {
            assert!(!of(key, text), "{key} {text}");
        }
        assert!(refusal(Holds::Reason, "typed on 02.07.2026").is_some());
        assert!(refusal(Holds::CaseCode, "1234567").is_some());
        assert!(refusal(Holds::CaseCode, &CaseCode::from_random([7; 16]).to_string()).is_none());
    }
}
