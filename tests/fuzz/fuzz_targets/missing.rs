#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::e_value::{
    RatioLimits, e_value_of_common_odds_ratio, e_value_of_risk_ratio,
};
use quietbeam_analysis::methods::interval::Ratio;
use quietbeam_analysis::methods::missing_outcomes::{
    DecisionRule, PartlySeen, PartlySeenArms, best_case, tipping_border, worst_case,
};
use quietbeam_analysis::methods::multiplicity::{fixed_sequence_adjusted, holm_adjusted};
use quietbeam_analysis::methods::sample::Probability;
use quietbeam_fuzz::{Source, p_value};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let (level, margin) = (source.level(), source.margin());
    let mut arm = || {
        let count = source.count(1_000_000);
        PartlySeen::new(count.events(), count.total(), source.size(1_000) - 1).ok()
    };
    if let (Some(first), Some(second)) = (arm(), arm()) {
        let arms = PartlySeenArms { first, second };
        for rule in [
            DecisionRule::miettinen_nurminen(level, margin),
            DecisionRule::mee(level, margin),
            DecisionRule::newcombe(level, margin),
        ] {
            worst_case(arms, rule);
            best_case(arms, rule);
            tipping_border(arms, rule).nothing_tips();
        }
    }
    let p_values: Vec<Probability> =
        (0..source.whole(0, 12)).filter_map(|_| Probability::new(source.share()).ok()).collect();
    holm_adjusted(&p_values).into_iter().for_each(p_value);
    fixed_sequence_adjusted(&p_values).into_iter().for_each(p_value);
    let estimate = if source.yes() { Ratio::Finite(source.any()) } else { Ratio::Unbounded };
    let upper = if source.yes() { Ratio::Finite(source.any()) } else { Ratio::Unbounded };
    if let Ok(limits) = RatioLimits::new(estimate, source.any(), upper) {
        e_value_of_risk_ratio(limits);
        e_value_of_common_odds_ratio(limits);
    }
});
