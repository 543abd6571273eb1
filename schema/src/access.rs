//! Who may do what: the roles, the actions and the one policy table.
//!
//! Three rules shape the table. Central roles never edit what a centre entered: they ask.
//! Whoever approves the disclosure of a summary does not publish it. The administrator runs
//! the registry and sees no clinical value. The public needs no action: what is published
//! is open to everyone.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::ids::CentreCode;

/// What a member is in the network. A member has exactly one role.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Enters and corrects the cases of the own centre and answers queries.
    Coordinator,
    /// The physician answerable for the own centre: signs the denominators.
    CentreLead,
    /// Reviews the data of all centres: raises and closes queries, approves disclosure.
    Monitor,
    /// Judges events blind to strategy, dose and imaging.
    Adjudicator,
    /// Freezes data cuts and runs comparisons on de-identified rows.
    Investigator,
    /// Composes and publishes aggregate summaries.
    Society,
    /// Runs members and centres; sees no clinical value.
    Administrator,
}

/// How far an action reaches for a role.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scope {
    /// Not at all.
    No,
    /// The centres the member belongs to (and what is the member's own).
    OwnCentres,
    /// Every centre.
    AllCentres,
}

/// A name that no role or action has.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("there is no such role; choose one of {}", Role::ALL.map(Role::name).join(", "))]
pub struct UnknownRole;

