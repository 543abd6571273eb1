//! The cases that a plan compares as numbers, read once: every endpoint, population and part of
//! them is taken from here.

use super::ModelMethod;
use super::cases::Cases;
use super::covariates::{Term, echo_terms, takes_part, telling, terms};
use crate::distinct::distinct;
use crate::methods::runs::Runs;
use crate::study::arm::{Arm, ByArm};
use crate::study::cohort::CaseRow;
use crate::study::endpoint::Endpoint;
use crate::study::plan::AnalysisPlan;
use crate::study::population::Population;
use quietbeam_schema::vocabulary::MissingCovariate;
use rayon::prelude::*;

/// The cases of both arms that take part, in the order given, as columns.
pub(in crate::study) struct Numbers<'r> {
    rows: Vec<&'r CaseRow>,
    /// The place that each was given with.
    given: Vec<usize>,
    known: Vec<Known>,
    labels: Vec<u32>,
    terms: Vec<Term>,
    within: Option<Within>,
}

/// Clusters within the centres, for the variance of the plan's estimate once more.
pub(super) struct Within {
    pub(super) method: ModelMethod,
    /// The cluster of each case.
    clusters: Vec<u32>,
}

/// Where a case stands in every population and endpoint. Every part of the cases asks for it, and
/// rows are wide.
#[derive(Clone, Copy)]
struct Known {
    arms: [Option<Arm>; 3],
    events: [Option<bool>; 3],
}

impl Known {
    fn of(case: &CaseRow) -> Self {
        Self {
            arms: Population::ALL.map(|population| population.arm(case)),
            events: Endpoint::ALL.map(|endpoint| endpoint.event(case)),
        }
    }

    fn is_first(self, population: Population) -> bool {
        self.arms[population as usize] == Some(Arm::ZeroFluoroscopy)
    }

    fn has(self, endpoint: Endpoint) -> bool {
        self.events[endpoint as usize] == Some(true)
    }

    /// Its arm and its outcome are both known.
    fn enters(self, endpoint: Endpoint, population: Population) -> bool {
        self.arms[population as usize].is_some() && self.events[endpoint as usize].is_some()
    }
}

/// The cases that enter the models of an endpoint in a population.
pub(super) struct Entered {
    /// How many of each arm.
    pub(super) cases: ByArm<u32>,
    /// The names of the covariates' columns.
    pub(super) terms: Vec<String>,
    /// The same cases as numbers.
    pub(super) model: Cases,
}

impl<'r> Numbers<'r> {
    /// Reads the cases that the plan does not leave out, each with a place by which parts of them
    /// can be told.
    pub(in crate::study) fn read(
        rows: impl IntoIterator<Item = (usize, &'r CaseRow)>,
        plan: &AnalysisPlan,
    ) -> Self {
        let enters = |case: &CaseRow| Population::AsIntended.arm(case).is_some() && takes_part(case, plan);
        let (given, rows): (Vec<usize>, Vec<&CaseRow>) =
            rows.into_iter().filter(|(_, case)| enters(case)).unzip();
        let centres = distinct(rows.iter().map(|case| case.centre));
        let label = |case: &&CaseRow| centres.partition_point(|centre| *centre < case.centre) as u32;
        let few =
            || (rows.par_iter().map(label).collect(), rows.par_iter().map(|case| Known::of(case)).collect());
        let ((labels, known), terms) = rayon::join(few, || terms(&rows, plan.covariates()));
        Self { rows, given, known, labels, terms, within: None }
    }

    /// Asks for the variance by clusters within the centres too, where the plan's method is this;
    /// `of_given` tells the cluster of a case by the place that it was given with.
    pub(in crate::study) fn cluster_within(&mut self, method: ModelMethod, of_given: &[u32]) {
        let clusters = self.given.iter().map(|place| of_given[*place]).collect();
        self.within = Some(Within { method, clusters });
    }

    /// What was asked for.
    pub(super) fn within(&self) -> Option<&Within> {
        self.within.as_ref()
    }

    /// The cases.
    pub(super) fn rows(&self) -> &[&'r CaseRow] {
        &self.rows
    }

    /// All cases with their columns, and which of them are in the zero-fluoroscopy arm as intended.
    pub(super) fn choice(&self) -> Cases {
        let in_first = self.known.iter().map(|case| case.is_first(Population::AsIntended)).collect();
        let terms = telling(self.terms.clone());
        Cases {
            in_first,
            labels: self.labels.clone(),
            columns: terms.into_iter().map(|term| term.column).collect(),
            ..Cases::default()
        }
    }

    /// Those of the cases kept whose outcome is known; a case is told by its place and itself.
    pub(super) fn entered(
        &self,
        endpoint: Endpoint,
        population: Population,
        kept: impl Fn(usize, &CaseRow) -> bool,
    ) -> Entered {
        self.entered_by(endpoint, population, kept, &self.terms)
    }

    /// All whose outcome is known as intended, with the use of intracardiac echo among the terms;
    /// where it is not recorded the plan's way with missing covariates holds for it too.
    pub(super) fn entered_with_echo(&self, endpoint: Endpoint, missing: MissingCovariate) -> Entered {
        let terms: Vec<Term> = self.terms.iter().cloned().chain(echo_terms(&self.rows)).collect();
        let kept =
            |_, case: &CaseRow| missing == MissingCovariate::Indicator || case.intracardiac_echo.is_some();
        self.entered_by(endpoint, Population::AsIntended, kept, &terms)
    }

    fn entered_by(
        &self,
        endpoint: Endpoint,
        population: Population,
        kept: impl Fn(usize, &CaseRow) -> bool,
        terms: &[Term],
    ) -> Entered {
        let enters = |place: &usize| {
            self.known[*place].enters(endpoint, population) && kept(self.given[*place], self.rows[*place])
        };
        let places: Runs = (0..self.rows.len()).filter(enters).collect();
        let known = places.of(&self.known);
        let all = known.len() == self.rows.len();
        let terms = terms.iter().map(|term| if all { term.clone() } else { term.only(&places) });
        let terms = telling(terms.collect());
        let model = Cases {
            in_first: known.iter().map(|case| case.is_first(population)).collect(),
            events: known.iter().map(|case| case.has(endpoint)).collect(),
            labels: places.of(&self.labels),
            columns: terms.iter().map(|term| term.column.clone()).collect(),
            unwanted: endpoint.unwanted(),
            within: self.within.as_ref().map_or_else(Vec::new, |within| places.of(&within.clusters)),
        };
        let first = model.in_first.iter().filter(|first| **first).count();
        Entered {
            cases: ByArm { zero_fluoroscopy: first as u32, conventional: (known.len() - first) as u32 },
            terms: terms.into_iter().map(|term| term.name).collect(),
            model,
        }
    }
}
