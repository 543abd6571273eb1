//! The trail of every write: who, when, what, before, after, why.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::ids::{CentreCode, IdError, MemberId};

/// Who did it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Actor {
    /// A signed-in member.
    Member(MemberId),
    /// Someone at the command line of the server, or one of its jobs.
    Operator,
    /// Someone who is not signed in (a failed sign-in).
    Nobody,
}

impl fmt::Display for Actor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Actor::Member(id) => id.fmt(f),
            Actor::Operator => f.write_str("operator"),
            Actor::Nobody => f.write_str("nobody"),
        }
    }
}

impl FromStr for Actor {
    type Err = IdError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text {
            "operator" => Ok(Actor::Operator),
            "nobody" => Ok(Actor::Nobody),
            id => id.parse().map(Actor::Member),
        }
    }
}

impl TryFrom<String> for Actor {
    type Error = IdError;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<Actor> for String {
    fn from(actor: Actor) -> String {
        actor.to_string()
    }
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$word_doc:meta])* $word:ident = $text:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum $name { $($(#[$word_doc])* $word,)+ }

        impl $name {
            /// All of them.
            pub const ALL: &'static [$name] = &[$($name::$word),+];

            /// The word in lower snake case.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $($name::$word => $text),+ }
            }

            /// Reads the word back.
            #[must_use]
            pub fn from_name(text: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|word| word.name() == text)
            }
        }
    };
}

words! {
    /// What an event is about.
    Subject {
        /// A case.
        Case = "case",
        /// A case that is being entered.
        Draft = "draft",
        /// A batch of case codes.
        CaseCodes = "case_codes",
        /// A question about a case.
        DataQuery = "data_query",
        /// A centre.
        Centre = "centre",
        /// A room of a centre.
        Room = "room",
        /// An approval of a centre.
        Approval = "approval",
        /// A line of the screening log.
        ScreeningLog = "screening_log",
        /// A member.
        Member = "member",
        /// A sign-in.
        SignIn = "sign_in",
        /// The receipt of an import.
        Import = "import",
        /// A version of an analysis plan.
        AnalysisPlan = "analysis_plan",
        /// Files that are being looked through or stored.
        ImportJob = "import_job",
        /// An event that is judged.
        JudgedEvent = "judged_event",
        /// A data cut.
        DataCut = "data_cut",
        /// A comparison.
        Comparison = "comparison",
        /// A safety summary.
        SafetySummary = "safety_summary",
        /// The registry itself.
        Registry = "registry",
    }
}

impl Subject {
    /// Whether before and after may hold clinical values, which a reader of the trail
    /// without access to cases must not see.
    #[must_use]
    pub fn is_clinical(self) -> bool {
        matches!(
            self,
            Subject::Case
                | Subject::DataQuery
                | Subject::ScreeningLog
                | Subject::JudgedEvent
                | Subject::Comparison
        )
    }
}

