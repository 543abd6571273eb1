//! A planned comparison made again elsewhere: counts, the plan, what was found, and a script in
//! base R that computes the same with R's own functions and says how far apart the two are.

mod found;
mod readme;
mod tables;

use super::adjustment::Patterns;
use super::cohort::Cohort;
use super::compared::Compared;
use super::near_zero::NearZero;
use super::planned::PlannedComparison;
use super::population::Population;
use super::report::echo_held_alike;
use serde_json::to_string_pretty;

/// The populations that decide.
const POPULATIONS: [(Population, &str); 2] =
    [(Population::AsIntended, "as_intended"), (Population::PerProtocol, "per_protocol")];

/// The script.
const SCRIPT: &str = include_str!("recheck.R");
/// Its methods.
const METHODS: &str = include_str!("methods.R");

/// One file of the kit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KitFile {
    /// Its name.
    pub name: String,
    /// What stands in it.
    pub text: String,
}

/// Everything that a stranger to the registry needs to compute its planned results again. The
/// tables of patterns hold what the models see of each case: whoever may not read rows may not
/// have them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kit {
    /// The files.
    pub files: Vec<KitFile>,
    /// Cases in the largest table of patterns.
    pub cases: u32,
    /// Those among them that are alone in their pattern.
    pub alone: usize,
}

/// Puts the kit together. `provenance` says in a line or two where the data came from.
pub fn kit(cohort: &Cohort, planned: &PlannedComparison, provenance: &str) -> Kit {
    let plan = &planned.plan;
    let near_zero = NearZero::of(cohort.rows(), plan);
    let compared = &Compared::new(near_zero.among(cohort.rows()).into_iter(), plan);
    let Compared { rows, numbers, .. } = compared;
    let echo = echo_held_alike(compared, plan, planned.level());
    let file = |name: &str, text: String| KitFile { name: name.to_owned(), text };
    let mut files = vec![
        file("recheck.R", SCRIPT.to_owned()),
        file("methods.R", METHODS.to_owned()),
        file("plan.json", to_string_pretty(plan).unwrap_or_default() + "\n"),
        file("plan.csv", tables::plan(plan)),
        file("looks.csv", tables::looks(&planned.look)),
        file("look.csv", tables::look(&planned.look)),
        file("counts.csv", tables::counts(rows, plan)),
        file("results.csv", found::results(planned, &echo)),
        file("decisions.csv", found::decisions(planned)),
    ];
    let (mut cases, mut alone) = (0, 0);
    for endpoint in plan.endpoints().iter().map(|planned| planned.endpoint) {
        for (population, code) in POPULATIONS {
            let patterns = Patterns::new(numbers, endpoint, population);
            let entered = patterns.patterns.iter().map(|pattern| pattern.cases).sum();
            if entered > cases {
                (cases, alone) = (entered, patterns.of_one_case());
            }
            files
                .push(file(&format!("patterns-{}-{code}.csv", endpoint.code()), tables::patterns(&patterns)));
        }
        let with_echo = Patterns::with_echo(numbers, endpoint, plan.missing_covariates());
        files
            .push(file(&format!("patterns-{}-with_echo.csv", endpoint.code()), tables::patterns(&with_echo)));
    }
    files.insert(0, file("README.txt", readme::readme(&files, provenance, cases, alone)));
    Kit { files, cases, alone }
}
