//! The analysis plan: what will be compared, by which method, against which margin, written
//! down before anyone looks. A plan that exists is one that can be carried out.

mod alternative;
mod change;
mod cost;
mod endpoint;
mod form;
mod looks;
mod margin;
pub(super) mod number;
mod reach;
mod recurrence;
mod refusal;

pub(super) use alternative::Alternative;
pub use change::{Change, changes};
pub use cost::{Cost, costs};
pub use endpoint::PlannedEndpoint;
pub use form::{EligibilityForm, EndpointForm, PlanForm};
pub(in crate::study) use looks::LEAST_NOMINAL;
pub use looks::{LooksForm, PlannedLooks, SeveralLooks};
pub use margin::PlannedMargin;
pub use reach::Reach;
pub(super) use reach::worth;
pub use recurrence::{RecurrenceForm, RecurrenceWindow};
pub use refusal::{BeyondAll, PlanRefusal, Trouble};

use super::arm::Arm;
use super::cohort::CaseRow;
use super::population::{Population, is_ablation};
use crate::methods::interval::Confidence;
use quietbeam_schema::vocabulary::{
    AgeBand, Coded, CongenitalDisease, Covariate, Exclusion, MissingCovariate, NearZeroCases, PrimaryMethod,
    ProcedureGroup, ProcedureType, Sensitivity, Strata, Strategy, SubgroupBy,
};
use serde::{Deserialize, Serialize};

/// What every plan of this registry does, after what it says of the arms; printed with each.
pub const EVERY_PLAN: [&str; 5] = [
    "A claim needs two populations to agree: all cases as intended, and those that went as intended.",
    "The endpoints are tested in the order of the plan; after the first that is not shown none is tested.",
    "The centre stands in every model, bounds every stratum and is the unit of clustering: a finer unit would hide that cases of a centre resemble each other.",
    "Proportions are of cases whose outcome is known; an arm with too few of them allows no conclusion.",
    "Everything outside the planned endpoints is exploratory and carries no verdict.",
];

/// What the arms are.
fn arms_in_words(near_zero: NearZeroCases) -> &'static str {
    match near_zero {
        NearZeroCases::InNeitherArm => {
            "The arms are the strategies intended beforehand; cases intended as near-zero are a group of their own and in neither arm."
        }
        NearZeroCases::WithZeroFluoroscopy => {
            "The arms are the strategies intended beforehand; cases intended as near-zero count with zero-fluoroscopy, and went as intended if X-ray was used no further than planned."
        }
        NearZeroCases::WithConventional => {
            "The arms are the strategies intended beforehand; cases intended as near-zero count with conventional fluoroscopy, and went as intended if X-ray was used."
        }
    }
}

/// A plan that can be carried out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "PlanForm", into = "PlanForm")]
pub struct AnalysisPlan {
    title: String,
    question: String,
    eligibility: Eligibility,
    level: Confidence,
    method: PrimaryMethod,
    strata: Strata,
    covariates: Vec<Covariate>,
    missing_covariates: MissingCovariate,
    least_known: f64,
    sensitivity: Vec<Sensitivity>,
    subgroups: Vec<SubgroupBy>,
    endpoints: Vec<PlannedEndpoint>,
    looks: PlannedLooks,
    near_zero: NearZeroCases,
    recurrence: RecurrenceWindow,
}

/// Which cases are compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Eligibility {
    /// Procedure groups that are compared whole, in the list's order.
    pub procedure_groups: Vec<ProcedureGroup>,
    /// Types of other groups that are compared beside them, in the list's order.
    pub procedures: Vec<ProcedureType>,
    /// The ages that are compared, in the list's order; all of them if none is named.
    pub age_bands: Vec<AgeBand>,
    /// What is left out of them, in the list's order.
    pub exclude: Vec<Exclusion>,
    /// The least share of a centre's eligible ablations that it must have sent in; with
    /// [`Exclusion::LowCapture`] alone.
    pub least_capture: Option<f64>,
}

impl Eligibility {
    /// Whether what is left out hangs on more than the records of a cut.
    pub fn asks_at_cut(&self) -> bool {
        self.exclude.iter().copied().any(is_of_the_cut)
    }

    /// The groups of which anything is compared, in the list's order.
    pub fn groups(&self) -> Vec<ProcedureGroup> {
        let of_types = self.procedures.iter().map(|procedure| procedure.group());
        let mut groups: Vec<ProcedureGroup> = self.procedure_groups.iter().copied().chain(of_types).collect();
        groups.sort_unstable();
        groups.dedup();
        groups
    }

    /// Whether anything of a group that is compared can be left out.
    pub(super) fn may_thin(&self, group: ProcedureGroup) -> bool {
        let by_rule =
            |rule: &Exclusion| *rule != Exclusion::Epicardial || group == ProcedureType::VtEpicardial.group();
        let by_type = !self.procedure_groups.contains(&group);
        let has_diagnostic = ProcedureType::DiagnosticOnly.group() == group;
        by_type || has_diagnostic || !self.age_bands.is_empty() || self.exclude.iter().any(by_rule)
    }

    /// Why a case is not compared; `None` for a case that is.
    pub fn left_out(&self, case: &CaseRow) -> Option<LeftOut> {
        if !is_ablation(case) {
            return Some(LeftOut::DiagnosticOnly);
        }
        let whole = self.procedure_groups.contains(&case.procedure.group());
        if !whole && !self.procedures.contains(&case.procedure) {
            let by_type = !self.procedures.is_empty();
            return Some(if by_type { LeftOut::OtherProcedure } else { LeftOut::OtherGroup });
        }
        if !self.age_bands.is_empty() && !self.age_bands.contains(&case.before.age_band) {
            return Some(LeftOut::OtherAge);
        }
        self.exclude.iter().copied().find(|rule| excludes(*rule, case)).map(LeftOut::Excluded)
    }
}

