#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::difference::newcombe_interval;
use quietbeam_analysis::methods::exact_power::{
    farrington_manning_showing, miettinen_nurminen_showing, wald_showing,
};
use quietbeam_analysis::methods::plan::{
    Allocation, ArmSizes, Goal, OneSidedAlpha, Planned, Proportions, WantedPower,
};
use quietbeam_analysis::methods::power::{
    blackwelder_power, farrington_manning_power, farrington_manning_ratio_power, wald_log_ratio_power,
};
use quietbeam_analysis::methods::precision::{
    AssumedProportion, WantedHalfWidth, cases_for_half_width, expected_difference_half_width,
    expected_half_width, expected_ratio_reach,
};
use quietbeam_analysis::methods::proportion::wilson_interval;
use quietbeam_analysis::methods::ratio::miettinen_nurminen_ratio_interval;
use quietbeam_analysis::methods::ratio_margin::RatioMargin;
use quietbeam_analysis::methods::sample_size::{
    SampleSize, blackwelder_sample_size, farrington_manning_ratio_sample_size,
    farrington_manning_sample_size, wald_log_ratio_sample_size,
};
use quietbeam_fuzz::{Source, maybe, number, p_value};

fn sizes(source: &mut Source<'_>, most: u32) -> ArmSizes {
    let mut size = || source.size(most).try_into().unwrap();
    ArmSizes { first: size(), second: size() }
}

fn size(found: Result<SampleSize, impl std::fmt::Display>) {
    match found {
        Ok(found) => assert!(found.first_unrounded > 0.0),
        Err(why) => assert!(!why.to_string().is_empty()),
    }
}

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let Ok(alpha) = OneSidedAlpha::new(source.share() / 2.0) else { return };
    let Ok(proportions) = Proportions::new(source.share(), source.share()) else { return };
    let planned = Planned { proportions, margin: source.margin(), alpha };
    let at = sizes(&mut source, u32::MAX);
    p_value(blackwelder_power(&planned, at));
    p_value(farrington_manning_power(&planned, at));
    let (Ok(power), Ok(allocation)) =
        (WantedPower::new(0.5 + source.share() / 2.0), Allocation::new(1_000.0 * source.share()))
    else {
        return;
    };
    let goal = Goal { power, allocation };
    size(blackwelder_sample_size(&planned, goal));
    size(farrington_manning_sample_size(&planned, goal));
    let null = source.null_ratio().ratio();
    for margin in [RatioMargin::for_benefit(null), RatioMargin::for_harm(null)].into_iter().flatten() {
        let planned = Planned { proportions, margin, alpha };
        p_value(farrington_manning_ratio_power(&planned, at));
        p_value(wald_log_ratio_power(&planned, at));
        size(farrington_manning_ratio_sample_size(&planned, goal));
        size(wald_log_ratio_sample_size(&planned, goal));
    }
    let small = sizes(&mut source, 60);
    for showing in [
        farrington_manning_showing(planned.margin, alpha, small),
        miettinen_nurminen_showing(planned.margin, alpha, small),
        wald_showing(planned.margin, alpha, small),
    ] {
        maybe(showing, |tables| {
            p_value(tables.power(proportions));
            p_value(tables.worst_type_one_error());
        });
    }
    let level = source.level();
    number(expected_difference_half_width(small, proportions, level, newcombe_interval));
    let reach = expected_ratio_reach(small, proportions, level, miettinen_nurminen_ratio_interval);
    number(reach.factor);
    p_value(reach.unbounded);
    if let Ok(assumed) = AssumedProportion::new(source.share()) {
        number(expected_half_width(small.first, assumed, level, wilson_interval));
        if let Ok(wanted) = WantedHalfWidth::new(0.02 + source.share() / 3.0) {
            if let Err(why) = cases_for_half_width(wanted, assumed, level, wilson_interval) {
                assert!(!why.to_string().is_empty());
            }
        }
    }
});
