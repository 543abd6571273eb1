//! What was known before the procedure, as columns to tabulate.

use super::super::ReportCase;
use crate::methods::column::{Column, Growing};
use crate::study::adjustment::{quarters, recorded};
use quietbeam_schema::vocabulary::{
    Coded, CongenitalDisease, Covariate, OperatorExperience, ProcedureGroup, Sex, StructuralDisease,
};

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

/// How many cases are read for every variable before the next ones: they stay in the cache.
const AT_ONCE: usize = 1024;

/// What the cases have of some variables, a column each: numbers, or places among the labels; what
/// was not recorded is no number.
pub(super) fn columns(variables: &[Variable], cases: &[&ReportCase]) -> Vec<Column> {
    let mut growing: Vec<Growing> = variables.iter().map(|_| Growing::for_cases(cases.len())).collect();
    for some in cases.chunks(AT_ONCE) {
        variables.iter().zip(&mut growing).for_each(|(variable, column)| variable.add(some, column));
    }
    variables.iter().zip(growing).map(|(variable, column)| variable.finished(column.column())).collect()
}

impl Variable {
    /// The names of its levels, unless it is a measurement.
    pub(super) fn labels(&self) -> Option<Vec<String>> {
        match self.of {
            Of::Covariate(covariate) => match covariate {
                Covariate::Age
                | Covariate::Bmi
                | Covariate::Lvef
                | Covariate::LeftAtrium
                | Covariate::CalendarTime => None,
                Covariate::Sex => labels::<Sex>(),
                Covariate::StructuralDisease => labels::<StructuralDisease>(),
                Covariate::CongenitalDisease => labels::<CongenitalDisease>(),
                Covariate::ProcedureGroup => labels::<ProcedureGroup>(),
                Covariate::EarlierAblations => Some(["0", "1", "2", "3 or more"].map(str::to_owned).to_vec()),
                Covariate::PhysicalStatus => Some(["1", "2", "3", "4", "5"].map(str::to_owned).to_vec()),
            },
            Of::Experience => labels::<OperatorExperience>(),
            Of::Device => Some(["No", "Yes"].map(str::to_owned).to_vec()),
        }
    }

    fn add(&self, cases: &[&ReportCase], to: &mut Growing) {
        match self.of {
            Of::Covariate(covariate) => add_covariate(covariate, cases, to),
            Of::Experience => add(cases, to, |case| place(case.course.experience)),
            Of::Device => add(cases, to, |case| case.course.device.map(|had| f64::from(u8::from(had)))),
        }
    }

    /// Calendar time begins with the first case.
    fn finished(&self, column: Column) -> Column {
        match (self.of, column.ends()) {
            (Of::Covariate(Covariate::CalendarTime), Some((first, _))) => column.less(first),
            _ => column,
        }
    }
}

fn add_covariate(covariate: Covariate, cases: &[&ReportCase], to: &mut Growing) {
    match covariate {
        Covariate::Age | Covariate::Bmi | Covariate::Lvef | Covariate::LeftAtrium => {
            add(cases, to, |case| recorded(covariate, &case.row.before));
        }
        Covariate::CalendarTime => add(cases, to, |case| Some(quarters(case.row.period))),
        Covariate::Sex => add(cases, to, |case| place(case.row.before.sex)),
        Covariate::StructuralDisease => add(cases, to, |case| place(case.row.before.structural)),
        Covariate::CongenitalDisease => add(cases, to, |case| place(case.row.before.congenital)),
        Covariate::ProcedureGroup => add(cases, to, |case| place(Some(case.row.procedure.group()))),
        Covariate::EarlierAblations => {
            add(cases, to, |case| case.row.before.earlier_ablations.map(|number| f64::from(number.min(3))))
        }
        Covariate::PhysicalStatus => add(cases, to, |case| {
            case.row.before.physical_status.map(|class| f64::from(class.clamp(1, 5) - 1))
        }),
    }
}

fn add(cases: &[&ReportCase], to: &mut Growing, of: impl Fn(&ReportCase) -> Option<f64>) {
    to.extend(cases.iter().map(|case| of(case).unwrap_or(f64::NAN)));
}

fn place<C: Coded>(code: Option<C>) -> Option<f64> {
    code.map(|code| code.position() as f64)
}

fn labels<C: Coded>() -> Option<Vec<String>> {
    Some(C::all().iter().map(|code| code.label().to_owned()).collect())
}