/// Why a case is not compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftOut {
    /// A diagnostic study.
    DiagnosticOnly,
    /// A procedure group that the plan does not name.
    OtherGroup,
    /// A procedure that the plan names neither itself nor with its group.
    OtherProcedure,
    /// A patient of an age that the plan does not name.
    OtherAge,
    /// An exclusion of the plan.
    Excluded(Exclusion),
}

impl LeftOut {
    /// The reason behind a count: "12 diagnostic only".
    pub fn in_words(self) -> String {
        match self {
            Self::DiagnosticOnly => "diagnostic only".to_owned(),
            Self::OtherGroup => "of other procedure groups".to_owned(),
            Self::OtherProcedure => "of other procedures".to_owned(),
            Self::OtherAge => "of other ages".to_owned(),
            Self::Excluded(rule) => format!("excluded ({})", rule.label().to_lowercase()),
        }
    }
}

/// Whether a rule looks at how things stood when the cut was taken, and not at the record.
pub(super) fn is_of_the_cut(rule: Exclusion) -> bool {
    match rule {
        Exclusion::Epicardial
        | Exclusion::Congenital
        | Exclusion::Paediatric
        | Exclusion::NotDeclaredBefore => false,
        Exclusion::ApprovalMissing
        | Exclusion::DenominatorUnsigned
        | Exclusion::QuestionOpen
        | Exclusion::LowCapture => true,
    }
}

fn excludes(rule: Exclusion, case: &CaseRow) -> bool {
    match rule {
        Exclusion::Epicardial => case.procedure == ProcedureType::VtEpicardial,
        // Not recorded is not none: such a case cannot be said to be eligible.
        Exclusion::Congenital => case.before.congenital != Some(CongenitalDisease::None),
        Exclusion::Paediatric => case.paediatric(),
        Exclusion::NotDeclaredBefore => !case.declared_before(),
        Exclusion::ApprovalMissing => case.at_cut.approval_missing,
        Exclusion::DenominatorUnsigned => case.at_cut.denominator_unsigned,
        Exclusion::QuestionOpen => case.at_cut.question_open,
        Exclusion::LowCapture => case.at_cut.low_capture,
    }
}

impl AnalysisPlan {
    /// A few words.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The question in a sentence.
    pub fn question(&self) -> &str {
        &self.question
    }

    /// Which cases are compared.
    pub fn eligibility(&self) -> &Eligibility {
        &self.eligibility
    }

    /// The two-sided level of every interval.
    pub fn level(&self) -> Confidence {
        self.level
    }

    /// The method that decides.
    pub fn method(&self) -> PrimaryMethod {
        self.method
    }

    /// Within what the arms are compared where no model holds patients alike.
    pub fn strata(&self) -> Strata {
        self.strata
    }

    /// The same in words: "within centres".
    pub fn within_strata(&self) -> String {
        format!("within {}", self.strata.label().to_lowercase())
    }

    /// The covariates, in the list's order.
    pub fn covariates(&self) -> &[Covariate] {
        &self.covariates
    }

    /// What stands for a covariate that is not recorded.
    pub fn missing_covariates(&self) -> MissingCovariate {
        self.missing_covariates
    }

    /// The least share of cases of each arm whose outcome must be known.
    pub fn least_known(&self) -> f64 {
        self.least_known
    }

    /// The analyses beside the primary one.
    pub fn sensitivity(&self) -> &[Sensitivity] {
        &self.sensitivity
    }

    /// The kinds of patient by which planned endpoints are told apart as planned.
    pub fn subgroups(&self) -> &[SubgroupBy] {
        &self.subgroups
    }

    /// The endpoints in the order in which they are tested.
    pub fn endpoints(&self) -> &[PlannedEndpoint] {
        &self.endpoints
    }

    /// How often the data are looked at.
    pub fn looks(&self) -> &PlannedLooks {
        &self.looks
    }

    /// Where cases intended as near-zero are counted.
    pub fn near_zero(&self) -> NearZeroCases {
        self.near_zero
    }

    /// Between which days a recurrence counts.
    pub fn recurrence(&self) -> RecurrenceWindow {
        self.recurrence
    }

    /// What this plan does as every plan of this registry does; the first says what the arms are.
    pub fn always(&self) -> [&'static str; 6] {
        let [first, second, third, fourth, fifth] = EVERY_PLAN;
        [arms_in_words(self.near_zero), first, second, third, fourth, fifth]
    }

    /// The arm in which it counts a case intended as near-zero.
    pub(super) fn near_zero_arm(&self) -> Option<Arm> {
        match self.near_zero {
            NearZeroCases::InNeitherArm => None,
            NearZeroCases::WithZeroFluoroscopy => Some(Arm::ZeroFluoroscopy),
            NearZeroCases::WithConventional => Some(Arm::Conventional),
        }
    }

    /// The arm in which it counts a case by the strategy intended.
    pub fn arm(&self, case: &CaseRow) -> Option<Arm> {
        match case.intended {
            Strategy::NearZero => self.near_zero_arm(),
            Strategy::Zero | Strategy::Conventional => Population::AsIntended.arm(case),
        }
    }

    /// The same plan with its intervals at another level: that of one look.
    pub(super) fn at_level(&self, level: Confidence) -> Self {
        Self { level, ..self.clone() }
    }
}

#[cfg(test)]
mod tests;
