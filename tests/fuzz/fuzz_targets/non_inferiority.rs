#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::non_inferiority::{Conclusion, claim, decide};
use quietbeam_analysis::methods::ratio::{koopman_interval, miettinen_nurminen_ratio_test};
use quietbeam_analysis::methods::ratio_margin::{RatioMargin, decide_ratio};
use quietbeam_analysis::methods::score::{miettinen_nurminen_interval, miettinen_nurminen_test};
use quietbeam_fuzz::{Source, p_value};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let (arms, margin) = (source.arms(u32::MAX), source.margin());
    let decided = decide(&Ok(miettinen_nurminen_interval(arms, Confidence::NINETY_FIVE)), margin);
    let p = margin.one_sided_p(&miettinen_nurminen_test(arms, margin.null_difference())).unwrap();
    p_value(p);
    // Beside the border the interval and the test may round apart.
    if (p - 0.025).abs() > 1e-7 {
        assert_eq!(decided == Conclusion::Shown, p < 0.025, "{arms:?} {margin:?} {p} {decided:?}");
    }
    assert_eq!(claim(decided, decided), decided);
    let null = source.null_ratio().ratio();
    for margin in [RatioMargin::for_benefit(null), RatioMargin::for_harm(null)].into_iter().flatten() {
        decide_ratio(&Ok(koopman_interval(arms, source.level())), margin);
        p_value(margin.one_sided_p(&miettinen_nurminen_ratio_test(arms, margin.null_ratio())).unwrap());
    }
});
