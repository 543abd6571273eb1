//! Cox regression.

use super::answer::Each;
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::follow_up::{STATUS, TIME, case};
use super::input::Input;
use super::line::Cell;
use super::table::Table;
use super::terms::{COLUMN, Labels, Term, Terms};
use super::trouble::Trouble;
use crate::methods::cox::{CoxCases, CoxCoefficient, cox_regression};
use crate::methods::follow_up::FollowUp;
use crate::methods::interval::{Confidence, NotEstimable, RatioInterval};

pub(super) fn family() -> Vec<Calculation> {
    vec![Calculation::new(
        "cox_regression",
        "cox1972, efron1977, lin_wei1989, grambsch_therneau1994",
        "Cox regression with Efron's treatment of ties, standard errors by centre",
        |cases: Cases, level: Confidence| cases.coefficients(level),
    )]
}

/// Follow-up, covariates, strata and centres of the cases.
struct Cases {
    follow_up: Vec<FollowUp>,
    terms: Terms,
    strata: Vec<u32>,
    centres: Vec<u32>,
}

impl Input for Cases {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            TIME,
            STATUS,
            COLUMN,
            Column::value("stratum", "the stratum with a baseline risk of its own").optional(),
            Column::value("centre", "the centre of the case; without it every case is its own").optional(),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let follow_up: Vec<FollowUp> = table.rows().map(case).collect::<Result<_, _>>()?;
        let one_each = || (0..).take(follow_up.len()).collect();
        let strata = Labels::if_any(table, "stratum")?;
        let strata = strata.map_or_else(|| vec![0; follow_up.len()], |labels| labels.of_case);
        let centres = Labels::if_any(table, "centre")?.map_or_else(one_each, |labels| labels.of_case);
        Ok(Self { follow_up, terms: Terms::read(table)?, strata, centres })
    }
}

impl Cases {
    fn coefficients(self, level: Confidence) -> Result<Each<Hazard, Term>, NotEstimable> {
        let Self { follow_up, terms, strata, centres } = &self;
        // All four were read from the same rows.
        let cases = CoxCases::new(follow_up, &terms.design, strata, centres);
        let fit = cox_regression(cases.map_err(|_| NotEstimable::NoVariation)?)?;
        let hazard = |coefficient: &CoxCoefficient| {
            Ok(Hazard { coefficient: *coefficient, ratio: coefficient.hazard_ratio(level)? })
        };
        let hazards: Vec<Hazard> =
            fit.coefficients.iter().map(hazard).collect::<Result<_, NotEstimable>>()?;
        Ok(Each::of(terms.names.iter().cloned().zip(hazards)))
    }
}

struct Hazard {
    coefficient: CoxCoefficient,
    ratio: RatioInterval,
}

impl Cells for Hazard {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "hazard ratio for one unit of the covariate"),
        Output::new("lower", "lower confidence limit, by centre"),
        Output::new("upper", "upper confidence limit, by centre; Inf without bound"),
        Output::new("log_hazard_ratio", "logarithm of the hazard ratio"),
        Output::new("se", "standard error of the logarithm by centre"),
        Output::new("model_se", "standard error of the logarithm if cases are independent"),
        Output::new("proportionality", "chi-square of a hazard ratio that changes over time"),
        Output::new("proportionality_p", "p of the same"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let CoxCoefficient { log_hazard_ratio, model_standard_error, centre_standard_error, proportionality } =
            self.coefficient;
        let mut cells = self.ratio.cells();
        cells.extend([log_hazard_ratio, centre_standard_error, model_standard_error].map(number));
        cells.extend([proportionality.statistic, proportionality.p].map(number));
        cells
    }
}
