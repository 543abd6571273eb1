#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::cox::{CoxCases, cox_regression};
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::follow_up::Curve;
use quietbeam_analysis::methods::log_rank::{TwoGroups, log_rank_test};
use quietbeam_analysis::methods::survival::{
    kaplan_meier_linear_interval, kaplan_meier_log_interval, kaplan_meier_log_log_interval, restricted_mean,
    restricted_mean_difference, survival_difference_interval, survival_difference_recovered_interval,
    survival_difference_test,
};
use quietbeam_fuzz::{Source, interval, maybe, number, p_value, ratio, test};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let (level, null) = (source.level(), source.null_difference());
    let (first, second) = (source.follow_up(20), source.follow_up(20));
    let day = if source.yes() { source.size(u32::MAX) } else { source.whole(0, 31) };
    maybe(log_rank_test(&[TwoGroups { first: &first, second: &second }]), |found| {
        number(found.test.statistic);
        p_value(found.test.p);
    });
    regression(&mut source, &first);
    let (Ok(a), Ok(b)) = (Curve::of(&first), Curve::of(&second)) else { return };
    maybe(kaplan_meier_linear_interval(&a, day, level), interval);
    maybe(kaplan_meier_log_interval(&a, day, level), interval);
    maybe(kaplan_meier_log_log_interval(&a, day, level), interval);
    maybe(survival_difference_interval(&a, &b, day, level), interval);
    maybe(survival_difference_recovered_interval(&a, &b, day, level), interval);
    maybe(survival_difference_test(&a, &b, day, null), test);
    maybe(restricted_mean(&a, day), |mean| {
        number(mean.days);
        number(mean.standard_error);
    });
    maybe(restricted_mean_difference(&a, &b, day, level), |found| {
        interval(found.interval);
        p_value(found.p_two_sided);
    });
});

fn regression(source: &mut Source<'_>, cases: &[quietbeam_analysis::methods::follow_up::FollowUp]) {
    let mut column = || cases.iter().map(|_| source.value()).collect::<Vec<f64>>();
    let columns = [column(), column()];
    let mut labels = || cases.iter().map(|_| source.whole(0, 3)).collect::<Vec<u32>>();
    let (strata, centres) = (labels(), labels());
    let Ok(design) = Design::new(cases.len(), &columns) else { return };
    let Ok(cases) = CoxCases::new(cases, &design, &strata, &centres) else { return };
    maybe(cox_regression(cases), |fit| {
        for coefficient in &fit.coefficients {
            number(coefficient.log_hazard_ratio);
            number(coefficient.model_standard_error);
            number(coefficient.centre_standard_error);
            p_value(coefficient.proportionality.p);
            maybe(coefficient.hazard_ratio(source.level()), ratio);
        }
        [fit.log_likelihood, fit.log_likelihood_null, fit.wald_statistic].into_iter().for_each(number);
    });
}
