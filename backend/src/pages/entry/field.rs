//! One field of the entry form, as the dictionary describes it.

use maud::{Markup, Render, html};
use quietbeam_analysis::study::numerals;
use quietbeam_schema::centre::{Consoles, Room};
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::EntryField;
use quietbeam_schema::ids::RoomCode;
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::value::Kind;
use quietbeam_schema::vocabulary::CodeList;

use super::posted::{name_of, reason_name};
use crate::pages::components::{
    Choice, Choices, Control, FieldRow, Lines, Pick, Picker, QuantityBox, State, Text,
};
use crate::pages::shown::unit_sign;

/// The most codes that stand in a strip; more are a list.
const STRIP: usize = 5;

/// What stands beside a field that the field itself does not know.
#[derive(Default, Clone)]
pub(in crate::pages) struct Beside<'a> {
    /// The X-ray rooms of the centre.
    pub(in crate::pages) rooms: &'a [Room],
    /// What the console shows from which the case was read.
    pub(in crate::pages) consoles: Option<Consoles>,
    /// What else is said in the margin.
    pub(in crate::pages) note: Option<Markup>,
}

/// The row of a field with what stands in it.
pub(in crate::pages) fn field_row(
    field: EntryField,
    entries: &Entries,
    state: State,
    beside: Beside<'_>,
) -> Markup {
    let EntryField { variable, part } = field;
    let console = beside.consoles.and_then(|consoles| console(variable, consoles));
    // An offer stands only where nothing was entered, and a unit alone is no value.
    let offered =
        console.as_ref().and_then(|console| console.unit).filter(|_| entries.given(variable.key).is_none());
    let id = name_of(part, variable.key);
    let name = id.as_str().to_owned();
    let unit_name =
        variable.unit_key().map(|key| name_of(part, &key).as_str().to_owned()).unwrap_or_default();
    let value = entries.given(variable.key).unwrap_or("");
    let rooms = match variable.kind {
        Kind::RoomCode => rooms_as_read(beside.rooms, value),
        _ => Vec::new(),
    };
    let becomes = becomes(variable, entries);
    let control = match variable.kind {
        Kind::Code(list) => one_of(picks(list), variable, (&name, value)),
        Kind::RoomCode if !rooms.is_empty() => {
            let picks = rooms.iter().map(|(code, label)| Pick::plain(code, label)).collect();
            one_of(picks, variable, (&name, value))
        }
        Kind::Codes(list) => Control::Choices(Choices {
            name: &name,
            picks: with_reason(picks(list), variable, value),
            chosen: value.split(';').map(str::trim).collect(),
        }),
        Kind::Quantity(dimension) => Control::Quantity(QuantityBox {
            name: &name,
            value,
            unit_name: &unit_name,
            units: dimension.units.iter().map(|unit| Pick::plain(unit.ucum, unit.label)).collect(),
            unit: variable.unit_key().and_then(|key| entries.given(&key)).or(offered),
            offered,
            becomes: becomes.as_deref(),
        }),
        Kind::Whole { .. } | Kind::Decimal { .. } => {
            Control::Text(Text { name: &name, value, number_in: Some(unit_sign(variable.unit)) })
        }
        Kind::Text { .. } => Control::Lines(Lines { name: &name, value }),
        Kind::Quarter | Kind::CaseCode | Kind::OperatorCode | Kind::RoomCode => {
            Control::Text(Text { name: &name, value, number_in: None })
        }
    };
    let console = console.map(|console| console.says);
    let reasons = reason_box(variable, &control, &reason_name(&id));
    let notes: Vec<Markup> = [beside.note, console, reasons].into_iter().flatten().collect();
    let note = (!notes.is_empty()).then(|| html! { @for note in &notes { (note) " " } });
    FieldRow {
        id,
        label: variable.label,
        second: None,
        control,
        state,
        note,
        help: Some(variable.help.trim()),
    }
    .render()
}

/// What the consoles offer for a field.
struct Console {
    unit: Option<&'static str>,
    says: Markup,
}

fn console(variable: &Variable, consoles: Consoles) -> Option<Console> {
    let rooms = match consoles.rooms {
        1 => "The room's console shows",
        _ => "Every room's console shows",
    };
    match variable.key {
        "kap" => {
            let unit = consoles.kap_unit?.unit();
            Some(Console { unit: Some(unit.ucum), says: html! { (rooms) " " b { (unit.label) } "." } })
        }
        "air_kerma" if !consoles.air_kerma_shown => {
            Some(Console { unit: None, says: html! { (rooms) " no air kerma." } })
        }
        _ => None,
    }
}

/// The rooms of the centre with their codes and what their consoles show, and the room that was
/// named although it is not among them.
fn rooms_as_read(rooms: &[Room], named: &str) -> Vec<(String, String)> {
    let known =
        |room: &Room| (room.code.to_string(), format!("{} · {}", room.code, room.kap_unit.unit().label));
    let mut all: Vec<(String, String)> = rooms.iter().map(known).collect();
    if let Ok(other) = named.parse::<RoomCode>()
        && rooms.iter().all(|room| room.code != other)
        && !rooms.is_empty()
    {
        all.push((other.to_string(), format!("{other}, not among the centre's rooms")));
    }
    all
}

