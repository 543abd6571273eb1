//! The cases that a plan compares as numbers, read once: every endpoint, population and part of
//! them is taken from here.

use super::cases::Cases;
use super::covariates::{Term, echo_terms, takes_part, telling, terms};
use super::known;
use crate::study::cohort::CaseRow;
use crate::study::endpoint::Endpoint;
use crate::study::plan::AnalysisPlan;
use crate::study::population::{Arm, ByArm, Population};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::MissingCovariate;

/// The cases of both arms that take part, in the order given, as columns.
pub(in crate::study) struct Numbers<'r> {
    rows: Vec<&'r CaseRow>,
    /// The place that each was given with.
    given: Vec<usize>,
    labels: Vec<u32>,
    terms: Vec<Term>,
}

/// The cases that enter the models of an endpoint in a population.
pub(super) struct Entered {
    /// How many of each arm.
    pub(super) cases: ByArm<u32>,
    /// The names of the covariates' columns.
    pub(super) terms: Vec<String>,
    /// The same cases as numbers.
    pub(super) model: Cases,
    /// The place that each was given with.
    pub(super) given: Vec<usize>,
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
        let mut centres: Vec<CentreCode> = rows.iter().map(|case| case.centre).collect();
        centres.dedup();
        centres.sort_unstable();
        centres.dedup();
        let label = |case: &&CaseRow| centres.partition_point(|centre| *centre < case.centre) as u32;
        let (labels, terms) = (rows.iter().map(label).collect(), terms(&rows, plan.covariates()));
        Self { rows, given, labels, terms }
    }

    /// The cases.
    pub(super) fn rows(&self) -> &[&'r CaseRow] {
        &self.rows
    }

    /// All cases with their columns, and which of them are in the zero-fluoroscopy arm as intended.
    pub(super) fn choice(&self) -> Cases {
        let is_first = |case: &&CaseRow| Population::AsIntended.arm(case) == Some(Arm::ZeroFluoroscopy);
        let in_first = self.rows.iter().map(is_first).collect();
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
        let model = Cases { unwanted: endpoint.unwanted(), ..Cases::default() };
        let (mut cases, mut model, mut places) = (ByArm::default(), model, Vec::new());
        let found = |place: usize, case: &CaseRow| {
            known(case, endpoint, population).filter(|_| kept(self.given[place], case))
        };
        for (place, case) in self.rows.iter().enumerate() {
            let Some((arm, event)) = found(place, case) else { continue };
            *cases.of_mut(arm) += 1;
            model.in_first.push(arm == Arm::ZeroFluoroscopy);
            model.events.push(event);
            model.labels.push(self.labels[place]);
            places.push(place);
        }
        let all = places.len() == self.rows.len();
        let terms = terms.iter().map(|term| if all { term.clone() } else { term.only(&places) });
        let terms = telling(terms.collect());
        model.columns = terms.iter().map(|term| term.column.clone()).collect();
        let given = places.iter().map(|place| self.given[*place]).collect();
        Entered { cases, terms: terms.into_iter().map(|term| term.name).collect(), model, given }
    }
}
