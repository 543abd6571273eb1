//! The dictionary as a document: for the command line, the API and whoever
//! programs against the registry.

use crate::case::{CASE_CODE, CASE_GROUPS, Complication, FollowUp};
use crate::dictionary::{Need, Section, Variable};
use crate::finding::Weight;
use crate::reported::MissingCode;
use crate::rules::{CASE_RULES, COMPLICATION_RULES, FOLLOW_UP_RULES, Rule};
use crate::value::Kind;
use serde::Serialize;
use std::fmt::Write as _;

#[cfg(test)]
mod tests;

/// The version of the record's form; it changes with any field, code or rule.
pub const FORM_VERSION: &str = "2";

/// The whole codebook.
#[derive(Debug, Serialize)]
pub struct Codebook {
    /// The form version it describes.
    pub form_version: &'static str,
    /// The reasons for which a value may be absent.
    pub missing_codes: Vec<CodeRow>,
    /// The groups of variables in the order of the work.
    pub groups: Vec<GroupRow>,
    /// The rules between fields.
    pub rules: Vec<RuleRow>,
}

/// One code.
#[derive(Debug, Serialize)]
pub struct CodeRow {
    /// As written.
    pub code: &'static str,
    /// As shown.
    pub label: &'static str,
    /// What it means.
    #[serde(skip_serializing_if = "str::is_empty")]
    pub definition: &'static str,
}

/// One group of variables.
#[derive(Debug, Serialize)]
pub struct GroupRow {
    /// The file, or the part of the JSON, that holds it: `cases`, `complications` or `follow_ups`.
    pub file: &'static str,
    /// A heading.
    pub label: &'static str,
    /// The variables.
    pub variables: Vec<VariableRow>,
}

/// One variable.
#[derive(Debug, Serialize)]
pub struct VariableRow {
    /// The key.
    pub key: &'static str,
    /// A few words.
    pub label: &'static str,
    /// What to enter and why.
    pub help: &'static str,
    /// The kind of value in one word.
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// The unit, or the units to choose from.
    pub unit: String,
    /// Smallest and largest value accepted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits: Option<(f64, f64)>,
    /// Values outside raise a data query.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub query_limits: Option<(f64, f64)>,
    /// When it must be answered.
    pub required: String,
    /// Whether a missing code is an answer.
    pub missing_codes: bool,
    /// Who may see it.
    pub tier: &'static str,
    /// The codes, for a coded variable.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub codes: Vec<CodeRow>,
}

/// One rule between fields.
#[derive(Debug, Serialize)]
pub struct RuleRow {
    /// The rule's id.
    pub id: &'static str,
    /// Whether it refuses or asks.
    pub weight: Weight,
    /// The file whose fields it looks at.
    pub file: &'static str,
    /// The fields.
    pub fields: &'static [&'static str],
}

/// Builds the codebook from the record's own declarations.
pub fn codebook() -> Codebook {
    let case_groups = CASE_GROUPS.iter().enumerate().map(|(position, group)| {
        let code = (position == 0).then_some(&CASE_CODE);
        group_row("cases", group.label, code.into_iter().chain(group.variables))
    });
    let others = [
        group_row(
            "complications",
            "Complications",
            std::iter::once(&CASE_CODE).chain(Complication::VARIABLES),
        ),
        group_row("follow_ups", "Follow-up", std::iter::once(&CASE_CODE).chain(FollowUp::VARIABLES)),
    ];
    let mut rules = Vec::new();
    for topic in CASE_RULES {
        rules.extend(rule_rows("cases", topic));
    }
    rules.extend(rule_rows("complications", COMPLICATION_RULES));
    rules.extend(rule_rows("follow_ups", FOLLOW_UP_RULES));
    Codebook {
        form_version: FORM_VERSION,
        missing_codes: MissingCode::ALL
            .map(|code| CodeRow { code: code.code(), label: code.label(), definition: "" })
            .into(),
        groups: case_groups.chain(others).collect(),
        rules,
    }
}

fn rule_rows<T>(file: &'static str, rules: &'static [Rule<T>]) -> impl Iterator<Item = RuleRow> {
    rules.iter().map(move |rule| RuleRow { id: rule.id, weight: rule.weight, file, fields: rule.keys })
}

fn group_row<'a>(
    file: &'static str,
    label: &'static str,
    variables: impl Iterator<Item = &'a Variable>,
) -> GroupRow {
    GroupRow { file, label, variables: variables.map(variable_row).collect() }
}