/// One of a few as a strip, one of many as a list.
fn one_of<'a>(mut picks: Vec<Pick<'a>>, variable: &Variable, (name, value): (&'a str, &str)) -> Control<'a> {
    if picks.len() <= STRIP {
        let picks = with_reason(picks, variable, value);
        return Control::Choice(Choice { name, chosen: chosen(&picks, value), picks });
    }
    if variable.missing_allowed {
        picks.extend(reasons());
    }
    Control::Picker(Picker { name, chosen: chosen(&picks, value), picks })
}

fn picks(list: &'static CodeList) -> Vec<Pick<'static>> {
    list.codes.iter().map(Pick::of).collect()
}

fn reasons<'a>() -> impl Iterator<Item = Pick<'a>> {
    MissingCode::ALL.into_iter().map(|code| Pick::plain(code.code(), code.label()))
}

/// The reason that stands in the field is one of its picks, so that the form sends it again.
fn with_reason<'a>(mut picks: Vec<Pick<'a>>, variable: &Variable, value: &str) -> Vec<Pick<'a>> {
    let reason = MissingCode::from_code(value).filter(|_| variable.missing_allowed);
    picks.extend(reason.map(|code| Pick::plain(code.code(), code.label())));
    picks
}

fn chosen<'a>(picks: &[Pick<'a>], value: &str) -> Option<&'a str> {
    picks.iter().map(|pick| pick.value).find(|code| code.eq_ignore_ascii_case(value))
}

/// Why there is no value, for controls in which it cannot be typed.
fn reason_box(variable: &Variable, control: &Control<'_>, name: &str) -> Option<Markup> {
    if !variable.missing_allowed {
        return None;
    }
    match control {
        Control::Choice(_) | Control::Choices(_) => {
            return Some(html! {
                details {
                    summary { "No answer?" }
                    select.select name=(name) aria-label={ "Why there is no answer: " (variable.label) } {
                        option value="" selected {}
                        @for reason in reasons() { option value=(reason.value) { (reason.label) } }
                    }
                }
            });
        }
        Control::Picker(_) | Control::Lines(_) => return None,
        _ => {}
    }
    let what = match variable.kind {
        Kind::OperatorCode => "O and two digits, or ",
        Kind::RoomCode => "R and a number, or ",
        Kind::Whole { .. } | Kind::Decimal { .. } | Kind::Quantity(_) => "A number, or ",
        _ => "",
    };
    Some(html! { (what) b { "NR" } " where it was not recorded." })
}

/// What a quantity became in the unit in which the registry compares it.
pub(super) fn becomes(variable: &Variable, entries: &Entries) -> Option<String> {
    let Kind::Quantity(dimension) = variable.kind else { return None };
    let typed = entries.given(variable.key)?;
    if let Some(code) = MissingCode::from_code(typed) {
        return Some(code.label().to_owned());
    }
    let unit = variable.unit_key().and_then(|key| entries.given(&key).map(str::to_owned))?;
    let (_, _, canonical) = dimension.read(typed, &unit).ok()?;
    Some(format!("{}\u{a0}{}", short(canonical), dimension.canonical().label))
}

/// Three or four significant digits are what a console shows.
fn short(value: f64) -> String {
    let places = if value >= 100.0 {
        0
    } else if value >= 10.0 {
        1
    } else {
        2
    };
    let text = format!("{value:.places$}");
    match text.parse::<u64>() {
        Ok(whole) => numerals::count(whole),
        Err(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use quietbeam_schema::case::case_variables;
    use quietbeam_schema::finding::Part;

    fn said(key: &str, value: &str, unit: &str) -> Option<String> {
        let variable = case_variables().into_iter().find(|variable| variable.key == key).unwrap();
        let mut entries = Entries::default();
        entries.put(key, value);
        entries.put(format!("{key}_unit"), unit);
        becomes(variable, &entries)
    }

    /// 1 cGy·cm² is 0.01 Gy·cm² and 1 µGy·m² is 0.01 Gy·cm², by the SI prefixes.
    #[test]
    fn a_quantity_says_what_it_becomes() {
        assert_eq!(said("kap", "636.7", "cGy.cm2").as_deref(), Some("6.37\u{a0}Gy·cm²"));
        assert_eq!(said("kap", "636.7", "uGy.m2").as_deref(), Some("6.37\u{a0}Gy·cm²"));
        assert_eq!(said("fluoro_time", "4:12", "min").as_deref(), Some("252\u{a0}s"));
        assert_eq!(said("air_kerma", "nr", "").as_deref(), Some("not recorded"));
        assert_eq!(said("air_kerma", "4", ""), None);
        assert_eq!(said("air_kerma", "1.4", "Gy").as_deref(), Some("1,400\u{a0}mGy"));
    }

    #[test]
    fn what_was_typed_is_text_and_never_markup() {
        let variable = case_variables().into_iter().find(|variable| variable.key == "bmi").unwrap();
        let mut entries = Entries::default();
        entries.put("bmi", "\"><script>alert(1)</script>");
        let row =
            field_row(EntryField { variable, part: Part::Case }, &entries, State::Quiet, Beside::default())
                .into_string();
        assert!(!row.contains("<script"), "{row}");
    }
}
