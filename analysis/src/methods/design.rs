//! Covariates of the cases, one column a covariate.

use nalgebra::{DMatrix, DVector};
use std::sync::Arc;

use super::column::Column;
use super::interval::NotEstimable;

/// Why some columns are not covariates.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DesignError {
    /// No case.
    #[error("covariates need at least one case")]
    NoCases,
    /// A column of another length.
    #[error("column {column} has {found} values for {cases} cases")]
    UnequalLengths {
        /// Column, from 1.
        column: usize,
        /// Values in it.
        found: usize,
        /// Cases.
        cases: usize,
    },
    /// A value that is not a number or absurdly large.
    #[error("column {column}, case {case}: not a number between -1e15 and 1e15")]
    OutOfRange {
        /// Column, from 1.
        column: usize,
        /// Case, from 1.
        case: usize,
    },
}

/// Covariates of the cases: complete, finite, all columns of one length.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    cases: usize,
    columns: Vec<Arc<Column>>,
}

impl Design {
    /// `columns`, each with one value for each of `cases` cases; no column is allowed.
    ///
    /// # Errors
    /// No case, columns of other lengths, values that are not usable numbers.
    pub fn new(cases: usize, columns: &[Vec<f64>]) -> Result<Self, DesignError> {
        Self::of_columns(
            cases,
            columns.iter().map(|values| Arc::new(Column::new(values.iter().copied()))).collect(),
        )
    }

    /// The same from columns that are made, and that other designs may share.
    pub(crate) fn of_columns(cases: usize, columns: Vec<Arc<Column>>) -> Result<Self, DesignError> {
        if cases == 0 {
            return Err(DesignError::NoCases);
        }
        for (column, values) in (1..).zip(&columns) {
            let found = values.len();
            if found != cases {
                return Err(DesignError::UnequalLengths { column, found, cases });
            }
            if let Some(place) = values.find(|v| !(-1e15..=1e15).contains(&v)) {
                return Err(DesignError::OutOfRange { column, case: place + 1 });
            }
        }
        Ok(Self { cases, columns })
    }

    /// Number of cases.
    pub fn cases(&self) -> usize {
        self.cases
    }

    /// Number of columns.
    pub fn columns(&self) -> usize {
        self.columns.len()
    }

    /// One column, counted from 0 and below [`Self::columns`].
    pub(crate) fn column(&self, column: usize) -> &Column {
        &self.columns[column]
    }

    /// A row a case.
    pub(crate) fn matrix(&self) -> DMatrix<f64> {
        DMatrix::from_fn(self.cases, self.columns.len(), |case, column| self.columns[column].at(case))
    }
}

/// Columns that tell the levels of a factor, such as the centres, apart: one for every label but
/// the smallest, in the order of the labels, 1 where a case has the label and 0 elsewhere.
pub fn indicators(labels: &[u32]) -> Vec<Vec<f64>> {
    let mut levels = labels.to_vec();
    levels.sort_unstable();
    levels.dedup();
    let column = |level: &u32| labels.iter().map(|label| f64::from(u8::from(label == level))).collect();
    levels.iter().skip(1).map(column).collect()
}

/// Inverse of a symmetric positive definite matrix, scaled first so that units do not matter;
/// `Collinear` when some combination of columns carries no information.
pub(crate) fn inverse(matrix: &DMatrix<f64>) -> Result<DMatrix<f64>, NotEstimable> {
    let scale: DVector<f64> = matrix.diagonal().map(|v| 1.0 / v.sqrt());
    if scale.iter().any(|v| !v.is_finite()) {
        return Err(NotEstimable::Collinear);
    }
    let size = matrix.nrows();
    let scaled = DMatrix::from_fn(size, size, |i, j| matrix[(i, j)] * scale[i] * scale[j]);
    let factor = scaled.cholesky().ok_or(NotEstimable::Collinear)?;
    // The diagonal of the factor is what each column keeps after the ones before it.
    if factor.l_dirty().diagonal().iter().any(|kept| *kept < 1e-6) {
        return Err(NotEstimable::Collinear);
    }
    let inner = factor.inverse();
    Ok(DMatrix::from_fn(size, size, |i, j| inner[(i, j)] * scale[i] * scale[j]))
}