macro_rules! actions {
    ($($(#[$doc:meta])* $name:ident = $text:literal : $($scope:ident)+;)+) => {
        /// Everything that needs a permit.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Action {
            $($(#[$doc])* $name,)+
        }

        impl Action {
            /// All actions in the order of the policy table.
            pub const ALL: &'static [Action] = &[$(Action::$name),+];

            /// The action in lower snake case.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Action::$name => $text),+ }
            }

            /// The row of the policy table, in the order of [`Role::ALL`].
            fn row(self) -> [Scope; 7] {
                // The single letters keep the table readable as a table.
                use Scope::{AllCentres as All, No as X, OwnCentres as Own};
                match self { $(Action::$name => [$($scope),+]),+ }
            }
        }
    };
}

actions! {
    //                                              coordinator, centre lead, monitor, adjudicator, investigator, society, administrator
    /// Send in a new case.
    SubmitCase = "submit_case":                     Own Own X   X   X   X   X;
    /// Read the current record of a case.
    ReadCase = "read_case":                         Own Own All X   All X   X;
    /// Correct a submitted case, with a reason.
    ChangeCase = "change_case":                     Own Own X   X   X   X   X;
    /// Add what became known after discharge.
    RecordFollowUp = "record_follow_up":            Own Own X   X   X   X   X;
    /// Read every revision of a case with who, when and why.
    ReadHistory = "read_history":                   Own Own All X   X   X   X;
    /// Take in files of cases.
    ImportFiles = "import_files":                   Own Own X   X   X   X   X;
    /// Take the own cases out again, as files that can be taken in.
    ExportCases = "export_cases":                   Own Own X   X   X   X   X;
    /// Have case codes issued ahead of the procedures.
    IssueCaseCodes = "issue_case_codes":            Own Own X   X   X   X   X;
    /// See the questions about cases.
    ListQueries = "list_queries":                   Own Own All X   X   X   X;
    /// Ask a centre about a case.
    RaiseQuery = "raise_query":                     X   X   All X   X   X   X;
    /// Answer a question.
    AnswerQuery = "answer_query":                   Own Own X   X   X   X   X;
    /// Close a question or open it again.
    CloseQuery = "close_query":                     X   X   All X   X   X   X;
    /// Read the log of procedures performed, eligible and submitted.
    ReadScreeningLog = "read_screening_log":        Own Own All X   All X   X;
    /// Enter or correct the log.
    WriteScreeningLog = "write_screening_log":      Own Own X   X   X   X   X;
    /// Sign the log as complete.
    SignScreeningLog = "sign_screening_log":        X   Own X   X   X   X   X;
    /// Register an analysis plan, and amend it.
    RegisterPlan = "register_plan":               X   X   X   X   All X   X;
    /// Read analysis plans and what was changed in them.
    ReadPlans = "read_plans":                     X   X   All X   All All X;
    /// See a centre's own picture, with a few rounded numbers of the whole network beside it.
    ReadOwnPicture = "read_own_picture":            Own Own All X   X   X   X;
    /// Watch harm case by case beside what is expected: a lead the own centre, a monitor all.
    WatchSafety = "watch_safety":                   X   Own All X   X   X   X;
    /// Judge how grave events were, blind to strategy, dose and imaging.
    JudgeEvents = "judge_events":                   X   X   X   All X   X   X;
    /// See which events were judged, and how.
    ReadJudgements = "read_judgements":             X   X   All X   X   X   X;
    /// Freeze a data cut.
    TakeDataCut = "take_data_cut":                  X   X   X   X   All X   X;
    /// See the data cuts: name, time, size and hash.
    ReadDataCuts = "read_data_cuts":                X   X   All X   All All X;
    /// Take out de-identified rows of a data cut.
    ExportDeidentified = "export_deidentified":     X   X   X   X   All X   X;
    /// Compare the strategies on a data cut.
    RunComparison = "run_comparison":               X   X   X   X   All X   X;
    /// Read comparisons, unsuppressed.
    ReadComparisons = "read_comparisons":           X   X   All X   All X   X;
    /// Write what only a person can say in the report of a comparison.
    WriteReport = "write_report":                   X   X   X   X   All X   X;
    /// Compose a safety summary from what passed disclosure control.
    DraftSummary = "draft_summary":                 X   X   X   X   X   All X;
    /// Approve the disclosure of a summary.
    ApproveSummary = "approve_summary":             X   X   All X   X   X   X;
    /// Publish an approved summary.
    PublishSummary = "publish_summary":             X   X   X   X   X   All X;
    /// Withdraw a published summary, with a public reason.
    WithdrawSummary = "withdraw_summary":           X   X   All X   X   All X;
    /// Read summaries that are not published.
    ReadSummaryDrafts = "read_summary_drafts":      X   X   All X   X   All X;
    /// Read who did what and when, without clinical values.
    ReadAudit = "read_audit":                       Own Own All X   X   X   All;
    /// Create and disable members, change roles and centres.
    ManageMembers = "manage_members":               X   X   X   X   X   X   All;
    /// Create centres and rooms.
    ManageCentres = "manage_centres":               X   X   X   X   X   X   All;
    /// See centres and rooms.
    ReadCentres = "read_centres":                   Own Own All X   All X   All;
    /// See the own account and its sign-ins, end them, change the own password.
    KeepOwnAccount = "keep_own_account":            Own Own Own Own Own Own Own;
    /// Put numbers one brings through the methods; touches nothing in the registry.
    Calculate = "calculate":                        Own Own Own Own Own Own Own;
}

impl Role {
    /// All roles in the order of the policy table.
    pub const ALL: [Role; 7] = [
        Role::Coordinator,
        Role::CentreLead,
        Role::Monitor,
        Role::Adjudicator,
        Role::Investigator,
        Role::Society,
        Role::Administrator,
    ];

    /// The role in lower snake case.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Role::Coordinator => "coordinator",
            Role::CentreLead => "centre_lead",
            Role::Monitor => "monitor",
            Role::Adjudicator => "adjudicator",
            Role::Investigator => "investigator",
            Role::Society => "society",
            Role::Administrator => "administrator",
        }
    }

    /// How far `action` reaches for this role.
    #[must_use]
    pub fn scope(self, action: Action) -> Scope {
        action.row()[self as usize]
    }

    /// Whether a member of this role belongs to at least one centre.
    #[must_use]
    pub fn belongs_to_centres(self) -> bool {
        matches!(self, Role::Coordinator | Role::CentreLead)
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Role {
    type Err = UnknownRole;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Role::ALL.into_iter().find(|role| role.name() == text).ok_or(UnknownRole)
    }
}

impl fmt::Display for Action {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// The role of a member with the centres it belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Membership {
    role: Role,
    centres: BTreeSet<CentreCode>,
}

/// Why role and centres do not fit together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MembershipError {
    /// A centre role without a centre.
    #[error("centres: a {role} belongs to at least one centre; name it")]
    NoCentre {
        /// The role.
        role: Role,
    },
    /// A central role with a centre.
    #[error("centres: a {role} belongs to no centre; leave the list empty")]
    CentreForCentralRole {
        /// The role.
        role: Role,
    },
}

