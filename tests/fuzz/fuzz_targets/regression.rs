#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::cluster_variance::{
    cr0_variance, cr1_variance, cr1s_variance, cr2_variance,
};
use quietbeam_analysis::methods::clustered::ClusteredFit;
use quietbeam_analysis::methods::coefficient_variance::{
    CoefficientVariance, hc0_variance, hc1_variance, model_variance,
};
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::firth::firth_regression;
use quietbeam_analysis::methods::logistic::logistic_regression;
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::separation::separating_column;
use quietbeam_analysis::methods::standardisation::{
    StandardisedEffects, effects_covariates_fixed, effects_covariates_sampled, standardise,
};
use quietbeam_fuzz::{Source, maybe, number, p_value};

fn effects(found: StandardisedEffects) {
    for effect in
        [found.first_risk, found.second_risk, found.difference, found.log_ratio, found.log_odds_ratio]
    {
        number(effect.estimate);
        number(effect.standard_error);
        p_value(effect.p_two_sided());
    }
}

fn look(variance: CoefficientVariance<'_>) {
    for coefficient in variance.coefficients() {
        maybe(coefficient, |found| {
            number(found.estimate);
            number(found.standard_error);
            p_value(found.p_two_sided());
        });
    }
    let Ok(standardised) = standardise(&variance, 1) else { return };
    maybe(effects_covariates_fixed(&standardised), effects);
    maybe(effects_covariates_sampled(&standardised), effects);
}

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let cases = source.whole(1, 60) as usize;
    let columns: Vec<Vec<f64>> = (0..source.whole(0, 4))
        .map(|column| match (column, source.byte() % 3) {
            (0, _) | (_, 0) => (0..cases).map(|_| f64::from(u8::from(source.yes()))).collect(),
            _ => (0..cases).map(|_| source.value()).collect(),
        })
        .collect();
    let events: Vec<bool> = (0..cases).map(|_| source.yes()).collect();
    let centres: Vec<u32> = (0..cases).map(|_| source.whole(0, 6)).collect();
    let Ok(design) = Design::new(cases, &columns) else { return };
    let given = LogisticCases::new(&design, &events).unwrap();
    separating_column(&design, &events);
    maybe(firth_regression(given), |fit| {
        fit.coefficients().into_iter().for_each(number);
        look(fit.variance());
    });
    maybe(logistic_regression(given), |fit| {
        fit.coefficients().into_iter().for_each(number);
        look(model_variance(&fit));
        look(hc0_variance(&fit));
        look(hc1_variance(&fit));
        let clustered = ClusteredFit::new(&fit, &centres).unwrap();
        maybe(cr0_variance(&clustered), look);
        maybe(cr1_variance(&clustered), look);
        maybe(cr1s_variance(&clustered), look);
        maybe(cr2_variance(&clustered), look);
    });
});
