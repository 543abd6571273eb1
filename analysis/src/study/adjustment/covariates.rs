//! The covariates of a plan as columns of numbers.

use crate::distinct::distinct;
use crate::methods::column::Column;
use crate::methods::runs::Runs;
use crate::study::cohort::{Baseline, CaseRow};
use crate::study::plan::AnalysisPlan;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    Coded, CongenitalDisease, Covariate, MissingCovariate, ProcedureGroup, Sex, StructuralDisease,
};
use rayon::prelude::*;
use std::sync::Arc;

/// A column with its name. Parts of a study share it.
#[derive(Clone)]
pub(super) struct Term {
    pub(super) name: String,
    pub(super) column: Arc<Column>,
    /// It marks one level of a factor.
    is_level: bool,
}

impl Term {
    fn new(name: String, column: Column) -> Self {
        Self { name, column: Arc::new(column), is_level: false }
    }

    /// The same for some cases.
    pub(super) fn only(&self, cases: &Runs) -> Self {
        Self { column: Arc::new(self.column.only(cases)), ..self.clone() }
    }
}

/// Whether a case takes part: with complete cases only, where every covariate is recorded.
pub(super) fn takes_part(case: &CaseRow, plan: &AnalysisPlan) -> bool {
    let is_recorded = |covariate: &Covariate| match covariate {
        Covariate::ProcedureGroup | Covariate::CalendarTime => true,
        covariate => recorded(*covariate, &case.before).is_some(),
    };
    plan.missing_covariates() == MissingCovariate::Indicator || plan.covariates().iter().all(is_recorded)
}

/// The columns of all covariates for these rows, every level of a factor among them.
pub(super) fn terms(rows: &[&CaseRow], covariates: &[Covariate]) -> Vec<Term> {
    // Rows lie apart in memory; what the columns are made of is fetched from there once.
    let seen: Vec<Seen> = rows.par_iter().map(|case| Seen::new(case)).collect();
    covariates.par_iter().flat_map_iter(|covariate| columns(&seen, *covariate)).collect()
}

/// The name of the column that says whether intracardiac echo was used.
pub(super) const ECHO: &str = "ice_used";

/// Whether intracardiac echo was used, which no plan may name as a covariate: it comes with the
/// strategy.
pub(super) fn echo_terms(rows: &[&CaseRow]) -> Vec<Term> {
    let used = |case: &&CaseRow| case.intracardiac_echo.map(|used| f64::from(u8::from(used)));
    with_median(ECHO, rows.iter().map(used))
}

/// The terms that tell some cases from others. One that is the same in every case tells nothing
/// and is left out, and so is one that repeats another, such as two covariates that are missing in
/// the same cases; of the levels of a factor the first that occurs is the one to compare with.
pub(super) fn telling(terms: Vec<Term>) -> Vec<Term> {
    let mut telling: Vec<Term> = Vec::new();
    let mut compared_with = false;
    for term in terms {
        let occurs = term.is_level && term.column.ends().is_some_and(|(_, high)| high > 0.0);
        if occurs && !std::mem::replace(&mut compared_with, true) {
            continue;
        }
        if term.column.varies() && telling.iter().all(|known| known.column != term.column) {
            telling.push(term);
        }
    }
    telling
}

/// What columns are made of.
struct Seen {
    before: Baseline,
    group: ProcedureGroup,
    period: Quarter,
}

impl Seen {
    fn new(case: &CaseRow) -> Self {
        Self { before: case.before, group: case.procedure.group(), period: case.period }
    }
}

fn columns(cases: &[Seen], covariate: Covariate) -> Vec<Term> {
    let name = covariate.code();
    match covariate {
        Covariate::ProcedureGroup => {
            let present = distinct(cases.iter().map(|case| case.group));
            let column =
                |group: ProcedureGroup| Column::of_flags(cases.iter().map(|case| case.group == group));
            let term = |group: ProcedureGroup| Term {
                is_level: true,
                ..Term::new(format!("{name} {}", group.code()), column(group))
            };
            present.into_iter().map(term).collect()
        }
        Covariate::CalendarTime => {
            let first = cases.iter().map(|case| quarters(case.period)).fold(f64::INFINITY, f64::min);
            let since = cases.iter().map(|case| quarters(case.period) - first);
            vec![Term::new(name.to_owned(), Column::new(since))]
        }
        covariate => with_median(name, cases.iter().map(|case| recorded(covariate, &case.before))),
    }
}

/// A quarter as a number that grows by 1 a quarter.
pub(in crate::study) fn quarters(period: Quarter) -> f64 {
    f64::from(period.year()) * 4.0 + f64::from(period.quarter())
}

/// What is recorded, as a number.
pub(in crate::study) fn recorded(covariate: Covariate, before: &Baseline) -> Option<f64> {
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
fn with_median(name: &str, values: impl Iterator<Item = Option<f64>> + Clone) -> Vec<Term> {
    let recorded = Column::new(values.map(|value| value.unwrap_or(f64::NAN)));
    let Some((filled, absent)) = recorded.filled() else { return Vec::new() };
    vec![Term::new(name.to_owned(), filled), Term::new(format!("{name} not recorded"), absent)]
}
