//! Seven centres with cases of unequal complexity, which is recorded, and effects that may differ
//! from centre to centre: what adjustment and its variances promise.

use quietbeam_analysis::methods::cluster_variance::{cr0_variance, cr1_variance, cr2_variance};
use quietbeam_analysis::methods::clustered::ClusteredFit;
use quietbeam_analysis::methods::coefficient_variance::{CoefficientVariance, model_variance};
use quietbeam_analysis::methods::counts::{EventCount, Stratum};
use quietbeam_analysis::methods::design::{Design, indicators};
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_analysis::methods::logistic::{LogisticFit, logistic_regression};
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::non_inferiority::Margin;
use quietbeam_analysis::methods::propensity::{TargetPopulation, logistic_propensity};
use quietbeam_analysis::methods::standardisation::{effects_covariates_sampled, standardise};
use quietbeam_analysis::methods::stratified_score::stratified_miettinen_nurminen_interval;
use quietbeam_analysis::methods::weighting::{
    WeightedCases, hajek_risks, weighted_cr1, weighted_cr2, weighted_for_these_centres,
};

use super::centres::CENTRES;
use super::chances::{Chance, SEED};
use super::setting::{Outcome, Truth, outcomes};
use super::tally::Tally;

type Answer = Result<Interval, NotEstimable>;

/// Methods that answer for the same population, and so have the same truth.
struct Question {
    /// Cases count by how likely they are in both arms; otherwise all alike.
    overlap: bool,
    methods: &'static [&'static str],
    /// One answer a method, in their order.
    answers: fn(&Cases) -> Vec<Answer>,
}

const QUESTIONS: [Question; 2] = [
    Question {
        overlap: false,
        methods: &[
            "stratified Miettinen–Nurminen",
            "standardised, these centres only (no clustering)",
            "standardised, CR0, normal",
            "standardised, CR1, Student",
            "standardised, CR2, Satterthwaite",
        ],
        answers: whole_population,
    },
    Question {
        overlap: true,
        methods: &[
            "overlap weights, these centres only (no clustering)",
            "overlap weights, CR1, Student",
            "overlap weights, CR2, Satterthwaite",
        ],
        answers: overlap_population,
    },
];

/// Complexity against the log odds: of harm and of success, and of being treated without
/// fluoroscopy, as in the demonstration.
const COMPLEXITY: (f64, f64, f64) = (0.3, -0.35, -0.4);
/// Centres differ as they do in the demonstration, a quarter of what [`CENTRES`] says.
const AS_THERE: f64 = 0.25;
/// Standard deviation of the centres' log odds ratios where they differ.
const EFFECTS_DIFFER: f64 = 0.3;

/// What the cases of a network are drawn from.
struct World {
    outcome: Outcome,
    base: f64,
    effect: f64,
    effect_sd: f64,
    overlap: bool,
}

impl World {
    /// The log odds ratio is such that the marginal difference over centres and cases is `truth`.
    fn new(outcome: Outcome, effect_sd: f64, truth: f64, overlap: bool) -> Self {
        let base = libm::log(outcome.base / (1.0 - outcome.base));
        let mut world = Self { outcome, base, effect: 0.0, effect_sd, overlap };
        let (mut low, mut high) = (-5.0, 5.0);
        for _ in 0..60 {
            world.effect = f64::midpoint(low, high);
            if world.marginal_difference() < truth { low = world.effect } else { high = world.effect }
        }
        world
    }

    fn probability(&self, centre: usize, complexity: f64, effect: f64) -> f64 {
        let (_, _, success, harm) = CENTRES[centre];
        let (shift, slope) = match self.outcome.margin {
            Margin::Benefit(_) => (success, COMPLEXITY.1),
            Margin::Harm(_) => (harm, COMPLEXITY.0),
        };
        expit(self.base + AS_THERE * shift + slope * complexity + effect)
    }

