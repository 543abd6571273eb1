//! What a row holds. A field goes out by its tier; what the tier cannot know is said here.

use quietbeam_schema::case::{CASE_GROUPS, CaseRecord, Complication, FollowUp};
use quietbeam_schema::dictionary::{Section, Tier, Variable};
use quietbeam_schema::endpoint::{acute_success, harm_tier, is_fatal, major_within_30_days};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::value::{FieldValue, Kind};
use quietbeam_schema::vocabulary::{Coded, CongenitalDisease, YesNo};
use serde_json::{Map, Value};

use super::class::{Age, Class, Traits};
use super::profile::Profile;

/// One of the three tables of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// One row a case.
    Cases,
    /// One row a complication.
    Complications,
    /// One row a follow-up.
    FollowUps,
}

/// All tables.
pub const TABLES: [Table; 3] = [Table::Cases, Table::Complications, Table::FollowUps];

impl Table {
    /// The name of its file, without an ending.
    pub fn name(self) -> &'static str {
        match self {
            Self::Cases => "cases",
            Self::Complications => "complications",
            Self::FollowUps => "follow_ups",
        }
    }
}

/// Whether operators go out, each under a code made for this one file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Operators {
    /// No.
    LeftOut,
    /// Yes, where the site is shown.
    Recoded,
}

/// A column and what it means.
type Meaning = (&'static str, &'static str);

/// Columns that stand before those of the dictionary.
const ROW: Meaning = (
    "row_id",
    "Random, made for this file alone; joins its tables and no two files. Rows stand in its order.",
);
const OF_CASE: [Meaning; 9] = [
    ("site", "The centre's code; wh where too few rows are alike."),
    ("period", "The year, or the quarter inside the network; wh where too few rows are alike."),
    ("age_band", "Age band; wh where too few rows are alike."),
    (
        "age_wide",
        "The age in wide bands: 0_17, 18_39, 40_59, 60_79, 80_plus; wh where too few rows are alike.",
    ),
    ("age_group", "child or adult."),
    ("sex", "Sex as recorded by the centre; wh where too few rows are alike."),
    ("procedure_group", "The group of the procedure."),
    (
        "acute_success_used",
        "Acute success by rule, or by the centre's reasoned override; unk where not known.",
    ),
    ("major_within_30_days", "A major complication or death within 30 days: yes, no, or unk."),
];
const TIER: Meaning = ("harm_tier_used", "The tier of harm by rule, or by the centre's reasoned override.");
const OPERATOR: Meaning =
    ("op_code", "The operator under a code made for this file, within a site; wh where the site is.");

/// Traits, shown as their classes allow.
const TRAITS: [&str; 3] = ["period", "age_band", "sex"];
/// What never goes out in a row. The basis of consent is the same for all cases of a centre
/// and would tell a site that was withheld; badge doses are staff's.
const NEVER: [&str; 3] = ["pregnant", "consent_basis", "staff_badge_position"];
const BADGES: &str = "staff_dose_";
/// Finer than the group of the procedure, in which a row is one of many.
const FINER_THAN_GROUP: [&str; 3] = ["proc_primary", "proc_additional", "substrate_detail"];
/// Narrower than an age band, or a part of it.
const TELLS_AGE: [&str; 3] = ["weight_band_paed", "chads_va", "chads_vasc"];
/// The older stroke score counts a point for women.
const TELLS_SEX: [&str; 1] = ["chads_vasc"];

/// The columns of a file.
pub struct Layout {
    operators: Operators,
    tables: [Vec<&'static Variable>; 3],
}

impl Layout {
    /// The columns for a profile.
    pub fn new(profile: Profile, operators: Operators) -> Self {
        let goes = |variable: &&'static Variable| goes_out(variable, profile);
        let case = CASE_GROUPS.iter().flat_map(|group| group.variables).filter(goes).collect();
        let events = Complication::VARIABLES.iter().filter(goes).collect();
        let follow_ups = FollowUp::VARIABLES.iter().filter(goes).collect();
        Self { operators, tables: [case, events, follow_ups] }
    }

    /// The variables of a table that go out as recorded.
    pub fn variables(&self, table: Table) -> &[&'static Variable] {
        &self.tables[table as usize]
    }

    /// The columns, each with its meaning.
    pub fn columns(&self, table: Table) -> Vec<(String, String)> {
        let before: Vec<Meaning> = match table {
            Table::Cases => {
                let operator = (self.operators == Operators::Recoded).then_some(OPERATOR);
                OF_CASE.into_iter().chain(operator).collect()
            }
            Table::Complications => vec![TIER],
            Table::FollowUps => Vec::new(),
        };
        let own = self.variables(table).iter().flat_map(|variable| {
            let told = format!("{}. {}", variable.label, variable.help.trim());
            variable.columns().map(move |column| (column, told.clone()))
        });
        let before = [ROW].into_iter().chain(before).map(|(name, told)| (name.to_owned(), told.to_owned()));
        before.chain(own).collect()
    }

