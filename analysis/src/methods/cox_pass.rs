//! One pass over the risk sets of a Cox regression.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::cox::{CoxCases, Meat};
use super::follow_up::Ended;

/// Cases of one stratum that leave the risk set on one day.
struct Day {
    day: u32,
    cases: Vec<usize>,
}

/// Cases by stratum and day, latest first, with centred covariates.
pub(super) struct RiskOrder {
    strata: Vec<Vec<Day>>,
    rows: Vec<DVector<f64>>,
    died: Vec<bool>,
}

/// Likelihood, score and information, plain and weighted by a function of the day.
pub(super) struct Pass {
    pub(super) log_likelihood: f64,
    pub(super) score: DVector<f64>,
    pub(super) information: DMatrix<f64>,
    pub(super) timed_score: DVector<f64>,
    pub(super) timed_information: DMatrix<f64>,
    pub(super) timed_squared_information: DMatrix<f64>,
}

/// What the events of one day add.
struct DayParts {
    log_likelihood: f64,
    score: DVector<f64>,
    information: DMatrix<f64>,
}

impl Pass {
    fn add(&mut self, day: DayParts, time: f64) {
        self.log_likelihood += day.log_likelihood;
        self.timed_score.axpy(time, &day.score, 1.0);
        self.timed_information += time * &day.information;
        self.timed_squared_information += time * time * &day.information;
        self.score += day.score;
        self.information += day.information;
    }
}

/// Sums over a set of cases: weights e^xβ, and the first and second moment of x by them.
#[derive(Clone)]
struct Sums {
    weight: f64,
    first: DVector<f64>,
    second: DMatrix<f64>,
}

impl Sums {
    fn empty(columns: usize) -> Self {
        Self { weight: 0.0, first: DVector::zeros(columns), second: DMatrix::zeros(columns, columns) }
    }

    fn add(&mut self, weight: f64, row: &DVector<f64>) {
        self.weight += weight;
        self.first.axpy(weight, row, 1.0);
        self.second.ger(weight, row, row, 1.0);
    }
}

impl RiskOrder {
    pub(super) fn of(cases: CoxCases<'_>) -> Self {
        let matrix = cases.design.matrix();
        let mean = matrix.row_mean().transpose();
        let rows = (0..matrix.nrows()).map(|i| matrix.row(i).transpose() - &mean).collect();
        let died = cases.follow_up.iter().map(|case| case.ended == Ended::Event).collect();
        let mut by_stratum: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (case, stratum) in cases.strata.iter().enumerate() {
            by_stratum.entry(*stratum).or_default().push(case);
        }
        let days = |mut members: Vec<usize>| -> Vec<Day> {
            let day = |case: &usize| cases.follow_up[*case].days;
            members.sort_by_key(|case| (std::cmp::Reverse(day(case)), *case));
            let same = members.chunk_by(|a, b| day(a) == day(b));
            same.map(|chunk| Day { day: day(&chunk[0]), cases: chunk.to_vec() }).collect()
        };
        Self { strata: by_stratum.into_values().map(days).collect(), rows, died }
    }

    pub(super) fn columns(&self) -> usize {
        self.rows.first().map_or(0, DVector::len)
    }

    /// Standard deviation of each covariate: the unit in which a step is small.
    pub(super) fn spread(&self) -> Vec<f64> {
        let cases = self.rows.len() as f64;
        let square = |j: usize| self.rows.iter().map(|row| row[j] * row[j]).sum::<f64>();
        (0..self.columns()).map(|j| (square(j) / cases).sqrt()).collect()
    }

    fn weight(&self, case: usize, beta: &DVector<f64>) -> f64 {
        self.rows[case].dot(beta).exp()
    }

    pub(super) fn pass(&self, beta: &DVector<f64>, time: impl Fn(u32) -> f64) -> Pass {
        let p = self.columns();
        let mut pass = Pass {
            log_likelihood: 0.0,
            score: DVector::zeros(p),
            information: DMatrix::zeros(p, p),
            timed_score: DVector::zeros(p),
            timed_information: DMatrix::zeros(p, p),
            timed_squared_information: DMatrix::zeros(p, p),
        };
        for stratum in &self.strata {
            let mut at_risk = Sums::empty(p);
            for day in stratum {
                let tied = self.enter(day, beta, &mut at_risk);
                let events: Vec<usize> = self.events(day).collect();
                if !events.is_empty() {
                    pass.add(self.day_parts(&events, beta, &at_risk, &tied), time(day.day));
                }
            }
        }
        pass
    }

