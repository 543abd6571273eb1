//! Laws of logistic regression, its variances and marginal standardisation.

use proptest::prelude::*;
use quietbeam_analysis::methods::cluster_variance::{
    cr0_variance, cr1_variance, cr1s_variance, cr2_variance,
};
use quietbeam_analysis::methods::clustered::ClusteredFit;
use quietbeam_analysis::methods::coefficient_variance::{
    CoefficientVariance, Contrast, hc0_variance, hc1_variance, model_variance,
};
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::interval::{Confidence, NotEstimable};
use quietbeam_analysis::methods::logistic::{LogisticFit, logistic_regression};
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::standardisation::{
    StandardisedEffects, TreatmentError, effects_covariates_fixed, effects_covariates_sampled, standardise,
};
use quietbeam_analysis::methods::wald::WaldEstimate;

use crate::reference::{Comparison, Tolerance, rows};
use crate::regression_sets::{RegressionSet, place};

const FIXED: bool = false;
const SAMPLED: bool = true;

fn effects(variance: &CoefficientVariance<'_>, sampled: bool) -> Result<StandardisedEffects, NotEstimable> {
    let standardised = standardise(variance, 1).unwrap();
    if sampled { effects_covariates_sampled(&standardised) } else { effects_covariates_fixed(&standardised) }
}

/// All seven variances that exist.
fn variances<'f>(fit: &'f LogisticFit<'f>, centres: &[u32]) -> Vec<CoefficientVariance<'f>> {
    let clustered = ClusteredFit::new(fit, centres).unwrap();
    let by_cluster = [cr0_variance, cr1_variance, cr1s_variance, cr2_variance];
    let by_cluster = by_cluster.into_iter().filter_map(|method| method(&clustered).ok());
    [model_variance(fit), hc0_variance(fit), hc1_variance(fit)].into_iter().chain(by_cluster).collect()
}

fn near(one: f64, two: f64, tolerance: f64) -> bool {
    (one - two).abs() <= tolerance * (1.0 + one.abs().max(two.abs()))
}

#[test]
fn with_every_case_its_own_cluster_cr2_is_hc2() {
    let mut comparison = Comparison::new("HC2", "R sandwich::vcovHC");
    let all = rows("hc2.csv");
    for name in ["lalonde", "reg_a", "reg_small"] {
        let set = RegressionSet::read(name);
        let design = set.design();
        let fit = logistic_regression(LogisticCases::new(&design, &set.events).unwrap()).unwrap();
        let each: Vec<u32> = (0..).take(set.events.len()).collect();
        let clustered = ClusteredFit::new(&fit, &each).unwrap();
        let found = cr2_variance(&clustered).unwrap().coefficients();
        for row in all.iter().filter(|row| row.text("set_id") == name) {
            let found = found[place(row.text("term"))].unwrap();
            let expected = row.number("se_hc2");
            // R keeps the weights of the round before the last.
            comparison.value(&row.name(), found.standard_error, expected, Tolerance::Relative(1e-7));
        }
        let (plain, clusters) = (hc0_variance(&fit).matrix(), cr0_variance(&clustered).unwrap().matrix());
        assert!((plain - clusters).abs().max() < 1e-12);
    }
    comparison.finish(24);
}

