#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::cusum::{
    ExpectedProbability, Threshold, WatchedCase, WatchedChange, cumulative_observed_minus_expected,
    running_cusum, signalling_cusum,
};
use quietbeam_analysis::methods::funnel::{Target, exact_funnel_limits, normal_funnel_limits};
use quietbeam_analysis::methods::observed_expected::{
    ExpectedEvents, ObservedExpected, byar_interval, exact_poisson_interval, exact_poisson_test,
    mid_p_poisson_interval,
};
use quietbeam_analysis::methods::over_dispersion::{
    WinsorisedShare, additive_scores, multiplicative_scores, unadjusted_scores,
};
use quietbeam_fuzz::{Source, interval, maybe, number, p_value};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let level = source.level();
    if let Ok(expected) = ExpectedEvents::new(if source.yes() { source.any() } else { 1e3 * source.share() })
    {
        let counts = ObservedExpected { observed: source.size(u32::MAX) - 1, expected };
        interval(exact_poisson_interval(counts, level));
        interval(mid_p_poisson_interval(counts, level));
        interval(byar_interval(counts, level));
        let test = exact_poisson_test(counts);
        [test.p_more, test.p_fewer, test.p_two_sided].into_iter().for_each(p_value);
    }
    if let Ok(target) = Target::new(source.share()) {
        for limits in [
            normal_funnel_limits(target, source.size(u32::MAX).try_into().unwrap(), level),
            exact_funnel_limits(target, source.size(10_000_000).try_into().unwrap(), level),
        ] {
            number(limits.lower);
            number(limits.upper);
            assert!(limits.lower <= limits.upper, "{limits:?}");
        }
        let centres: Vec<_> = (0..source.whole(0, 20)).map(|_| source.count(u32::MAX)).collect();
        unadjusted_scores(&centres, target).into_iter().for_each(number);
        if let Ok(share) = WinsorisedShare::new(source.share() / 2.0) {
            maybe(multiplicative_scores(&centres, target, share), |_| ());
            maybe(additive_scores(&centres, target, share), |_| ());
        }
    }
    if let (Ok(change), Ok(threshold)) =
        (WatchedChange::new(20.0 * source.share()), Threshold::new(10.0 * source.share()))
    {
        let case = |source: &mut Source<'_>| {
            let expected = ExpectedProbability::new(source.share()).ok()?;
            Some(WatchedCase { event: source.yes(), expected })
        };
        let cases: Vec<WatchedCase> = (0..source.whole(0, 50)).filter_map(|_| case(&mut source)).collect();
        running_cusum(&cases, change).into_iter().for_each(number);
        signalling_cusum(&cases, change, threshold);
        cumulative_observed_minus_expected(&cases).into_iter().for_each(number);
    }
});