    /// Adds the cases of a day to the risk set; gives the sums over its events.
    fn enter(&self, day: &Day, beta: &DVector<f64>, at_risk: &mut Sums) -> Sums {
        let mut tied = Sums::empty(self.columns());
        for &case in &day.cases {
            let weight = self.weight(case, beta);
            at_risk.add(weight, &self.rows[case]);
            if self.died[case] {
                tied.add(weight, &self.rows[case]);
            }
        }
        tied
    }

    fn events<'a>(&'a self, day: &'a Day) -> impl Iterator<Item = usize> + 'a {
        day.cases.iter().copied().filter(|case| self.died[*case])
    }

    fn day_parts(&self, events: &[usize], beta: &DVector<f64>, at_risk: &Sums, tied: &Sums) -> DayParts {
        let tied_events = events.len();
        let mut score = DVector::zeros(self.columns());
        let mut log_likelihood = 0.0;
        for &case in events {
            score += &self.rows[case];
            log_likelihood += self.rows[case].dot(beta);
        }
        let mut information = DMatrix::zeros(self.columns(), self.columns());
        for l in 0..tied_events {
            let share = l as f64 / tied_events as f64;
            let weight = at_risk.weight - share * tied.weight;
            let mean = (&at_risk.first - share * &tied.first) / weight;
            information += (&at_risk.second - share * &tied.second) / weight - &mean * mean.transpose();
            log_likelihood -= weight.ln();
            score -= mean;
        }
        DayParts { log_likelihood, score, information }
    }

    /// Score residuals, summed within centres.
    pub(super) fn centre_meat(&self, beta: &DVector<f64>, centres: &[u32]) -> Meat {
        let p = self.columns();
        let mut sums: BTreeMap<u32, DVector<f64>> = BTreeMap::new();
        for (case, residual) in self.residuals(beta).into_iter().enumerate() {
            *sums.entry(centres[case]).or_insert_with(|| DVector::zeros(p)) += residual;
        }
        let mut meat = DMatrix::zeros(p, p);
        for sum in sums.values() {
            meat.ger(1.0, sum, sum, 1.0);
        }
        Meat { sums: meat, centres: sums.len() }
    }

    /// δ(x − x̄) − e^xβ Σ (x − x̄) dΛ for every case; a tied event bears its own day in part.
    fn residuals(&self, beta: &DVector<f64>) -> Vec<DVector<f64>> {
        let p = self.columns();
        let mut residuals = vec![DVector::zeros(p); self.rows.len()];
        for stratum in &self.strata {
            let mut at_risk = Sums::empty(p);
            let sets: Vec<(Sums, Sums)> = stratum
                .iter()
                .map(|day| {
                    let tied = self.enter(day, beta, &mut at_risk);
                    (at_risk.clone(), tied)
                })
                .collect();
            let (mut hazard, mut moment) = (0.0, DVector::zeros(p));
            for (day, (at_risk, tied)) in stratum.iter().zip(&sets).rev() {
                let step = HazardStep::of(self.events(day).count(), at_risk, tied);
                for &case in &day.cases {
                    let row = &self.rows[case];
                    let (own, own_moment) = if self.died[case] {
                        residuals[case] += row - &step.mean;
                        (step.event_hazard, &step.event_moment)
                    } else {
                        (step.hazard, &step.moment)
                    };
                    let expected = row * (hazard + own) - (&moment + own_moment);
                    residuals[case] -= self.weight(case, beta) * expected;
                }
                hazard += step.hazard;
                moment += step.moment;
            }
        }
        residuals
    }
}

/// What one day adds to the cumulative hazard, for cases at risk and for its own events.
struct HazardStep {
    hazard: f64,
    moment: DVector<f64>,
    event_hazard: f64,
    event_moment: DVector<f64>,
    mean: DVector<f64>,
}

impl HazardStep {
    fn of(events: usize, at_risk: &Sums, tied: &Sums) -> Self {
        let zero = DVector::zeros(at_risk.first.len());
        let mut step = Self {
            hazard: 0.0,
            moment: zero.clone(),
            event_hazard: 0.0,
            event_moment: zero.clone(),
            mean: zero,
        };
        for l in 0..events {
            let share = l as f64 / events as f64;
            let weight = at_risk.weight - share * tied.weight;
            let mean = (&at_risk.first - share * &tied.first) / weight;
            step.hazard += 1.0 / weight;
            step.moment.axpy(1.0 / weight, &mean, 1.0);
            step.event_hazard += (1.0 - share) / weight;
            step.event_moment.axpy((1.0 - share) / weight, &mean, 1.0);
            step.mean.axpy(1.0 / events as f64, &mean, 1.0);
        }
        step
    }
}
