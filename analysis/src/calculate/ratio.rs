//! Ratio of two proportions, first / second.

use super::calculation::Calculation;
use super::cells::TwoProportions;
use crate::methods::counts::TwoArms;
use crate::methods::null_test::NullRatio;
use crate::methods::ratio::{
    farrington_manning_ratio_test, katz_interval, koopman_interval, miettinen_nurminen_ratio_interval,
    miettinen_nurminen_ratio_test, proportions_under_ratio, wald_linear_ratio_test, wald_log_ratio_test,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = intervals();
    family.extend(tests());
    family
}

fn intervals() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new("katz", "katz1978", "Katz log interval of a ratio", katz_interval),
        C::new("koopman", "koopman1984", "Koopman score interval of a ratio", koopman_interval),
        C::new(
            "miettinen_nurminen_ratio",
            "miettinen_nurminen1985",
            "Miettinen–Nurminen score interval of a ratio",
            miettinen_nurminen_ratio_interval,
        ),
    ]
}

fn tests() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "farrington_manning_ratio_test",
            "farrington_manning1990",
            "Farrington–Manning test of a ratio",
            farrington_manning_ratio_test,
        ),
        C::new(
            "miettinen_nurminen_ratio_test",
            "miettinen_nurminen1985",
            "Miettinen–Nurminen score test of a ratio",
            miettinen_nurminen_ratio_test,
        ),
        C::new(
            "wald_log_ratio_test",
            "katz1978",
            "Wald test of a ratio on the log scale",
            wald_log_ratio_test,
        ),
        C::new(
            "wald_linear_ratio_test",
            "farrington_manning1990",
            "Wald test of a ratio on the linear scale",
            wald_linear_ratio_test,
        ),
        C::new(
            "proportions_under_ratio",
            "farrington_manning1990",
            "The most likely proportions of both arms under a given ratio",
            |arms: TwoArms, null: NullRatio| TwoProportions(proportions_under_ratio(arms, null)),
        ),
    ]
}