words! {
    /// What was done.
    Deed {
        /// A case was sent in.
        CaseSubmitted = "case_submitted",
        /// A submitted case was corrected.
        CaseChanged = "case_changed",
        /// Follow-up was added to a case.
        FollowUpRecorded = "follow_up_recorded",
        /// A case was begun as a draft.
        DraftBegun = "draft_begun",
        /// A draft was thrown away.
        DraftDiscarded = "draft_discarded",
        /// A draft was sent in as a case.
        DraftSubmitted = "draft_submitted",
        /// The intended strategy was entered, and when, while the case was a draft.
        StrategyDeclared = "strategy_declared",
        /// Case codes were issued.
        CaseCodesIssued = "case_codes_issued",
        /// A question was raised.
        QueryRaised = "query_raised",
        /// A question was answered.
        QueryAnswered = "query_answered",
        /// A question was closed.
        QueryClosed = "query_closed",
        /// A question was opened again.
        QueryReopened = "query_reopened",
        /// A centre was created.
        CentreCreated = "centre_created",
        /// A centre was changed.
        CentreChanged = "centre_changed",
        /// A room was entered or changed.
        RoomRecorded = "room_recorded",
        /// An approval of a centre was recorded.
        ApprovalRecorded = "approval_recorded",
        /// An approval of a centre was renewed.
        ApprovalRenewed = "approval_renewed",
        /// An approval of a centre was taken back.
        ApprovalWithdrawn = "approval_withdrawn",
        /// A line of the screening log was entered or corrected.
        ScreeningRecorded = "screening_recorded",
        /// A line of the screening log was signed.
        ScreeningSigned = "screening_signed",
        /// A member was created.
        MemberCreated = "member_created",
        /// The role or the centres of a member were changed.
        MemberChanged = "member_changed",
        /// A member was disabled.
        MemberDisabled = "member_disabled",
        /// A disabled member was enabled again.
        MemberEnabled = "member_enabled",
        /// A password was set.
        PasswordChanged = "password_changed",
        /// A password was to be changed, and the present one was typed wrong.
        PasswordRefused = "password_refused",
        /// A member chose how the pages look and work.
        PreferencesKept = "preferences_kept",
        /// Someone signed in.
        SignedIn = "signed_in",
        /// A sign-in failed.
        SignInFailed = "sign_in_failed",
        /// Someone signed out.
        SignedOut = "signed_out",
        /// A refresh token was used twice; the sign-in was ended.
        RefreshReused = "refresh_reused",
        /// Files were brought in to be looked through; nothing of them is stored yet.
        ImportBegun = "import_begun",
        /// Files that were brought in were thrown away, or their day was over.
        ImportDropped = "import_dropped",
        /// Files were imported.
        FilesImported = "files_imported",
        /// A centre's own cases were taken out as files.
        CasesExported = "cases_exported",
        /// An analysis plan was registered.
        PlanRegistered = "plan_registered",
        /// A registered plan was amended.
        PlanAmended = "plan_amended",
        /// How grave an event was, was judged.
        EventJudged = "event_judged",
        /// A data cut was taken.
        DataCutTaken = "data_cut_taken",
        /// De-identified rows of a data cut were taken out.
        RowsExported = "rows_exported",
        /// A comparison was computed.
        ComparisonRun = "comparison_run",
        /// What a comparison found was looked at.
        ComparisonOpened = "comparison_opened",
        /// Something was written into the report of a comparison, or taken back.
        ReportWritten = "report_written",
        /// A summary was drafted.
        SummaryDrafted = "summary_drafted",
        /// What could be learnt from a draft was asked anew, because more was published meanwhile.
        SummaryAttacked = "summary_attacked",
        /// A summary on its way was refused: beside what was published it would give a count away.
        SummaryRefused = "summary_refused",
        /// The disclosure of a summary was approved.
        SummaryApproved = "summary_approved",
        /// A summary was published.
        SummaryPublished = "summary_published",
        /// A published summary was withdrawn.
        SummaryWithdrawn = "summary_withdrawn",
        /// The server's clock was found behind the last write.
        ClockWentBack = "clock_went_back",
    }
}

/// One deed, before the store adds who, when and in which request.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// What was done.
    pub deed: Deed,
    /// What it was done to.
    pub subject: Subject,
    /// The identifier of the subject, as text.
    pub subject_id: String,
    /// The centre it belongs to, if any.
    pub centre: Option<CentreCode>,
    /// The revision that came of it, for what has revisions.
    pub revision: Option<i64>,
    /// The values that were replaced.
    pub before: Option<Value>,
    /// The values that replaced them.
    pub after: Option<Value>,
    /// Why, where a reason is asked for.
    pub reason: Option<String>,
}

impl Event {
    /// An event with subject and nothing else.
    #[must_use]
    pub fn new(deed: Deed, subject: Subject, subject_id: impl fmt::Display) -> Self {
        Self {
            deed,
            subject,
            subject_id: subject_id.to_string(),
            centre: None,
            revision: None,
            before: None,
            after: None,
            reason: None,
        }
    }

    /// Names the centre.
    #[must_use]
    pub fn at_centre(self, centre: CentreCode) -> Self {
        Self { centre: Some(centre), ..self }
    }

    /// Names the revision.
    #[must_use]
    pub fn revision(self, revision: i64) -> Self {
        Self { revision: Some(revision), ..self }
    }

    /// Names the values replaced and what replaced them.
    #[must_use]
    pub fn values(self, before: Option<Value>, after: Option<Value>) -> Self {
        Self { before, after, ..self }
    }

    /// Names the reason.
    #[must_use]
    pub fn because(self, reason: Option<String>) -> Self {
        Self { reason, ..self }
    }
}