    /// Over the sizes of the centres, complexity and the effects of centres.
    fn marginal_difference(&self) -> f64 {
        let (mut sum, mut all) = (0.0, 0.0);
        for (centre, (cases, ..)) in CENTRES.iter().enumerate() {
            for (complexity, a) in normal_points(1.0) {
                for (own, b) in normal_points(self.effect_sd) {
                    let chance = treated(centre, complexity);
                    let own_weight = if self.overlap { chance * (1.0 - chance) } else { 1.0 };
                    let weight = f64::from(*cases) * a * b * own_weight;
                    let risk = |effect| self.probability(centre, complexity, effect);
                    sum += weight * (risk(self.effect + own) - risk(0.0));
                    all += weight;
                }
            }
        }
        sum / all
    }
}

/// Places and weights of a normal distribution, even steps of an eighth of its deviation.
fn normal_points(sd: f64) -> impl Iterator<Item = (f64, f64)> {
    let reach = if sd > 0.0 { 48 } else { 0 };
    (-reach..=reach).map(move |step| {
        let z = f64::from(step) / 8.0;
        (sd * z, libm::exp(-z * z / 2.0))
    })
}

/// Probability of being treated without fluoroscopy.
fn treated(centre: usize, complexity: f64) -> f64 {
    let share = f64::from(CENTRES[centre].1) / 1_000.0;
    expit(libm::log(share / (1.0 - share)) + COMPLEXITY.2 * complexity)
}

fn expit(log_odds: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-log_odds))
}

/// Treatment, complexity, centre and outcome of the cases of one network.
struct Cases {
    treated: Vec<f64>,
    complexity: Vec<f64>,
    centres: Vec<u32>,
    events: Vec<bool>,
}

impl Cases {
    fn draw(world: &World, chance: &mut Chance) -> Self {
        let mut all =
            Self { treated: Vec::new(), complexity: Vec::new(), centres: Vec::new(), events: Vec::new() };
        for (centre, (cases, ..)) in CENTRES.iter().enumerate() {
            let own = world.effect + world.effect_sd * chance.normal();
            for _ in 0..*cases {
                let complexity = chance.normal();
                let treated = chance.uniform() < treated(centre, complexity);
                let effect = if treated { own } else { 0.0 };
                all.events.push(chance.uniform() < world.probability(centre, complexity, effect));
                all.treated.push(f64::from(u8::from(treated)));
                all.complexity.push(complexity);
                all.centres.push(centre as u32);
            }
        }
        all
    }

    fn strata(&self) -> Vec<Stratum> {
        let arm = |centre: u32, treated: f64| {
            let own =
                (0..self.events.len()).filter(|i| self.centres[*i] == centre && self.treated[*i] == treated);
            let (mut events, mut total) = (0, 0);
            for case in own {
                events += u32::from(self.events[case]);
                total += 1;
            }
            EventCount::if_any(events, total).unwrap()
        };
        let stratum = |centre| Stratum { first: arm(centre, 1.0), second: arm(centre, 0.0) };
        (0..CENTRES.len() as u32).map(stratum).collect()
    }
}

fn whole_population(cases: &Cases) -> Vec<Answer> {
    let stratified = stratified_miettinen_nurminen_interval(&cases.strata(), Confidence::NINETY_FIVE);
    let mut answers = vec![stratified.map(|answer| answer.interval)];
    let mut columns = vec![cases.treated.clone(), cases.complexity.clone()];
    columns.extend(indicators(&cases.centres));
    let design = Design::new(cases.events.len(), &columns).unwrap();
    let fit = logistic_regression(LogisticCases::new(&design, &cases.events).unwrap());
    answers.extend(match &fit {
        Ok(fit) => standardised(fit, &cases.centres),
        Err(why) => vec![Err(*why); 4],
    });
    answers
}

fn overlap_population(cases: &Cases) -> Vec<Answer> {
    let mut columns = vec![cases.complexity.clone()];
    columns.extend(indicators(&cases.centres));
    let design = Design::new(cases.events.len(), &columns).unwrap();
    let arms: Vec<bool> = cases.treated.iter().map(|arm| *arm == 1.0).collect();
    let propensity = logistic_propensity(LogisticCases::new(&design, &arms).unwrap());
    let difference = propensity.and_then(|propensity| {
        let weighted = WeightedCases::new(&propensity, &cases.events, &cases.centres).unwrap();
        hajek_risks(weighted, TargetPopulation::Overlap)?.difference
    });
    [weighted_for_these_centres, weighted_cr1, weighted_cr2]
        .map(|errors| difference.and_then(errors)?.interval(Confidence::NINETY_FIVE))
        .to_vec()
}

