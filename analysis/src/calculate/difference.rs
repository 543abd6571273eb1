//! Difference of two proportions, first − second.

use super::calculation::Calculation;
use super::cells::TwoProportions;
use crate::methods::counts::TwoArms;
use crate::methods::difference::{
    agresti_caffo_interval, newcombe_corrected_interval, newcombe_interval, wald_difference_interval,
};
use crate::methods::null_test::NullDifference;
use crate::methods::score::{
    farrington_manning_test, mee_interval, miettinen_nurminen_interval, miettinen_nurminen_test,
    proportions_under_difference, wald_difference_test,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = intervals();
    family.extend(tests());
    family
}

fn intervals() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "newcombe",
            "newcombe1998b",
            "Newcombe hybrid score interval of a difference",
            newcombe_interval,
        ),
        C::new(
            "newcombe_corrected",
            "newcombe1998b",
            "Newcombe hybrid score interval of a difference with continuity correction",
            newcombe_corrected_interval,
        ),
        C::new(
            "miettinen_nurminen_difference",
            "miettinen_nurminen1985",
            "Miettinen–Nurminen score interval of a difference",
            miettinen_nurminen_interval,
        ),
        C::new("mee", "mee1984", "Mee score interval of a difference", mee_interval),
        C::new(
            "agresti_caffo",
            "agresti_caffo2000",
            "Agresti–Caffo interval of a difference",
            agresti_caffo_interval,
        ),
        C::new(
            "wald_difference",
            "newcombe1998b",
            "Wald interval of a difference, for comparison with publications only",
            wald_difference_interval,
        ),
    ]
}

fn tests() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "farrington_manning_difference_test",
            "farrington_manning1990",
            "Farrington–Manning test of a difference",
            farrington_manning_test,
        ),
        C::new(
            "miettinen_nurminen_difference_test",
            "miettinen_nurminen1985",
            "Miettinen–Nurminen score test of a difference",
            miettinen_nurminen_test,
        ),
        C::new("wald_difference_test", "blackwelder1982", "Wald test of a difference", wald_difference_test),
        C::new(
            "proportions_under_difference",
            "miettinen_nurminen1985",
            "The most likely proportions of both arms under a given difference",
            |arms: TwoArms, null: NullDifference| TwoProportions(proportions_under_difference(arms, null)),
        ),
    ]
}
