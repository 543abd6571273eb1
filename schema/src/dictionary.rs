//! The description of every variable. A section of the record is declared once
//! with `section!`; its type, its reading, its writing and its dictionary rows
//! come from that one declaration, so they cannot drift apart.

use crate::entries::Entries;
use crate::finding::{Finding, Part, Place, Weight};
use crate::quantity::{Measure, Quantity, QuantityKind};
use crate::reported::{MissingCode, Reported};
use crate::value::{FieldValue, Kind, ValueProblem};
use crate::vocabulary::CodeList;
use serde_json::{Map, Value};

#[cfg(test)]
mod tests;

/// Who may see a variable's values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tier {
    /// May be published after aggregation.
    Public,
    /// Inside the network, under its agreement.
    Internal,
    /// Restricted: rare or personal even in coded form.
    Restricted,
}

impl Tier {
    /// The tier in one word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Public => "public",
            Self::Internal => "internal",
            Self::Restricted => "restricted",
        }
    }
}

/// When a variable must be answered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Need {
    /// In every record.
    Always,
    /// In records that meet the condition; elsewhere it does not apply.
    When(&'static Condition),
    /// Never required; blank is kept as "not recorded".
    Optional,
}

/// A condition on other fields of the same part of the record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Condition {
    /// The field holds one of these codes.
    Is(&'static str, &'static [&'static str]),
    /// The field was answered, and holds none of these codes.
    IsNot(&'static str, &'static [&'static str]),
    /// The number in the field is at least this.
    AtLeast(&'static str, i64),
    /// Every one of these holds.
    All(&'static [Condition]),
    /// At least one of these holds.
    Any(&'static [Condition]),
}

impl Condition {
    /// Whether what was given meets the condition.
    pub fn holds(&self, entries: &Entries) -> bool {
        let among = |key: &str, codes: &[&str]| {
            entries.given(key).map(|text| {
                text.split(';').any(|part| codes.iter().any(|code| code.eq_ignore_ascii_case(part.trim())))
            })
        };
        match self {
            Self::Is(key, codes) => among(key, codes) == Some(true),
            Self::IsNot(key, codes) => among(key, codes) == Some(false),
            Self::AtLeast(key, least) => {
                entries.given(key).and_then(|text| text.parse::<i64>().ok()).is_some_and(|n| n >= *least)
            }
            Self::All(conditions) => conditions.iter().all(|condition| condition.holds(entries)),
            Self::Any(conditions) => conditions.iter().any(|condition| condition.holds(entries)),
        }
    }

    /// The condition in words.
    pub fn words(&self) -> String {
        let join = |conditions: &[Self], with: &str| {
            conditions.iter().map(Self::words).collect::<Vec<_>>().join(with)
        };
        match self {
            Self::Is(key, codes) => format!("{key} is {}", codes.join(" or ")),
            Self::IsNot(key, codes) => format!("{key} is not {}", codes.join(" or ")),
            Self::AtLeast(key, least) => format!("{key} is at least {least}"),
            Self::All(conditions) => join(conditions, " and "),
            Self::Any(conditions) => join(conditions, ", or "),
        }
    }

    /// The fields and codes that the condition names.
    pub fn names(&self) -> Vec<(&'static str, &'static [&'static str])> {
        match self {
            Self::Is(key, codes) | Self::IsNot(key, codes) => vec![(key, codes)],
            Self::AtLeast(key, _) => vec![(key, &[])],
            Self::All(conditions) | Self::Any(conditions) => {
                conditions.iter().flat_map(Self::names).collect()
            }
        }
    }
}

/// One variable of the record.
#[derive(Debug, PartialEq)]
pub struct Variable {
    /// The key, the same in JSON, files and pages.
    pub key: &'static str,
    /// A few words for the person who fills it in.
    pub label: &'static str,
    /// What to enter and why it is asked.
    pub help: &'static str,
    /// What its values look like.
    pub kind: Kind,
    /// When it must be answered.
    pub need: Need,
    /// Whether a missing code is an answer.
    pub missing_allowed: bool,
    /// The unit of a plain number, in UCUM notation; empty where there is none.
    pub unit: &'static str,
    /// Numbers outside these limits raise a data query.
    pub query: Option<(f64, f64)>,
    /// Who may see its values.
    pub tier: Tier,
}

impl Variable {
    /// The key of the unit's column, for a quantity.
    pub fn unit_key(&self) -> Option<String> {
        matches!(self.kind, Kind::Quantity(_)).then(|| format!("{}_unit", self.key))
    }

    /// The columns in which files hold the variable.
    pub fn columns(&self) -> impl Iterator<Item = String> {
        std::iter::once(self.key.to_owned()).chain(self.unit_key())
    }

    /// The list of codes, for a coded variable.
    pub fn codes(&self) -> Option<&'static CodeList> {
        match self.kind {
            Kind::Code(list) | Kind::Codes(list) => Some(list),
            _ => None,
        }
    }
}

/// The variable that a column belongs to, and whether the column is its unit's.
pub fn column(variables: &[&'static Variable], key: &str) -> Option<(&'static Variable, bool)> {
    variables.iter().find_map(|variable| {
        if variable.key == key {
            Some((*variable, false))
        } else {
            (variable.unit_key().as_deref() == Some(key)).then_some((*variable, true))
        }
    })
}

/// A part of the record whose fields were declared with `section!`.
pub trait Section: Sized {
    /// The dictionary rows, in the order of the work.
    const VARIABLES: &'static [Variable];

    /// Reads all fields, leaving a finding for each that cannot be read.
    /// `None` only when a hard finding was left.
    fn read(reader: &mut Reader<'_>) -> Option<Self>;

    /// Writes all fields as JSON.
    fn write(&self, out: &mut Map<String, Value>);
}

/// Declares a section: `field: Type = "Label", need, Tier [, unit "…"] [, query a to b];`
/// under a doc comment that becomes the field's help.
macro_rules! section {
    ($(#[doc = $doc:literal])+ $section:ident {
        $($(#[doc = $help:literal])+ $field:ident : $ty:ty = $label:literal, $need:expr, $tier:ident
          $(, unit $unit:literal)? $(, query $low:literal to $high:literal)?;)+
    }) => {
        $(#[doc = $doc])+
        #[derive(Clone)]
        pub struct $section { $($(#[doc = $help])+ pub $field: $ty,)+ }

        impl $crate::dictionary::Section for $section {
            const VARIABLES: &'static [$crate::dictionary::Variable] = &[$($crate::dictionary::Variable {
                key: stringify!($field),
                label: $label,
                help: concat!($($help),+),
                kind: <$ty as $crate::dictionary::Field>::KIND,
                need: $need,
                missing_allowed: <$ty as $crate::dictionary::Field>::MISSING_ALLOWED,
                unit: concat!($($unit)?),
                query: { let limits: Option<(f64, f64)> = None; $(let _ = limits; let limits = Some(($low as f64, $high as f64));)? limits },
                tier: $crate::dictionary::Tier::$tier,
            },)+];

            fn read(reader: &mut $crate::dictionary::Reader<'_>) -> Option<Self> {
                let mut variables = Self::VARIABLES.iter();
                // Every field is read before the first `?`, so that a person
                // sees all that must be mended at once.
                $(let $field = variables.next().and_then(|variable| {
                    <$ty as $crate::dictionary::Field>::read(reader, variable)
                });)+
                Some(Self { $($field: $field?,)+ })
            }

            fn write(&self, out: &mut serde_json::Map<String, serde_json::Value>) {
                $($crate::dictionary::Field::write(&self.$field, stringify!($field), out);)+
            }
        }
    };
}
pub(crate) use section;

/// Reads one part of a record, collecting findings.
pub struct Reader<'a> {
    entries: &'a Entries,
    part: Part,
    findings: Vec<Finding>,
}

impl<'a> Reader<'a> {
    /// A reader of what was given for one part.
    pub fn new(part: Part, entries: &'a Entries) -> Self {
        Self { entries, part, findings: Vec::new() }
    }

    /// What was found so far.
    pub fn into_findings(self) -> Vec<Finding> {
        self.findings
    }

    fn find(&mut self, key: &str, rule: &'static str, weight: Weight, sentence: String) {
        self.findings.push(Finding::at(Place::new(self.part, key), rule, weight, sentence));
    }

    fn refuse(&mut self, key: &str, variable: &Variable, problem: &ValueProblem) {
        self.find(key, "value", Weight::Hard, format!("{} {problem}.", variable.label));
    }

    /// The text to read, or why there is none; `None` leaves a hard finding.
    fn text(&mut self, variable: &Variable) -> Option<Result<&'a str, MissingCode>> {
        if let Some(text) = self.entries.given(variable.key) {
            return Some(Ok(text));
        }
        let condition = match variable.need {
            Need::Optional => return Some(Err(MissingCode::NotRecorded)),
            Need::When(condition) if !condition.holds(self.entries) => {
                return Some(Err(MissingCode::NotApplicable));
            }
            Need::When(condition) => Some(condition.words()),
            Need::Always => None,
        };
        let why = condition.map_or(String::new(), |words| format!(" (because {words})"));
        let or_missing = if variable.missing_allowed {
            ", or a missing code: nr, unk, na, wh or nd. A blank is never read as zero"
        } else {
            ""
        };
        self.find(
            variable.key,
            "required",
            Weight::Hard,
            format!("{} is not filled in{why}; give a value{or_missing}.", variable.label),
        );
        None
    }

    /// Raises the queries that any answered field can raise.
    fn question(&mut self, variable: &Variable, number: Option<f64>, missing: Option<MissingCode>) {
        if let (Some(number), Some((low, high))) = (number, variable.query)
            && !(low..=high).contains(&number)
        {
            let unit = match variable.kind {
                Kind::Quantity(dimension) => format!(" {}", dimension.canonical().label),
                _ if variable.unit.is_empty() => String::new(),
                _ => format!(" {}", variable.unit),
            };
            self.find(
                variable.key,
                "unusual_value",
                Weight::Query,
                format!("{} is {number}{unit}, outside the usual {low} to {high}; correct it, or say why it is right.", variable.label),
            );
        }
        let applies = match variable.need {
            Need::Always => true,
            Need::When(condition) => condition.holds(self.entries),
            Need::Optional => false,
        };
        if applies
            && missing == Some(MissingCode::NotApplicable)
            && self.entries.given(variable.key).is_some()
        {
            self.find(
                variable.key,
                "applies_here",
                Weight::Query,
                format!("{} is marked not applicable, but it applies to this case; give the value, or nr if it was not recorded.", variable.label),
            );
        }
    }
}

/// A type that a section's field can have.
pub trait Field: Sized {
    /// What its values look like.
    const KIND: Kind;
    /// Whether a missing code is an answer.
    const MISSING_ALLOWED: bool;

    /// Reads the field; `None` leaves a hard finding.
    fn read(reader: &mut Reader<'_>, variable: &'static Variable) -> Option<Self>;

    /// Writes the field as JSON.
    fn write(&self, key: &str, out: &mut Map<String, Value>);
}

impl<T: FieldValue> Field for T {
    const KIND: Kind = T::KIND;
    const MISSING_ALLOWED: bool = false;

    fn read(reader: &mut Reader<'_>, variable: &'static Variable) -> Option<Self> {
        let text = reader.text(variable)?.ok()?;
        match T::parse(text) {
            Ok(value) => {
                reader.question(variable, number_of(&value), None);
                Some(value)
            }
            Err(_) if MissingCode::from_code(text).is_some() => {
                reader.find(
                    variable.key,
                    "required",
                    Weight::Hard,
                    format!(
                        "{} takes no missing code; without it the case cannot be compared.",
                        variable.label
                    ),
                );
                None
            }
            Err(problem) => {
                reader.refuse(variable.key, variable, &problem);
                None
            }
        }
    }

    fn write(&self, key: &str, out: &mut Map<String, Value>) {
        out.insert(key.to_owned(), json_of(self));
    }
}

impl<T: FieldValue> Field for Reported<T> {
    const KIND: Kind = T::KIND;
    const MISSING_ALLOWED: bool = true;

    fn read(reader: &mut Reader<'_>, variable: &'static Variable) -> Option<Self> {
        let parsed = match reader.text(variable)? {
            Ok(text) => Self::parse(text),
            Err(missing) => Ok(Self::Missing(missing)),
        };
        match parsed {
            Ok(reported) => {
                reader.question(variable, reported.value().and_then(number_of), reported.missing());
                Some(reported)
            }
            Err(problem) => {
                reader.refuse(variable.key, variable, &problem);
                None
            }
        }
    }

    fn write(&self, key: &str, out: &mut Map<String, Value>) {
        let value = match self {
            Self::Value(value) => json_of(value),
            Self::Missing(code) => Value::from(code.code()),
        };
        out.insert(key.to_owned(), value);
    }
}

impl<M: Measure> Field for Reported<Quantity<M>>
where
    Quantity<M>: QuantityKind,
{
    const KIND: Kind = <Quantity<M> as QuantityKind>::KIND;
    const MISSING_ALLOWED: bool = true;

    fn read(reader: &mut Reader<'_>, variable: &'static Variable) -> Option<Self> {
        let text = match reader.text(variable)? {
            Ok(text) => text,
            Err(missing) => return Some(Self::Missing(missing)),
        };
        if let Some(code) = MissingCode::from_code(text) {
            reader.question(variable, None, Some(code));
            return Some(Self::Missing(code));
        }
        let unit_key = variable.unit_key().unwrap_or_default();
        let Some(unit) = reader.entries.given(&unit_key) else {
            let units = M::DIMENSION.units_joined();
            reader.find(
                &unit_key,
                "unit_required",
                Weight::Hard,
                format!("{} has no unit; say in which of {units} the number was read.", variable.label),
            );
            return None;
        };
        match Quantity::parse(text, unit) {
            Ok(quantity) => {
                reader.question(variable, Some(quantity.canonical()), None);
                Some(Self::Value(quantity))
            }
            Err(problem) => {
                let at_unit = matches!(
                    problem,
                    ValueProblem::NotUnit(_) | ValueProblem::PerArea | ValueProblem::NotKerma
                );
                let key = if at_unit { unit_key.as_str() } else { variable.key };
                reader.refuse(key, variable, &problem);
                None
            }
        }
    }

    fn write(&self, key: &str, out: &mut Map<String, Value>) {
        match self {
            Self::Value(quantity) => {
                out.insert(key.to_owned(), json_number(quantity.typed()));
                out.insert(format!("{key}_unit"), Value::from(quantity.unit().ucum));
            }
            Self::Missing(code) => {
                out.insert(key.to_owned(), Value::from(code.code()));
            }
        }
    }
}

/// The number that a plain numeric value holds.
fn number_of<T: FieldValue>(value: &T) -> Option<f64> {
    match T::KIND {
        Kind::Whole { .. } | Kind::Decimal { .. } => value.text().parse().ok(),
        _ => None,
    }
}

/// A value as JSON: numbers as numbers, lists as arrays, the rest as text.
fn json_of<T: FieldValue>(value: &T) -> Value {
    match T::KIND {
        Kind::Whole { .. } | Kind::Decimal { .. } => json_number(&value.text()),
        Kind::Codes(_) => value.text().split(';').map(Value::from).collect(),
        _ => Value::from(value.text()),
    }
}

/// A number's own digits as JSON, or the text where it is a console's clock.
fn json_number(text: &str) -> Value {
    match serde_json::from_str(text) {
        Ok(number @ Value::Number(_)) => number,
        _ => Value::from(text),
    }
}
