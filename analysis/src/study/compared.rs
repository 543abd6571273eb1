//! The cases of a cut in an order of their content, and those among them that a plan compares.

use super::adjustment::Numbers;
use super::cohort::CaseRow;
use super::plan::AnalysisPlan;

/// Cases in an order of their content, so that no rounding depends on how they were read.
pub(super) struct Compared<'r> {
    /// Every case.
    pub(super) all: Vec<&'r CaseRow>,
    /// Those that the plan does not leave out.
    pub(super) rows: Vec<&'r CaseRow>,
    /// The place of each of those among the cases as they were given.
    given: Vec<usize>,
    /// The same as the models see them.
    pub(super) numbers: Numbers<'r>,
}

impl<'r> Compared<'r> {
    /// Puts the cases in order and reads those that the plan compares.
    pub(super) fn new(cases: impl Iterator<Item = &'r CaseRow>, plan: &AnalysisPlan) -> Self {
        let mut all: Vec<(usize, &CaseRow)> = cases.enumerate().collect();
        all.sort_by_cached_key(|(_, case)| case.content());
        let (given, all): (Vec<usize>, Vec<&CaseRow>) = all.into_iter().unzip();
        let stays: Vec<bool> = all.iter().map(|case| plan.eligibility().left_out(case).is_none()).collect();
        Self::of(all, given, &stays, plan)
    }

    /// The same of cases that stand in an order of their content, where it is known which of them
    /// the plan does not leave out.
    pub(super) fn in_order(all: Vec<&'r CaseRow>, stays: &[bool], plan: &AnalysisPlan) -> Self {
        let given = (0..all.len()).collect();
        Self::of(all, given, stays, plan)
    }

    fn of(all: Vec<&'r CaseRow>, given: Vec<usize>, stays: &[bool], plan: &AnalysisPlan) -> Self {
        let both = given.into_iter().zip(all.iter().copied()).zip(stays);
        let (given, rows): (Vec<usize>, Vec<&CaseRow>) =
            both.filter(|(_, stays)| **stays).map(|(both, _)| both).unzip();
        let numbers = Numbers::read(given.iter().copied().zip(rows.iter().copied()), plan);
        Self { all, rows, given, numbers }
    }

    /// Something of each that the plan compares, by its place among the cases as they were given.
    pub(super) fn by_place<T: Clone + Default>(&self, of: impl Fn(&CaseRow) -> T) -> Vec<T> {
        let mut all = vec![T::default(); self.all.len()];
        self.given.iter().zip(&self.rows).for_each(|(place, case)| all[*place] = of(case));
        all
    }

    /// Those that the plan compares and that are kept, told by their place and themselves.
    pub(super) fn kept(&self, kept: impl Fn(usize, &CaseRow) -> bool) -> Vec<&'r CaseRow> {
        let both = self.given.iter().zip(&self.rows);
        both.filter(|(place, case)| kept(**place, case)).map(|(_, case)| *case).collect()
    }
}
