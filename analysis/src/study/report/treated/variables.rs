//! What was known before the procedure, as columns to tabulate.

use super::super::ReportCase;
use crate::study::adjustment::{quarters, recorded};
use quietbeam_schema::vocabulary::{
    Coded, CongenitalDisease, Covariate, OperatorExperience, ProcedureGroup, Sex, StructuralDisease,
};

/// A column: numbers, or positions in a list of labels; `None` where nothing was recorded.
pub(super) enum Column {
    Numbers(Vec<Option<f64>>),
    Levels(Vec<String>, Vec<Option<u8>>),
}

/// What is tabulated.
pub(super) struct Variable {
    pub(super) code: &'static str,
    pub(super) label: &'static str,
    /// Whether the plan holds it alike.
    pub(super) planned: bool,
    of: Of,
}

/// Where it is read.
#[derive(Clone, Copy)]
enum Of {
    Covariate(Covariate),
    Experience,
    Device,
}

/// The plan's covariates in its order, then the other ones, then what belongs to the operator
/// and the patient's devices.
pub(super) fn variables(planned: &[Covariate]) -> Vec<Variable> {
    let others = Covariate::all().iter().copied().filter(|other| !planned.contains(other));
    let named = |covariate: Covariate, planned| Variable {
        code: covariate.code(),
        label: covariate.label(),
        planned,
        of: Of::Covariate(covariate),
    };
    let further = |code, label, of| Variable { code, label, planned: false, of };
    let mut all: Vec<Variable> = planned.iter().map(|covariate| named(*covariate, true)).collect();
    all.extend(others.map(|covariate| named(covariate, false)));
    all.push(further("op_experience_band", "Operator's experience", Of::Experience));
    all.push(further("device_in_situ", "Implanted device", Of::Device));
    all
}

impl Variable {
    /// Its column, read when it is wanted: all of them at once would be larger than the cases.
    pub(super) fn column(&self, cases: &[&ReportCase]) -> Column {
        match self.of {
            Of::Covariate(covariate) => column(cases, covariate),
            Of::Experience => coded::<OperatorExperience>(cases, |case| case.course.experience),
            Of::Device => whether(cases, |case| case.course.device),
        }
    }
}

fn column(cases: &[&ReportCase], covariate: Covariate) -> Column {
    match covariate {
        Covariate::Age | Covariate::Bmi | Covariate::Lvef | Covariate::LeftAtrium => {
            Column::Numbers(cases.iter().map(|case| recorded(covariate, &case.row.before)).collect())
        }
        Covariate::CalendarTime => {
            let times: Vec<f64> = cases.iter().map(|case| quarters(case.row.period)).collect();
            let first = times.iter().copied().fold(f64::INFINITY, f64::min);
            Column::Numbers(times.into_iter().map(|time| Some(time - first)).collect())
        }
        Covariate::Sex => coded::<Sex>(cases, |case| case.row.before.sex),
        Covariate::StructuralDisease => coded::<StructuralDisease>(cases, |case| case.row.before.structural),
        Covariate::CongenitalDisease => coded::<CongenitalDisease>(cases, |case| case.row.before.congenital),
        Covariate::ProcedureGroup => coded::<ProcedureGroup>(cases, |case| Some(case.row.procedure.group())),
        Covariate::EarlierAblations => Column::Levels(
            ["0", "1", "2", "3 or more"].map(str::to_owned).to_vec(),
            cases.iter().map(|case| case.row.before.earlier_ablations.map(|number| number.min(3))).collect(),
        ),
        Covariate::PhysicalStatus => Column::Levels(
            ["1", "2", "3", "4", "5"].map(str::to_owned).to_vec(),
            cases
                .iter()
                .map(|case| case.row.before.physical_status.map(|class| class.clamp(1, 5) - 1))
                .collect(),
        ),
    }
}

fn coded<C: Coded>(cases: &[&ReportCase], of: impl Fn(&ReportCase) -> Option<C>) -> Column {
    Column::Levels(
        C::all().iter().map(|code| code.label().to_owned()).collect(),
        cases.iter().map(|case| of(case).map(|code| code.position() as u8)).collect(),
    )
}

fn whether(cases: &[&ReportCase], of: impl Fn(&ReportCase) -> Option<bool>) -> Column {
    Column::Levels(
        ["No", "Yes"].map(str::to_owned).to_vec(),
        cases.iter().map(|case| of(case).map(u8::from)).collect(),
    )
}