fn variable_row(variable: &Variable) -> VariableRow {
    let codes = variable.codes().map(|list| {
        list.codes
            .iter()
            .map(|code| CodeRow { code: code.code, label: code.label, definition: code.definition })
            .collect()
    });
    VariableRow {
        key: variable.key,
        label: variable.label,
        help: variable.help.trim(),
        kind: kind_word(variable.kind),
        unit: unit_words(variable),
        limits: limits(variable.kind),
        query_limits: variable.query,
        required: match variable.need {
            Need::Always => "always".to_owned(),
            Need::When(condition) => format!("when {}", condition.words()),
            Need::Optional => "no".to_owned(),
        },
        missing_codes: variable.missing_allowed,
        tier: variable.tier.word(),
        codes: codes.unwrap_or_default(),
    }
}

fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Code(_) => "code",
        Kind::Codes(_) => "codes",
        Kind::Whole { .. } => "whole number",
        Kind::Decimal { .. } => "number",
        Kind::Quantity(_) => "quantity",
        Kind::Quarter => "quarter",
        Kind::CaseCode => "case code",
        Kind::OperatorCode => "operator code",
        Kind::RoomCode => "room code",
        Kind::Text { .. } => "short text",
    }
}

fn unit_words(variable: &Variable) -> String {
    match variable.kind {
        Kind::Quantity(dimension) => {
            format!("{} (in column {}_unit)", dimension.units_joined(), variable.key)
        }
        _ => variable.unit.to_owned(),
    }
}

/// The hard limits of a numeric kind; a quantity's are in its canonical unit.
fn limits(kind: Kind) -> Option<(f64, f64)> {
    match kind {
        Kind::Whole { min, max } => Some((min as f64, max as f64)),
        Kind::Decimal { min, max } => Some((min, max)),
        Kind::Quantity(dimension) => Some((dimension.min, dimension.max)),
        _ => None,
    }
}

impl Codebook {
    /// The codebook as Markdown, for people.
    pub fn to_markdown(&self) -> String {
        let mut out = format!("# Codebook, form version {}\n\nMissing codes:", self.form_version);
        for code in &self.missing_codes {
            let _ = write!(out, " `{}` {};", code.code, code.label);
        }
        out.push_str(" a blank is never read as zero.\n");
        for group in &self.groups {
            let _ = write!(out, "\n## {} (`{}`)\n", group.label, group.file);
            for variable in &group.variables {
                variable.write_markdown(&mut out);
            }
        }
        out.push_str("\n## Rules between fields\n\n");
        for rule in &self.rules {
            let verb = if rule.weight == Weight::Hard { "refuses" } else { "asks" };
            let _ = writeln!(out, "- `{}` {verb}; `{}`: {}", rule.id, rule.file, rule.fields.join(", "));
        }
        out
    }

    /// One row a variable, codes joined by `;`, for spreadsheets.
    pub fn rows(&self) -> impl Iterator<Item = [String; 11]> + '_ {
        let pair = |limits: Option<(f64, f64)>| {
            limits.map_or([String::new(), String::new()], |(a, b)| [a.to_string(), b.to_string()])
        };
        self.groups.iter().flat_map(move |group| {
            group.variables.iter().map(move |variable| {
                let [min, max] = pair(variable.limits);
                let [query_min, query_max] = pair(variable.query_limits);
                let codes: Vec<&str> = variable.codes.iter().map(|code| code.code).collect();
                [
                    group.file.to_owned(),
                    variable.key.to_owned(),
                    variable.label.to_owned(),
                    variable.kind.to_owned(),
                    variable.unit.clone(),
                    format!("{min}..{max}").trim_matches('.').to_owned(),
                    format!("{query_min}..{query_max}").trim_matches('.').to_owned(),
                    variable.required.clone(),
                    variable.tier.to_owned(),
                    codes.join(";"),
                    variable.help.to_owned(),
                ]
            })
        })
    }

    /// The header of [`Codebook::rows`].
    pub const ROW_HEADER: [&'static str; 11] = [
        "file",
        "key",
        "label",
        "type",
        "unit",
        "limits",
        "query_limits",
        "required",
        "tier",
        "codes",
        "help",
    ];
}

impl VariableRow {
    fn write_markdown(&self, out: &mut String) {
        let unit = if self.unit.is_empty() { String::new() } else { format!(", {}", self.unit) };
        let _ =
            write!(out, "\n### `{}` {}\n\n{}\n\nType: {}{unit}.", self.key, self.label, self.help, self.kind);
        if let Some((min, max)) = self.limits {
            let _ = write!(out, " Accepted: {min} to {max}.");
        }
        if let Some((min, max)) = self.query_limits {
            let _ = write!(out, " Asked about outside {min} to {max}.");
        }
        let _ = writeln!(out, " Required: {}. Tier: {}.", self.required, self.tier);
        if !self.codes.is_empty() {
            out.push('\n');
        }
        for code in &self.codes {
            let _ = writeln!(out, "- `{}` {}: {}", code.code, code.label, code.definition.trim());
        }
    }
}