/// Why a change was made: 3 to 500 characters of text that say something.
#[derive(Clone, PartialEq, Eq)]
pub struct Reason(String);

/// Why a text is no reason.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReasonError {
    /// Empty, blank or shorter than three characters.
    #[error("give the reason for this change in at least 3 characters")]
    TooShort,
    /// Longer than 500 characters.
    #[error("the reason has {found} characters; shorten it to 500")]
    TooLong {
        /// How many characters were found.
        found: usize,
    },
    /// Contains a line break or another control character.
    #[error("the reason contains a control character; write it on one line")]
    ControlCharacter,
}

impl Reason {
    /// The reason as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl FromStr for Reason {
    type Err = ReasonError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let found = text.chars().count();
        if found < 3 {
            Err(ReasonError::TooShort)
        } else if found > 500 {
            Err(ReasonError::TooLong { found })
        } else if text.chars().any(char::is_control) {
            Err(ReasonError::ControlCharacter)
        } else {
            Ok(Self(text.to_owned()))
        }
    }
}

/// The fields in which two records differ, as two objects from path to value. A field that
/// exists on one side only is missing on the other. Paths join object keys and array
/// positions with a dot.
#[must_use]
pub fn differing_fields(before: &Value, after: &Value) -> (Value, Value) {
    let (mut old, mut new) = (BTreeMap::new(), BTreeMap::new());
    collect_leaves(before, String::new(), &mut old);
    collect_leaves(after, String::new(), &mut new);
    let changed = |side: &BTreeMap<String, &Value>, other: &BTreeMap<String, &Value>| {
        let fields: Map<String, Value> = side
            .iter()
            .filter(|(path, value)| other.get(*path) != Some(value))
            .map(|(path, value)| (path.clone(), (*value).clone()))
            .collect();
        Value::Object(fields)
    };
    (changed(&old, &new), changed(&new, &old))
}

fn collect_leaves<'a>(value: &'a Value, path: String, leaves: &mut BTreeMap<String, &'a Value>) {
    let join = |key: &str| {
        if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
    };
    match value {
        Value::Object(fields) if !fields.is_empty() => {
            for (key, field) in fields {
                collect_leaves(field, join(key), leaves);
            }
        }
        Value::Array(items) if !items.is_empty() => {
            for (index, item) in items.iter().enumerate() {
                collect_leaves(item, join(&index.to_string()), leaves);
            }
        }
        leaf => {
            leaves.insert(path, leaf);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use serde_json::json;

    use super::*;

    #[test]
    fn names_exactly_the_fields_that_differ() {
        let before = json!({"dose": {"value": 1, "unit": "mGy"}, "ice": true, "complications": [{"kind": "tamponade"}]});
        let after =
            json!({"dose": {"value": 2, "unit": "mGy"}, "complications": [], "ice": true, "note": null});
        let (old, new) = differing_fields(&before, &after);
        assert_eq!(old, json!({"complications.0.kind": "tamponade", "dose.value": 1}));
        assert_eq!(new, json!({"complications": [], "dose.value": 2, "note": null}));
        assert_eq!(differing_fields(&before, &before), (json!({}), json!({})));
    }

    #[test]
    fn a_reason_must_say_something() {
        let check = |text: &str, expected: ReasonError| {
            assert_eq!(text.parse::<Reason>().err(), Some(expected));
        };
        check("", ReasonError::TooShort);
        check("      ", ReasonError::TooShort);
        check("ab", ReasonError::TooShort);
        check(&"x".repeat(501), ReasonError::TooLong { found: 501 });
        check("two\nlines", ReasonError::ControlCharacter);
        assert_eq!(" typing error ".parse::<Reason>().unwrap().as_str(), "typing error");
        assert!("x".repeat(500).parse::<Reason>().is_ok());
    }

    #[test]
    fn words_are_written_as_serde_writes_them() {
        for deed in Deed::ALL {
            assert_eq!(serde_json::to_value(deed).unwrap(), json!(deed.name()));
            assert_eq!(Deed::from_name(deed.name()), Some(*deed));
        }
        for subject in Subject::ALL {
            assert_eq!(serde_json::to_value(subject).unwrap(), json!(subject.name()));
        }
    }
}