#[test]
fn without_covariates_the_effect_is_the_raw_one() {
    // 7/20 against 12/50: the delta-method variance is that of Wald.
    let arms: Vec<f64> = (0..70).map(|i| f64::from(u8::from(i < 20))).collect();
    let events: Vec<bool> = (0..70).map(|i| i < 7 || (20..32).contains(&i)).collect();
    let design = Design::new(70, &[arms]).unwrap();
    let fit = logistic_regression(LogisticCases::new(&design, &events).unwrap()).unwrap();
    let (p1, p2): (f64, f64) = (0.35, 0.24);
    let wald = (p1 * (1.0 - p1) / 20.0 + p2 * (1.0 - p2) / 50.0).sqrt();
    let katz = ((1.0 - p1) / 7.0 + (1.0 - p2) / 12.0).sqrt();
    let woolf = (1.0 / 7.0 + 1.0 / 13.0 + 1.0 / 12.0 + 1.0 / 38.0_f64).sqrt();
    for variance in [model_variance(&fit), hc0_variance(&fit)] {
        for sampled in [FIXED, SAMPLED] {
            let found = effects(&variance, sampled).unwrap();
            assert!(near(found.difference.estimate, p1 - p2, 1e-12));
            assert!(near(found.difference.standard_error, wald, 1e-12));
            assert!(near(found.log_ratio.standard_error, katz, 1e-12));
            assert!(near(found.log_odds_ratio.standard_error, woolf, 1e-12));
            let ratio = found.ratio_interval(Confidence::NINETY_FIVE).unwrap();
            assert!(near(ratio.lower, (p1 / p2) * (-1.959_963_984_540_054 * katz).exp(), 1e-12));
        }
    }
    assert!(standardise(&model_variance(&fit), 2).is_err());
    assert!(standardise(&model_variance(&fit), 0).is_err());
    assert!(Contrast::new(&fit, &[1.0]).is_err());
    let sum = model_variance(&fit).contrast(&Contrast::new(&fit, &[1.0, 1.0]).unwrap()).unwrap();
    assert!(near(sum.estimate, (p1 / (1.0 - p1)).ln(), 1e-12));
    assert!(near(sum.standard_error, (1.0 / 7.0 + 1.0 / 13.0_f64).sqrt(), 1e-12));
}

#[test]
fn a_saturated_model_gives_back_the_proportions() {
    let cells = [(3, 10), (9, 20), (1, 7), (30, 33)];
    let (mut columns, mut events, mut expected) = (vec![Vec::new(); 3], Vec::new(), Vec::new());
    for (cell, (x, n)) in cells.into_iter().enumerate() {
        for case in 0..n {
            let (a, b) = ((cell % 2) as f64, (cell / 2) as f64);
            for (column, value) in columns.iter_mut().zip([a, b, a * b]) {
                column.push(value);
            }
            events.push(case < x);
            expected.push(f64::from(x) / f64::from(n));
        }
    }
    let design = Design::new(events.len(), &columns).unwrap();
    let fit = logistic_regression(LogisticCases::new(&design, &events).unwrap()).unwrap();
    assert!(fit.probabilities().iter().zip(&expected).all(|(p, e)| near(*p, *e, 1e-12)));
    let epv = fit.events_per_parameter();
    assert_eq!((epv.rarer, epv.parameters, epv.are_few()), (27, 3, true));
    assert!(near(epv.ratio().unwrap(), 9.0, 1e-15));
}

#[test]
fn misuse_is_refused() {
    let set = RegressionSet::read("reg_small");
    let design = set.design();
    let fit = logistic_regression(LogisticCases::new(&design, &set.events).unwrap()).unwrap();
    let one = ClusteredFit::new(&fit, &vec![7; 90]).unwrap();
    for method in [cr0_variance, cr1_variance, cr1s_variance, cr2_variance] {
        assert_eq!(method(&one).err(), Some(NotEstimable::TooFewClusters { found: 1 }));
    }
    assert!(ClusteredFit::new(&fit, &[1, 2]).is_err());
    let variance = model_variance(&fit);
    assert!(matches!(standardise(&variance, 2), Err(TreatmentError::NotAnArm { column: 2, .. })));
    let missing = Err(TreatmentError::NoSuchColumn { column: 8, columns: 7 });
    assert_eq!(standardise(&variance, 8).map(|_| ()), missing);
}

#[derive(Clone, Debug)]
struct Network {
    arms: Vec<f64>,
    ages: Vec<f64>,
    sizes: Vec<f64>,
    events: Vec<bool>,
    centres: Vec<u32>,
}

