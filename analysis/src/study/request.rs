//! What is asked of a comparison, fixed before anyone looks at the numbers.

use crate::methods::interval::{Confidence, ConfidenceError};
use crate::methods::non_inferiority::MarginSize;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};
use serde::{Deserialize, Serialize};

/// A request that can be carried out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "RequestForm")]
pub struct ComparisonRequest {
    success_margin: MarginSize,
    major_harm_margin: MarginSize,
    level: Confidence,
    procedure_groups: Vec<ProcedureGroup>,
}

/// A request as a person gave it; what is left out takes its default.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RequestForm {
    /// Margin for acute success as a proportion; 0.03 if left out.
    pub success_margin: Option<f64>,
    /// Margin for major complications within 30 days as a proportion; 0.01 if left out.
    pub major_harm_margin: Option<f64>,
    /// Two-sided confidence level; 0.95 if left out.
    pub level: Option<f64>,
    /// Codes of the procedure groups to compare; all if left out.
    pub procedure_groups: Option<Vec<String>>,
}

/// Why a request cannot be carried out, with the mend.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RequestRefusal {
    /// A margin of one or more: points were probably typed.
    #[error(
        "{field} is {given}, which as a proportion is {percent} %; if you mean {given} points, write {meant}",
        percent = shown(*given * 100.0), meant = shown(*given / 100.0)
    )]
    MarginInPoints {
        /// The field's key.
        field: &'static str,
        /// The number given.
        given: f64,
    },
    /// A margin of zero, below zero or not a number.
    #[error(
        "{field} is {given}; write how much worse is still acceptable, above 0 and without a sign, such as 0.03 for 3 points"
    )]
    MarginNotPositive {
        /// The field's key.
        field: &'static str,
        /// The number given.
        given: f64,
    },
    /// A margin of half or more: nothing would be left to show.
    #[error(
        "{field} is {given}, half of all patients or more; a margin lies below 0.5, such as 0.03 for 3 points"
    )]
    MarginTooWide {
        /// The field's key.
        field: &'static str,
        /// The number given.
        given: f64,
    },
    /// A level that is none, or too low to claim anything with.
    #[error("level is {given}; write a two-sided level from 0.9 to 0.999, such as 0.95")]
    Level {
        /// The number given.
        given: f64,
    },
    /// A group that does not exist.
    #[error("\"{given}\" is not a procedure group; use some of {}, or leave procedure_groups out to compare all", ProcedureGroup::LIST.codes_joined())]
    UnknownGroup {
        /// The text given, shortened.
        given: String,
    },
    /// A list without groups.
    #[error(
        "procedure_groups is empty, so nothing would be compared; name at least one group, or leave it out to compare all"
    )]
    NoGroups,
}

impl RequestRefusal {
    /// The key of the field to mend.
    pub fn field(&self) -> &'static str {
        match self {
            Self::MarginInPoints { field, .. }
            | Self::MarginNotPositive { field, .. }
            | Self::MarginTooWide { field, .. } => field,
            Self::Level { .. } => "level",
            Self::UnknownGroup { .. } | Self::NoGroups => "procedure_groups",
        }
    }
}

/// A number with no more digits than it needs.
fn shown(number: f64) -> String {
    let rounded = (number * 1e6).round() / 1e6;
    rounded.to_string()
}

impl ComparisonRequest {
    /// The margin for acute success: the lower limit of the difference must lie above its negative.
    pub fn success_margin(&self) -> MarginSize {
        self.success_margin
    }

    /// The margin for major complications: the upper limit of the difference must lie below it.
    pub fn major_harm_margin(&self) -> MarginSize {
        self.major_harm_margin
    }

    /// The two-sided confidence level of every interval.
    pub fn level(&self) -> Confidence {
        self.level
    }

    /// The procedure groups compared, in the list's order.
    pub fn procedure_groups(&self) -> &[ProcedureGroup] {
        &self.procedure_groups
    }
}

impl TryFrom<RequestForm> for ComparisonRequest {
    type Error = RequestRefusal;

