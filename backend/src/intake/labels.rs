//! Labels in place of keys and codes: what a person reads in the dictionary may
//! stand in a file too. A key or code always wins over a label.

use super::guard::unguarded;
use quietbeam_schema::dictionary::{Variable, column};
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::value::Kind;
use quietbeam_schema::vocabulary::CodeList;
use std::borrow::Cow;

/// The column that a name stands for: its key, or the name itself if it is none.
pub(super) fn key_of(known: &[&'static Variable], name: &str) -> String {
    let key = name.trim().to_ascii_lowercase();
    if column(known, &key).is_some() {
        return key;
    }
    let plain = plain(name);
    let labelled = known.iter().find_map(|variable| {
        let label = self::plain(variable.label);
        if label == plain {
            return Some(variable.key.to_owned());
        }
        let of_unit =
            plain.strip_suffix("unit").is_some_and(|rest| rest.trim_end_matches([',', ' ']) == label);
        if of_unit { variable.unit_key() } else { None }
    });
    labelled.unwrap_or(key)
}

/// The text with labels replaced by their codes; anything else as it stands.
pub(super) fn coded<'t>(variable: &Variable, text: &'t str) -> Cow<'t, str> {
    match variable.kind {
        Kind::Code(list) => code_of(list, variable, text).map_or(Cow::Borrowed(text), Cow::Borrowed),
        Kind::Codes(list) => {
            let parts: Vec<&str> = text.split(';').collect();
            let codes = parts.iter().map(|part| code_of(list, variable, part));
            if codes.clone().all(|code| code.is_none()) {
                return Cow::Borrowed(text);
            }
            let codes = codes.zip(&parts).map(|(code, part)| code.unwrap_or(part));
            Cow::Owned(codes.collect::<Vec<_>>().join(";"))
        }
        Kind::Text { .. } => match missing(variable, text) {
            Some(code) => Cow::Borrowed(code),
            None => Cow::Owned(unguarded(text.trim())),
        },
        _ => missing(variable, text).map_or(Cow::Borrowed(text), Cow::Borrowed),
    }
}

/// The code for which a label stands; `None` for a code and for what is neither.
fn code_of(list: &CodeList, variable: &Variable, text: &str) -> Option<&'static str> {
    let text = text.trim();
    if list.codes.iter().any(|code| code.code.eq_ignore_ascii_case(text)) {
        return None;
    }
    let plain = plain(text);
    let labelled = list.codes.iter().find(|code| self::plain(code.label) == plain);
    labelled.map(|code| code.code).or_else(|| missing(variable, text))
}

fn missing(variable: &Variable, text: &str) -> Option<&'static str> {
    // Numbers are most of what stands here and are never words.
    if !variable.missing_allowed || !text.trim_start().starts_with(|c: char| c.is_alphabetic()) {
        return None;
    }
    labelled(text).map(MissingCode::code)
}

fn labelled(text: &str) -> Option<MissingCode> {
    let plain = plain(text);
    MissingCode::ALL.into_iter().find(|code| code.label() == plain)
}

/// Whether a cell of this text would be read as the reason for a missing value.
pub(super) fn is_missing_label(text: &str) -> bool {
    labelled(text).is_some()
}

/// Small letters and single spaces.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;
    use quietbeam_schema::case::{case_variables, complication_variables, follow_up_variables};
    use std::collections::BTreeSet;

    /// Two columns of one file with the same label could not be told apart.
    #[test]
    fn every_label_leads_back_to_its_own_column_and_code() {
        for variables in [case_variables(), complication_variables(), follow_up_variables()] {
            let labels: BTreeSet<String> = variables.iter().map(|variable| plain(variable.label)).collect();
            assert_eq!(labels.len(), variables.len(), "a label stands twice in one file");
            for variable in &variables {
                assert_eq!(key_of(&variables, &variable.label.to_uppercase()), variable.key);
                if let Some(unit) = variable.unit_key() {
                    assert_eq!(key_of(&variables, &format!("{}, unit", variable.label)), unit);
                    assert_eq!(key_of(&variables, &format!("{} unit", variable.label)), unit);
                }
                for code in variable.codes().into_iter().flat_map(|list| list.codes) {
                    let found = coded(variable, code.label);
                    assert!(
                        found.eq_ignore_ascii_case(code.code) || code.label.contains(';'),
                        "{}: {:?} became {found:?}",
                        variable.key,
                        code.label
                    );
                    assert_eq!(coded(variable, code.code), code.code);
                }
                for code in MissingCode::ALL {
                    let expected = if variable.missing_allowed { code.code() } else { code.label() };
                    assert_eq!(coded(variable, code.label()), expected, "{}", variable.key);
                }
            }
        }
    }
}
