//! The covariates of a plan as columns of numbers.

use crate::methods::column::Column;
use crate::study::cohort::CaseRow;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    Coded, CongenitalDisease, Covariate, MissingCovariate, ProcedureGroup, Sex, StructuralDisease,
};

/// A column with its name.
pub(super) type Term = (String, Column);

/// The rows that take part: with complete cases only, those in which every covariate is recorded.
pub(super) fn taking_part<'r>(
    rows: Vec<&'r CaseRow>,
    covariates: &[Covariate],
    missing: MissingCovariate,
) -> Vec<&'r CaseRow> {
    let complete = |case: &&CaseRow| {
        let recorded = |covariate: &Covariate| match covariate {
            Covariate::ProcedureGroup | Covariate::CalendarTime => true,
            covariate => recorded(*covariate, case).is_some(),
        };
        missing == MissingCovariate::Indicator || covariates.iter().all(recorded)
    };
    rows.into_iter().filter(complete).collect()
}

/// The columns. One that is the same in every case tells nothing and is left out, and so is one
/// that repeats another, such as two covariates that are missing in the same cases.
pub(super) fn terms(rows: &[&CaseRow], covariates: &[Covariate]) -> Vec<Term> {
    let mut terms: Vec<Term> = Vec::new();
    for (name, column) in covariates.iter().flat_map(|covariate| columns(rows, *covariate)) {
        if column.varies() && terms.iter().all(|(_, known)| *known != column) {
            terms.push((name, column));
        }
    }
    terms
}

fn columns(rows: &[&CaseRow], covariate: Covariate) -> Vec<Term> {
    let name = covariate.code();
    match covariate {
        Covariate::ProcedureGroup => {
            let groups: Vec<ProcedureGroup> = rows.iter().map(|case| case.procedure.group()).collect();
            let mut present = groups.clone();
            present.sort_unstable();
            present.dedup();
            let column = |group: ProcedureGroup| Column::of_flags(groups.iter().map(|own| *own == group));
            let term = |group: ProcedureGroup| (format!("{name} {}", group.code()), column(group));
            present.into_iter().skip(1).map(term).collect()
        }
        Covariate::CalendarTime => {
            let first = rows.iter().map(|case| quarters(case.period)).fold(f64::INFINITY, f64::min);
            let since = rows.iter().map(|case| quarters(case.period) - first).collect();
            vec![(name.to_owned(), Column::new(since))]
        }
        covariate => {
            let values: Vec<Option<f64>> = rows.iter().map(|case| recorded(covariate, case)).collect();
            with_median(name, &values)
        }
    }
}

/// A quarter as a number that grows by 1 a quarter.
pub(in crate::study) fn quarters(period: Quarter) -> f64 {
    f64::from(period.year()) * 4.0 + f64::from(period.quarter())
}

/// What is recorded, as a number.
pub(in crate::study) fn recorded(covariate: Covariate, case: &CaseRow) -> Option<f64> {
    let before = &case.before;
    let flag = |present: bool| f64::from(u8::from(present));
    match covariate {
        Covariate::Age => Some(f64::from(before.age_band.lower_years())),
        // Whoever is recorded as neither is told apart like a missing value: too few for a term.
        Covariate::Sex => before.sex.filter(|sex| *sex != Sex::Other).map(|sex| flag(sex == Sex::Female)),
        Covariate::Bmi => before.bmi,
        Covariate::Lvef => before.lvef.map(f64::from),
        Covariate::LeftAtrium => before.la_diameter.map(f64::from),
        Covariate::StructuralDisease => before.structural.map(|found| flag(found != StructuralDisease::None)),
        Covariate::CongenitalDisease => before.congenital.map(|found| flag(found != CongenitalDisease::None)),
        Covariate::EarlierAblations => before.earlier_ablations.map(f64::from),
        Covariate::PhysicalStatus => before.physical_status.map(f64::from),
        Covariate::ProcedureGroup | Covariate::CalendarTime => None,
    }
}

/// The median of what is recorded where nothing is, and a term that tells those cases apart.
fn with_median(name: &str, values: &[Option<f64>]) -> Vec<Term> {
    let mut known: Vec<f64> = values.iter().flatten().copied().collect();
    if known.is_empty() {
        return Vec::new();
    }
    let middle = known.len() / 2;
    let median = *known.select_nth_unstable_by(middle, f64::total_cmp).1;
    let filled = Column::new(values.iter().map(|value| value.unwrap_or(median)).collect());
    let absent = Column::of_flags(values.iter().map(Option::is_none));
    vec![(name.to_owned(), filled), (format!("{name} not recorded"), absent)]
}