impl Network {
    fn fit<T>(&self, look: impl Fn(&LogisticFit<'_>) -> T) -> Result<T, NotEstimable> {
        let columns = [self.arms.clone(), self.ages.clone(), self.sizes.clone()];
        let design = Design::new(self.arms.len(), &columns).unwrap();
        logistic_regression(LogisticCases::new(&design, &self.events).unwrap()).map(|fit| look(&fit))
    }

    /// Difference and log ratio of every variance, covariates given and sampled.
    fn effects(&self) -> Result<Vec<Result<StandardisedEffects, NotEstimable>>, NotEstimable> {
        self.fit(|fit| {
            let variances = variances(fit, &self.centres);
            variances.iter().flat_map(|v| [FIXED, SAMPLED].map(|sampled| effects(v, sampled))).collect()
        })
    }
}

fn network() -> impl Strategy<Value = Network> {
    let case = (any::<bool>(), -3.0..3.0_f64, 0..5_u32, 0..100_u32, 0..5_u32);
    prop::collection::vec(case, 4..80).prop_map(|cases| Network {
        arms: cases.iter().map(|c| f64::from(u8::from(c.0))).collect(),
        ages: cases.iter().map(|c| c.1).collect(),
        sizes: cases.iter().map(|c| f64::from(c.2)).collect(),
        events: cases.iter().map(|c| c.3 < 30).collect(),
        centres: cases.iter().map(|c| c.4).collect(),
    })
}

fn same(one: WaldEstimate, two: WaldEstimate, sign: f64) -> bool {
    let df = |estimate: WaldEstimate| estimate.degrees_of_freedom.unwrap_or_default();
    near(one.estimate, sign * two.estimate, 1e-8)
        && near(one.standard_error, two.standard_error, 1e-7)
        && near(df(one), df(two), 1e-6)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn effects_obey_their_laws(network in network(), shift in -1e6..1e6_f64, scale in 1e-6..1e6_f64) {
        let Ok(all) = network.effects() else { return Ok(()) };
        let clusters = network.centres.iter().collect::<std::collections::BTreeSet<_>>().len() as f64;
        for effect in all.iter().flatten() {
            prop_assert!(effect.first_risk.estimate > 0.0 && effect.first_risk.estimate < 1.0);
            for one in [effect.first_risk, effect.second_risk, effect.difference, effect.log_ratio] {
                prop_assert!(one.standard_error > 0.0 && (0.0..=1.0).contains(&one.p_two_sided()));
                let df = one.degrees_of_freedom.unwrap_or(1.0);
                prop_assert!((1.0 - 1e-9..=clusters + 1e-9).contains(&df), "{df} of {clusters}");
                if let Ok(interval) = one.interval(Confidence::NINETY_FIVE) {
                    prop_assert!(interval.lower < interval.estimate && interval.estimate < interval.upper);
                }
            }
        }
        // Estimates that run off to infinity have no digits left to compare.
        let tame = all.iter().flatten().all(|e| e.log_odds_ratio.standard_error < 20.0);
        prop_assume!(tame);
        let mut units = network.clone();
        units.ages.iter_mut().for_each(|age| *age = *age * scale + shift * scale);
        let mut swapped = network.clone();
        swapped.arms.iter_mut().for_each(|arm| *arm = 1.0 - *arm);
        let mut reversed = network.clone();
        for column in [&mut reversed.arms, &mut reversed.ages, &mut reversed.sizes] {
            column.reverse();
        }
        reversed.events.reverse();
        reversed.centres.reverse();
        reversed.centres.iter_mut().for_each(|centre| *centre = 1_000_000_000 - *centre);
        for (other, sign) in [(units, 1.0), (swapped, -1.0), (reversed, 1.0)] {
            for (a, b) in all.iter().zip(other.effects().unwrap()) {
                let (Ok(a), Ok(b)) = (a, b) else { continue };
                prop_assert!(same(a.difference, b.difference, sign), "{a:?} {b:?}");
                prop_assert!(same(a.log_ratio, b.log_ratio, sign), "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn any_design_has_an_answer(
        columns in prop::collection::vec(prop::collection::vec(
            prop_oneof![-1e15..1e15_f64, -1.0..1.0_f64, Just(0.0), Just(1.0), -1e-12..1e-12_f64], 12), 0..4),
        events in prop::collection::vec(any::<bool>(), 12),
    ) {
        let design = Design::new(12, &columns).unwrap();
        if let Ok(fit) = logistic_regression(LogisticCases::new(&design, &events).unwrap()) {
            prop_assert!(fit.coefficients().iter().all(|c| c.is_finite()));
            prop_assert!(fit.probabilities().iter().all(|p| (0.0..=1.0).contains(p)));
            prop_assert!(fit.log_likelihood() <= 0.0);
            // The score is 0: as many events are expected as happened.
            let expected: f64 = fit.probabilities().iter().sum();
            let happened = events.iter().filter(|e| **e).count() as f64;
            prop_assert!(near(expected, happened, 1e-8), "{expected} {happened}");
            for variance in variances(&fit, &[0, 0, 0, 1, 1, 1, 1, 2, 2, 3, 3, 3]) {
                for estimate in variance.coefficients().into_iter().flatten() {
                    prop_assert!(estimate.standard_error.is_finite());
                }
            }
        }
    }
}

/// A law: told many times over, the cases say the same with as much more weight. So many are gone
/// through in several parts.
#[test]
fn many_copies_of_the_cases_say_the_same() {
    let set = RegressionSet::read("reg_a");
    let copies = 300_000 / set.events.len();
    let one_after_the_other = |at: usize| at % set.events.len();
    let copies_together = |at: usize| at / copies;
    let once = (set.design(), set.events.clone(), set.centres.clone());
    let once = Found::of(&once, 1.0);
    for order in [&one_after_the_other as &dyn Fn(usize) -> usize, &copies_together] {
        let places: Vec<usize> = (0..copies * set.events.len()).map(order).collect();
        let columns: Vec<Vec<f64>> =
            set.columns.iter().map(|column| places.iter().map(|at| column[*at]).collect()).collect();
        let design = Design::new(places.len(), &columns).unwrap();
        let events = places.iter().map(|at| set.events[*at]).collect();
        let centres = places.iter().map(|at| set.centres[*at]).collect();
        let many = Found::of(&(design, events, centres), copies as f64);
        for (name, one, other) in many.each(&once) {
            assert!(near(one, other, 1e-9), "{name}: {one} of many copies, {other} of one");
        }
    }
}

/// Coefficients, and standard errors by variances to which more cases do not add clusters.
struct Found {
    coefficients: Vec<f64>,
    log_likelihood: f64,
    /// By variance: its name, those of the coefficients and of the standardised difference.
    errors: Vec<(&'static str, Vec<f64>)>,
}

impl Found {
    /// Of cases of which each stands for as many as there are copies of it.
    fn of((design, events, centres): &(Design, Vec<bool>, Vec<u32>), copies: f64) -> Self {
        let fit = logistic_regression(LogisticCases::new(design, events).unwrap()).unwrap();
        let clustered = ClusteredFit::new(&fit, centres).unwrap();
        let errors = |(name, variance, scale): (&'static str, CoefficientVariance<'_>, f64)| {
            let coefficients = variance.coefficients().into_iter().flatten();
            let difference = effects(&variance, SAMPLED).unwrap().difference;
            let all = coefficients.chain([difference]).map(|found| found.standard_error * scale);
            (name, all.collect())
        };
        let more = copies.sqrt();
        let errors = [
            ("model", model_variance(&fit), more),
            ("HC0", hc0_variance(&fit), more),
            ("CR1", cr1_variance(&clustered).unwrap(), 1.0),
            ("CR2", cr2_variance(&clustered).unwrap(), 1.0),
        ]
        .map(errors);
        Self {
            coefficients: fit.coefficients(),
            log_likelihood: fit.log_likelihood() / copies,
            errors: errors.to_vec(),
        }
    }

    fn each<'a>(&'a self, other: &'a Self) -> impl Iterator<Item = (&'static str, f64, f64)> + 'a {
        let pairs = |name, one: &'a [f64], other: &'a [f64]| {
            assert_eq!(one.len(), other.len(), "{name}");
            one.iter().zip(other).map(move |(one, other)| (name, *one, *other))
        };
        let errors = self.errors.iter().zip(&other.errors);
        pairs("coefficient", &self.coefficients, &other.coefficients)
            .chain([("log-likelihood", self.log_likelihood, other.log_likelihood)])
            .chain(errors.flat_map(move |((name, one), (_, other))| pairs(name, one, other)))
    }
}
