//! Tails and quantiles of the distributions the methods stand on.
//!
//! Measured against 50-digit values (tests/numbers/distributions.csv): the inverse error
//! function and the log-gamma function of statrs keep twelve digits and are used; its error
//! function keeps only ten, so libm's is used; its incomplete beta function stops after 140
//! terms and takes differences of log-gammas, which costs five digits or more at a million
//! cases, so that one is our own.

mod beta;
mod chi_square;
mod gamma;
mod hypergeometric;
mod normal;
mod quadrature;
mod root;
mod share;
mod student;

pub use beta::{Tails, beta_quantile, beta_tails, beta_upper_quantile};
pub use chi_square::chi_square_upper_tail;
pub use gamma::gamma_tails;
pub use normal::{normal_lower_tail, normal_upper_quantile, normal_upper_tail};
pub use student::{student_two_sided_p, student_upper_quantile};

pub(crate) use beta::{front, tails};
pub(crate) use hypergeometric::{FixedMargins, sum_from_small};
pub(crate) use quadrature::integral;
pub(crate) use root::{Point, root_between};
pub(crate) use share::{Share, rising_root, rising_root_on_logits};