impl Membership {
    /// Joins a role and its centres.
    ///
    /// # Errors
    /// When a centre role has no centre or a central role has one.
    pub fn new(role: Role, centres: BTreeSet<CentreCode>) -> Result<Self, MembershipError> {
        match (role.belongs_to_centres(), centres.is_empty()) {
            (true, true) => Err(MembershipError::NoCentre { role }),
            (false, false) => Err(MembershipError::CentreForCentralRole { role }),
            _ => Ok(Self { role, centres }),
        }
    }

    /// The role.
    #[must_use]
    pub fn role(&self) -> Role {
        self.role
    }

    /// The centres.
    #[must_use]
    pub fn centres(&self) -> &BTreeSet<CentreCode> {
        &self.centres
    }
}

/// The whole policy as a text table, one line an action, for people to review.
#[must_use]
pub fn policy_table() -> String {
    let mut table = format!("{:<22}", "action");
    for role in Role::ALL {
        table.push_str(&format!("{:<15}", role.name()));
    }
    let mut lines = vec![table.trim_end().to_owned()];
    for action in Action::ALL {
        let mut line = format!("{:<22}", action.name());
        for role in Role::ALL {
            let scope = match role.scope(*action) {
                Scope::No => "-",
                Scope::OwnCentres => "own",
                Scope::AllCentres => "all",
            };
            line.push_str(&format!("{scope:<15}"));
        }
        lines.push(line.trim_end().to_owned());
    }
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    const CENTRAL: [Role; 5] =
        [Role::Monitor, Role::Adjudicator, Role::Investigator, Role::Society, Role::Administrator];

    #[test]
    fn central_roles_never_edit_what_a_centre_entered() {
        for action in [
            Action::SubmitCase,
            Action::ChangeCase,
            Action::RecordFollowUp,
            Action::ImportFiles,
            Action::AnswerQuery,
            Action::WriteScreeningLog,
            Action::SignScreeningLog,
        ] {
            for role in CENTRAL {
                assert_eq!(role.scope(action), Scope::No, "{role} {action}");
            }
        }
    }

    #[test]
    fn centre_roles_reach_no_other_centre() {
        for role in Role::ALL.into_iter().filter(|role| role.belongs_to_centres()) {
            for action in Action::ALL {
                assert_ne!(role.scope(*action), Scope::AllCentres, "{role} {action}");
            }
        }
    }

    #[test]
    fn no_role_both_approves_and_publishes() {
        for role in Role::ALL {
            let approves = role.scope(Action::ApproveSummary) != Scope::No;
            let publishes = role.scope(Action::PublishSummary) != Scope::No;
            assert!(!(approves && publishes), "{role}");
        }
    }

    #[test]
    fn the_administrator_sees_no_clinical_value() {
        for action in [
            Action::ReadCase,
            Action::ReadHistory,
            Action::ListQueries,
            Action::ReadScreeningLog,
            Action::ReadOwnPicture,
            Action::ReadComparisons,
            Action::ReadSummaryDrafts,
        ] {
            assert_eq!(Role::Administrator.scope(action), Scope::No, "{action}");
        }
    }

    #[test]
    fn centres_go_with_centre_roles_only() {
        let one = BTreeSet::from([CentreCode::from_random(7)]);
        for role in Role::ALL {
            assert_eq!(Membership::new(role, one.clone()).is_ok(), role.belongs_to_centres());
            assert_eq!(Membership::new(role, BTreeSet::new()).is_ok(), !role.belongs_to_centres());
        }
    }

    #[test]
    fn names_read_back() {
        for role in Role::ALL {
            assert_eq!(role.name().parse(), Ok(role));
        }
        assert_eq!("nurse".parse::<Role>(), Err(UnknownRole));
    }
}