    fn try_from(form: RequestForm) -> Result<Self, RequestRefusal> {
        let level = form.level.unwrap_or(0.95);
        Ok(Self {
            success_margin: margin("success_margin", form.success_margin.unwrap_or(0.03))?,
            major_harm_margin: margin("major_harm_margin", form.major_harm_margin.unwrap_or(0.01))?,
            level: confidence(level).map_err(|error| RequestRefusal::Level { given: error.level })?,
            procedure_groups: groups(form.procedure_groups)?,
        })
    }
}

fn margin(field: &'static str, given: f64) -> Result<MarginSize, RequestRefusal> {
    if given >= 1.0 {
        return Err(RequestRefusal::MarginInPoints { field, given });
    }
    if given >= 0.5 {
        return Err(RequestRefusal::MarginTooWide { field, given });
    }
    MarginSize::new(given).map_err(|error| RequestRefusal::MarginNotPositive { field, given: error.size })
}

/// A level below 0.9 would call an error of one in ten evidence.
fn confidence(level: f64) -> Result<Confidence, ConfidenceError> {
    if (0.9..=0.999).contains(&level) { Confidence::new(level) } else { Err(ConfidenceError { level }) }
}

fn groups(given: Option<Vec<String>>) -> Result<Vec<ProcedureGroup>, RequestRefusal> {
    let Some(codes) = given else {
        return Ok(ProcedureGroup::all().to_vec());
    };
    if codes.is_empty() {
        return Err(RequestRefusal::NoGroups);
    }
    let read = |code: &String| {
        ProcedureGroup::from_code(code)
            .ok_or_else(|| RequestRefusal::UnknownGroup { given: code.chars().take(40).collect() })
    };
    let mut groups = codes.iter().map(read).collect::<Result<Vec<_>, _>>()?;
    groups.sort_unstable();
    groups.dedup();
    Ok(groups)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use super::*;

    fn refused(json: &str, sentence: &str) {
        let error = serde_json::from_str::<ComparisonRequest>(json).unwrap_err().to_string();
        assert!(error.contains(sentence), "{json}: {error}");
    }

    #[test]
    fn what_is_left_out_takes_its_default() {
        let request: ComparisonRequest = serde_json::from_str("{}").unwrap();
        assert_eq!(request.success_margin().size(), 0.03);
        assert_eq!(request.major_harm_margin().size(), 0.01);
        assert_eq!(request.level(), Confidence::NINETY_FIVE);
        assert_eq!(request.procedure_groups().len(), 7);
    }

    #[test]
    fn a_margin_cannot_be_misread() {
        refused(
            r#"{"success_margin": 3}"#,
            "is 3, which as a proportion is 300 %; if you mean 3 points, write 0.03",
        );
        refused(r#"{"success_margin": 1.0}"#, "write 0.01");
        refused(r#"{"major_harm_margin": -0.01}"#, "above 0 and without a sign");
        refused(r#"{"major_harm_margin": 0}"#, "above 0 and without a sign");
        refused(r#"{"major_harm_margin": 0.5}"#, "below 0.5");
        for right in ["0.499", "0.0001"] {
            let json = format!(r#"{{"success_margin": {right}}}"#);
            assert!(serde_json::from_str::<ComparisonRequest>(&json).is_ok(), "{right}");
        }
    }

    #[test]
    fn what_is_wrong_is_named_with_its_mend() {
        refused(r#"{"level": 0.05}"#, "such as 0.95");
        refused(r#"{"level": 95}"#, "such as 0.95");
        refused(r#"{"level": 0.89}"#, "from 0.9");
        refused(r#"{"procedure_groups": []}"#, "leave it out to compare all");
        refused(r#"{"procedure_groups": ["avnrt"]}"#, "use some of svt, flutter");
        refused(r#"{"margin": 0.03}"#, "unknown field `margin`");
    }

    #[test]
    fn groups_stand_in_the_order_of_the_list_and_once() {
        let json = r#"{"procedure_groups": ["vt", "SVT", "vt"]}"#;
        let request: ComparisonRequest = serde_json::from_str(json).unwrap();
        assert_eq!(request.procedure_groups(), [ProcedureGroup::Svt, ProcedureGroup::Vt]);
    }
}