    /// The rows of a case, each without its row id. `recode` gives an operator of a site the
    /// code of this file.
    pub fn rows(
        &self,
        case: &CaseRecord,
        class: &Class,
        recode: impl FnOnce(CentreCode, &str) -> String,
    ) -> Vec<(Table, Vec<String>)> {
        let json = case.to_json();
        let fields = |value: &Value| value.as_object().cloned().unwrap_or_default();
        let mut row = of_class(class);
        row.push(acute_success(case).used().map_or(unknown(), |success| success.code().to_owned()));
        row.push(match major_within_30_days(case) {
            None => unknown(),
            Some(true) => YesNo::Yes.code().to_owned(),
            Some(false) => YesNo::No.code().to_owned(),
        });
        if self.operators == Operators::Recoded {
            row.push(match (class.site, case.procedure().op_code.value()) {
                (Some(site), Some(code)) => recode(site, &code.text()),
                _ => withheld(),
            });
        }
        row.extend(self.cells(Table::Cases, &fields(&json), class));
        let mut rows = vec![(Table::Cases, row)];
        let events = json["complications"].as_array().into_iter().flatten();
        for (event, fields) in case.complications().iter().zip(events.map(fields)) {
            let tier = harm_tier(event, case).used().map_or(unknown(), |tier| tier.code().to_owned());
            let cells = self.cells(Table::Complications, &fields, class);
            rows.push((Table::Complications, std::iter::once(tier).chain(cells).collect()));
        }
        if json["follow_up"].is_object() {
            let cells = self.cells(Table::FollowUps, &fields(&json["follow_up"]), class);
            rows.push((Table::FollowUps, cells));
        }
        rows
    }

    fn cells(&self, table: Table, fields: &Map<String, Value>, class: &Class) -> Vec<String> {
        let cells = |variable: &&'static Variable| {
            if tells_more(variable.key, class) {
                return variable.columns().map(|_| withheld()).collect();
            }
            written(variable, fields)
        };
        self.variables(table).iter().flat_map(cells).collect()
    }
}

/// What of a record could single out a person.
pub fn traits_of(site: CentreCode, case: &CaseRecord) -> Traits {
    let patient = case.patient();
    let died = case.follow_up().is_some_and(|seen| seen.death.is(|died| *died == YesNo::Yes));
    Traits {
        site,
        quarter: case.identity().period,
        age: patient.age_band,
        sex: patient.sex,
        group: case.procedure().proc_primary.group(),
        rare: died
            || case.complications().iter().any(is_fatal)
            || patient.pregnant.is(|pregnant| *pregnant == YesNo::Yes)
            || patient.chd.is(|chd| *chd != CongenitalDisease::None),
    }
}

fn goes_out(variable: &Variable, profile: Profile) -> bool {
    let key = variable.key;
    let own =
        matches!(variable.kind, Kind::Text { .. } | Kind::CaseCode | Kind::OperatorCode | Kind::RoomCode);
    if own || TRAITS.contains(&key) || NEVER.contains(&key) || key.starts_with(BADGES) {
        return false;
    }
    match profile {
        Profile::Pseudonymised => true,
        Profile::YearOnly => variable.tier != Tier::Restricted && !FINER_THAN_GROUP.contains(&key),
    }
}

/// Whether a field would tell what the class of its row no longer shows.
fn tells_more(key: &str, class: &Class) -> bool {
    (TELLS_AGE.contains(&key) && !matches!(class.age, Age::Band(_)))
        || (TELLS_SEX.contains(&key) && class.sex.is_none())
}

fn of_class(class: &Class) -> Vec<String> {
    let (band, wide) = match class.age {
        Age::Band(age) => (age.code().to_owned(), Age::wide(age).to_owned()),
        Age::Wide(wide) => (withheld(), wide.to_owned()),
        Age::Adult(_) => (withheld(), withheld()),
    };
    let adult = match class.age {
        Age::Band(age) => age.is_adult(),
        Age::Wide(wide) => wide != "0_17",
        Age::Adult(adult) => adult,
    };
    let period = class.period.map(|(year, quarter)| match quarter {
        Some(quarter) => format!("{year}Q{quarter}"),
        None => year.to_string(),
    });
    let sex = class.sex.map(|sex| match sex.missing() {
        Some(code) => code.code().to_owned(),
        None => sex.value().map_or(unknown(), |sex| sex.code().to_owned()),
    });
    vec![
        class.site.map_or_else(withheld, |site| site.to_string()),
        period.unwrap_or_else(withheld),
        band,
        wide,
        if adult { "adult" } else { "child" }.to_owned(),
        sex.unwrap_or_else(withheld),
        class.group.code().to_owned(),
    ]
}

fn withheld() -> String {
    MissingCode::Withheld.code().to_owned()
}

fn unknown() -> String {
    MissingCode::Unknown.code().to_owned()
}

/// A field as its columns hold it. A quantity stands in its canonical unit with three
/// digits: the unit of a console would tell the site, and all digits the very report.
fn written(variable: &Variable, fields: &Map<String, Value>) -> Vec<String> {
    let text = |value: &Value| match value {
        Value::String(text) => text.clone(),
        Value::Array(codes) => codes.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(";"),
        Value::Null => String::new(),
        other => other.to_string(),
    };
    let typed = fields.get(variable.key).map(text).unwrap_or_default();
    let Kind::Quantity(dimension) = variable.kind else { return vec![typed] };
    let unit = variable.unit_key().and_then(|key| fields.get(&key).map(text)).unwrap_or_default();
    match dimension.read(&typed, &unit) {
        Ok((_, _, canonical)) => vec![three_digits(canonical), dimension.canonical().ucum.to_owned()],
        // A missing code has no unit.
        Err(_) => vec![typed, String::new()],
    }
}

fn three_digits(number: f64) -> String {
    format!("{number:.2e}").parse().map_or_else(|_| unknown(), |rounded: f64| rounded.to_string())
}
