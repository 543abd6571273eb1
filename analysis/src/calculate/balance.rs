//! How different two arms were before the procedure.

use super::calculation::Calculation;
use super::cells::Estimate;
use super::dose::{Any, TwoDoses, sample};
use crate::methods::balance::{standardised_difference_of_means, standardised_difference_of_proportions};
use crate::methods::counts::TwoArms;
use crate::methods::interval::Arm;

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "standardised_difference_of_proportions",
            "austin2009",
            "Standardised difference of two proportions",
            |arms: TwoArms| standardised_difference_of_proportions(arms).map(Estimate),
        ),
        C::new(
            "standardised_difference_of_means",
            "austin2009",
            "Standardised difference of two means",
            |values: TwoDoses<Any>| {
                let first = sample(values.0.first, Arm::First)?;
                let second = sample(values.0.second, Arm::Second)?;
                standardised_difference_of_means(&first, &second).map(Estimate)
            },
        ),
    ]
}
