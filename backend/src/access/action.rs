//! One marker type for each action of the policy, so that the compiler tells permits apart.

use quietbeam_schema::access::Action as PolicyAction;

mod sealed {
    pub trait Sealed {}
}

/// Something that needs a permit.
pub trait Action: sealed::Sealed + Send + 'static {
    /// Whether the action waits for all writers in flight and keeps new ones waiting: a
    /// data cut that a slow writer could slip under would not be frozen.
    const ALONE: bool = false;
}

/// An action of the policy table.
pub trait Policed: Action {
    /// Its row in the table.
    const POLICY: PolicyAction;
}

macro_rules! markers {
    ($($name:ident $({ $($item:tt)* })?),+ $(,)?) => {
        $(
            #[doc = concat!("See [`PolicyAction::", stringify!($name), "`].")]
            pub struct $name;
            impl sealed::Sealed for $name {}
            impl Action for $name { $($($item)*)? }
            impl Policed for $name {
                const POLICY: PolicyAction = PolicyAction::$name;
            }
        )+

        #[cfg(test)]
        const MARKED: &[PolicyAction] = &[$(<$name as Policed>::POLICY),+];
    };
}

markers! {
    SubmitCase,
    ReadCase,
    ChangeCase,
    RecordFollowUp,
    ReadHistory,
    ImportFiles,
    ExportCases,
    IssueCaseCodes,
    ListQueries,
    RaiseQuery,
    AnswerQuery,
    CloseQuery,
    ReadScreeningLog,
    WriteScreeningLog,
    SignScreeningLog,
    RegisterPlan,
    ReadPlans,
    ReadOwnPicture,
    WatchSafety,
    JudgeEvents,
    ReadJudgements,
    TakeDataCut { const ALONE: bool = true; },
    ReadDataCuts,
    ExportDeidentified,
    RunComparison,
    ReadComparisons,
    WriteReport,
    DraftSummary,
    ApproveSummary,
    PublishSummary,
    WithdrawSummary,
    ReadSummaryDrafts,
    ReadAudit,
    ManageMembers,
    ManageCentres,
    ReadCentres,
    KeepOwnAccount,
    Calculate,
}

/// Finding out who asks. Only this module's siblings can do it: it stands outside the
/// policy, because whoever asks has no role yet.
pub struct SignIn;
impl sealed::Sealed for SignIn {}
impl Action for SignIn {}

/// Reading what was published: open to everyone, so it stands outside the policy too.
pub struct ReadPublished;
impl sealed::Sealed for ReadPublished {}
impl Action for ReadPublished {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_action_of_the_policy_has_its_marker() {
        assert_eq!(MARKED, PolicyAction::ALL);
    }
}