fn standardised(fit: &LogisticFit<'_>, centres: &[u32]) -> Vec<Answer> {
    let clustered = ClusteredFit::new(fit, centres).unwrap();
    let difference = |variance: CoefficientVariance<'_>| {
        let effects = effects_covariates_sampled(&standardise(&variance, 1).unwrap())?;
        effects.difference_interval(Confidence::NINETY_FIVE)
    };
    vec![
        difference(model_variance(fit)),
        cr0_variance(&clustered).and_then(difference),
        cr1_variance(&clustered).and_then(difference),
        cr2_variance(&clustered).and_then(difference),
    ]
}

pub(crate) fn print(replicates: u64) {
    println!("\n## Seven centres, complexity recorded\n");
    println!(
        "Per cent of {replicates} simulated networks of 4,300 cases (seed {SEED}) ± Monte Carlo standard \
         error. Complex cases are treated without fluoroscopy less often and fare worse. Where effects \
         differ, the log odds ratios of the centres have a standard deviation of {EFFECTS_DIFFER} and are \
         drawn anew in every network: the truth is their mean, the effect in centres like these. Overlap \
         weights answer for the cases that could be in either arm, and are held to the truth about those.\n"
    );
    println!(
        "| outcome | effects | method | no difference: covered | shown | at the margin: covered | \
         wrongly shown | not given |"
    );
    println!("|---|---|---|---:|---:|---:|---:|---:|");
    for (number, outcome) in outcomes().into_iter().enumerate() {
        for (place, (name, sd)) in [("alike", 0.0), ("differ", EFFECTS_DIFFER)].into_iter().enumerate() {
            for question in &QUESTIONS {
                let row = 1_000 + 100 * number as u64 + 10 * place as u64;
                let row = row + 2 * u64::from(question.overlap);
                print_question(question, &format!("{} | {name}", outcome.name), |truth| {
                    let difference = truth.difference(outcome.margin);
                    let world = World::new(outcome, sd, difference, question.overlap);
                    let stream = row + u64::from(difference != 0.0);
                    simulate(&world, question, difference, (stream, replicates))
                });
            }
        }
    }
}

fn print_question(question: &Question, place: &str, simulated: impl Fn(Truth) -> Vec<Tally>) {
    let [equal, edge] = Truth::BOTH.map(simulated);
    for (index, method) in question.methods.iter().enumerate() {
        println!(
            "| {place} | {method} | {} | {} | {} | {} | {} / {} |",
            equal[index].covered().simulated(),
            equal[index].shown().simulated(),
            edge[index].covered().simulated(),
            edge[index].shown().simulated(),
            equal[index].missing().exact(),
            edge[index].missing().exact(),
        );
    }
}

/// Shared out to threads by the number of the network; sums of ones do not depend on their order.
fn simulate(world: &World, question: &Question, truth: f64, (number, replicates): (u64, u64)) -> Vec<Tally> {
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get() as u64);
    let share = |first: u64| {
        let mut tallies = vec![Tally::default(); question.methods.len()];
        for replicate in (first..replicates).step_by(threads as usize) {
            let answers = (question.answers)(&Cases::draw(world, &mut Chance::of(number, replicate)));
            for (answer, tally) in answers.iter().zip(&mut tallies) {
                tally.interval(1.0, answer, truth, world.outcome.margin);
            }
        }
        tallies
    };
    let mut all = vec![Tally::default(); question.methods.len()];
    std::thread::scope(|scope| {
        let share = &share;
        let running: Vec<_> = (0..threads).map(|first| scope.spawn(move || share(first))).collect();
        for thread in running {
            all.iter_mut().zip(thread.join().unwrap()).for_each(|(sum, part)| sum.add(part));
        }
    });
    all
}
