//! The choice of arm as a model of centre and covariates, whatever came of it.

use super::covariates::{taking_part, terms};
use crate::methods::column::Column;
use crate::methods::design::{Design, indicators};
use crate::methods::interval::NotEstimable;
use crate::methods::logistic::LogisticCases;
use crate::methods::propensity::{Propensity, logistic_propensity};
use crate::study::cohort::CaseRow;
use crate::study::plan::AnalysisPlan;
use crate::study::population::{Arm, Population};
use quietbeam_schema::ids::CentreCode;

/// The cases of both arms, as intended, whose choice is modelled.
pub(in crate::study) struct Choice<'r> {
    rows: Vec<&'r CaseRow>,
    in_first: Vec<bool>,
    design: Result<Design, NotEstimable>,
}

impl<'r> Choice<'r> {
    /// The cases that take part by the plan, in the order given.
    pub(in crate::study) fn new(rows: Vec<&'r CaseRow>, plan: &AnalysisPlan) -> Self {
        let compared = |case: &&CaseRow| Population::AsIntended.arm(case).is_some();
        let compared = rows.into_iter().filter(compared).collect();
        let rows = taking_part(compared, plan.covariates(), plan.missing_covariates());
        let in_first = rows.iter().map(|case| Population::AsIntended.arm(case) == Some(Arm::ZeroFluoroscopy));
        let in_first = in_first.collect();
        let design = design(&rows, plan);
        Self { rows, in_first, design }
    }

    /// The cases.
    pub(in crate::study) fn rows(&self) -> &[&'r CaseRow] {
        &self.rows
    }

    /// Which of them are in the zero-fluoroscopy arm.
    pub(in crate::study) fn in_first(&self) -> &[bool] {
        &self.in_first
    }

    /// The chance of each case to have been in the zero-fluoroscopy arm.
    pub(in crate::study) fn propensity(&self) -> Result<Propensity<'_>, NotEstimable> {
        let design = self.design.as_ref().map_err(|why| *why)?;
        let cases = LogisticCases::new(design, &self.in_first).map_err(|_| NotEstimable::NoVariation)?;
        logistic_propensity(cases)
    }
}

fn design(rows: &[&CaseRow], plan: &AnalysisPlan) -> Result<Design, NotEstimable> {
    let mut centres: Vec<CentreCode> = rows.iter().map(|case| case.centre).collect();
    centres.sort_unstable();
    centres.dedup();
    let labels: Vec<u32> =
        rows.iter().map(|case| centres.partition_point(|centre| *centre < case.centre) as u32).collect();
    let mut columns: Vec<Column> = indicators(&labels).into_iter().map(Column::new).collect();
    columns.extend(terms(rows, plan.covariates()).into_iter().map(|(_, column)| column));
    Design::of_columns(rows.len(), columns).map_err(|_| NotEstimable::NoVariation)
}
