#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::case::MISSING_CODES;
use crate::ids::{CaseCode, RoomCode};
use crate::period::Quarter;
use crate::reported::{MissingCode, Reported};
use crate::vocabulary::{Coded, Codes, DeviceInSitu, FluoroReason};
use proptest::prelude::*;
use std::fmt::Debug;

/// What is read from the written value is the value, and is written the same.
fn check<T: FieldValue + PartialEq + Debug>(value: &T) {
    let text = value.text();
    let again = T::parse(&text).unwrap_or_else(|problem| panic!("{text}: {problem}"));
    assert_eq!(again, *value, "{text}");
    assert_eq!(again.text(), text);
}

proptest! {
    #[test]
    fn whole_numbers_survive_writing(number in -30_i64..=900) {
        check(&Whole::<-30, 900>::parse(&number.to_string()).unwrap());
    }

    #[test]
    fn decimals_survive_writing(number in 10.0_f64..=80.0) {
        let value = Decimal::<10_000, 80_000>::parse(&number.to_string()).unwrap();
        prop_assert_eq!(value.get(), number);
        check(&value);
    }

    #[test]
    fn quarters_survive_writing(year in 2010_u16..=2099, quarter in 1_u8..=4) {
        check(&Quarter::new(year, quarter).unwrap());
    }

    #[test]
    fn case_codes_survive_writing(bytes in any::<[u8; 16]>()) {
        check(&CaseCode::from_random(bytes));
    }

    #[test]
    fn operator_codes_survive_writing(number in 0_u8..100) {
        check(&OperatorCode::parse(&format!("o{number:02}")).unwrap());
    }

    #[test]
    fn lists_of_codes_survive_writing(reasons in prop::sample::subsequence(FluoroReason::all(), 1..12)) {
        let shuffled: Vec<_> = reasons.iter().rev().map(|reason| reason.code()).collect();
        let codes = Codes::<FluoroReason>::parse(&shuffled.join(" ; ")).unwrap();
        prop_assert_eq!(codes.iter().collect::<Vec<_>>(), reasons);
        check(&codes);
    }

    #[test]
    fn screened_text_survives_writing(words in prop::collection::vec("[a-zäöß]{1,9}", 1..9)) {
        if let Ok(text) = ScreenedText::<80>::parse(&words.join(" ")) {
            assert_eq!(ScreenedText::<80>::parse(&text.text()).unwrap().as_str(), text.as_str());
        }
    }

    #[test]
    fn no_text_makes_a_reading_fail(text in "\\PC{0,20}") {
        let _ = Whole::<0, 9>::parse(&text);
        let _ = Decimal::<0, 9_000>::parse(&text);
        let _ = Quarter::parse(&text);
        let _ = CaseCode::parse(&text);
        let _ = OperatorCode::parse(&text);
        let _ = Codes::<DeviceInSitu>::parse(&text);
        let _ = ScreenedText::<10>::parse(&text);
    }
}

#[test]
fn whole_numbers_are_digits_and_a_sign() {
    type Minutes = Whole<-30, 900>;
    for (text, expected) in [("0", 0), ("-30", -30), ("900", 900), (" 42 ", 42), ("+5", 5), ("007", 7)] {
        assert_eq!(Minutes::parse(text).map(Whole::get), Ok(expected), "{text}");
    }
    for text in ["", "1.0", "1e2", "4 2", "42 min", "0x1f", "٣", "--1", "99999999999999999999"] {
        assert_eq!(Minutes::parse(text), Err(ValueProblem::NotWhole), "{text}");
    }
    for text in ["-31", "901"] {
        assert!(matches!(Minutes::parse(text), Err(ValueProblem::OutOfRange { .. })), "{text}");
    }
}

#[test]
fn a_decimal_comma_is_read_unless_it_could_group_thousands() {
    type Any = Decimal<-9_999_000_000, 9_999_000_000>;
    for (text, expected) in [
        ("27,4", 27.4),
        ("0,05", 0.05),
        ("0,125", 0.125),
        ("-0,5", -0.5),
        ("12,3456", 12.3456),
        ("1234,567", 1234.567),
        ("636,7", 636.7),
    ] {
        assert_eq!(Any::parse(text).map(Decimal::get), Ok(expected), "{text}");
    }
    for text in ["1,234", "25,250", "-1,234", "1,234,567", "1,234.5", "1.234,5", "1,", ",5", "007,123,1"] {
        assert_eq!(Any::parse(text), Err(ValueProblem::UnclearComma), "{text}");
    }
    for text in ["1,2 mGy", "a,b", "1e3,5"] {
        assert_eq!(Any::parse(text), Err(ValueProblem::NotNumber), "{text}");
    }
    assert_eq!(Whole::<0, 9000>::parse("1,5"), Err(ValueProblem::NotWhole));
}

#[test]
fn an_operator_is_a_letter_and_two_digits() {
    assert_eq!(OperatorCode::parse(" o07 ").unwrap().text(), "O07");
    for text in ["", "O", "O7", "O007", "07", "O-7", "O+7", "P07", "OO7", "O7a", "Operator 7"] {
        assert_eq!(OperatorCode::parse(text), Err(ValueProblem::NotOperator), "{text}");
    }
}

#[test]
fn a_room_is_a_letter_and_a_number_to_99() {
    assert_eq!(RoomCode::parse(" r12 ").unwrap().text(), "R12");
    for text in ["", "R", "R0", "R01", "R100", "12", "R-1", "R+1", "O07", "Room 1"] {
        assert_eq!(RoomCode::parse(text), Err(ValueProblem::NotRoom), "{text}");
    }
}

#[test]
fn a_missing_code_is_no_value_of_any_kind() {
    for code in MISSING_CODES {
        let text = code.code();
        assert_eq!(Reported::<Whole<0, 9>>::parse(text), Ok(Reported::Missing(code)));
        assert_eq!(MissingCode::from_code(&format!(" {} ", text.to_uppercase())), Some(code));
        assert!(Whole::<0, 9>::parse(text).is_err());
        assert!(Decimal::<0, 9>::parse(text).is_err());
        assert!(Quarter::parse(text).is_err());
        assert!(CaseCode::parse(text).is_err());
        assert!(OperatorCode::parse(text).is_err());
        assert!(RoomCode::parse(text).is_err());
        assert_eq!(serde_json::to_value(code).unwrap(), serde_json::json!(text));
    }
    assert_eq!(MISSING_CODES.len(), 5);
    let reported = Reported::<Whole<0, 9>>::parse("0").unwrap();
    assert_eq!(reported.missing(), None, "a zero is an answer");
    assert!(reported.is(|number| number.get() == 0));
}
