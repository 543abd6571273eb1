#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::between_centres::{
    common_effect, der_simonian_laird, paule_mandel, restricted_maximum_likelihood,
};
use quietbeam_analysis::methods::centre_effects::{
    CentreEffect, log_odds, log_odds_ratios, log_odds_ratios_size_matched, log_risk_ratios,
    log_risk_ratios_size_matched, risk_differences, risk_differences_by_common_rates,
};
use quietbeam_analysis::methods::heterogeneity::{heterogeneity, tau_heterogeneity};
use quietbeam_analysis::methods::pooling::{
    PooledEffect, pooled_hartung_knapp, pooled_hartung_knapp_ad_hoc, pooled_normal, prediction_interval,
    prediction_interval_hartung_knapp,
};
use quietbeam_fuzz::{Source, interval, maybe, number, p_value};

fn pooled(effect: PooledEffect) {
    interval(effect.interval);
    p_value(effect.p);
}

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let level = source.level();
    let effects: Vec<CentreEffect> = if source.yes() {
        let any = (0..source.whole(0, 12)).map(|_| CentreEffect::new(source.value(), source.value()));
        any.flatten().collect()
    } else {
        let strata = source.strata(u32::MAX);
        let arms: Vec<_> = strata.iter().filter_map(|stratum| stratum.first).collect();
        let given = match source.byte() % 7 {
            0 => risk_differences(&strata).unwrap_or_default(),
            1 => risk_differences_by_common_rates(&strata).unwrap_or_default(),
            2 => log_odds_ratios(&strata),
            3 => log_odds_ratios_size_matched(&strata),
            4 => log_risk_ratios(&strata),
            5 => log_risk_ratios_size_matched(&strata),
            _ => log_odds(&arms).into_iter().map(Some).collect(),
        };
        given.into_iter().flatten().collect()
    };
    maybe(heterogeneity(&effects), |_| ());
    for model in [
        common_effect(&effects),
        der_simonian_laird(&effects),
        paule_mandel(&effects),
        restricted_maximum_likelihood(&effects),
    ] {
        maybe(model, |model| {
            pooled(pooled_normal(&model, level));
            maybe(pooled_hartung_knapp(&model, level), pooled);
            maybe(pooled_hartung_knapp_ad_hoc(&model, level), pooled);
            maybe(prediction_interval(&model, level), interval);
            maybe(prediction_interval_hartung_knapp(&model, level), interval);
            maybe(tau_heterogeneity(&model), |_| ());
            model.shares().into_iter().for_each(number);
        });
    }
});
