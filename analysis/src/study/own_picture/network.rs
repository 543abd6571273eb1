//! The few numbers of the whole network that may stand beside a centre's own. They are the
//! same for every centre, so that two centres cannot learn anything by laying theirs side by
//! side; they are rounded, so that a centre cannot take its own cases out of them; and they
//! come from enough centres that none is read through them.

use super::FEW;
use crate::methods::sample::{Sample, median};

/// So many centres must contribute: whoever looks sees through its own, and between the other
/// four nobody is told apart. One more than the three that a published count needs, because
/// here the reader holds the rows of one of them.
pub const LEAST_CENTRES: usize = 5;

/// No centre may hold more than this share of the values: the median would be its own.
const LARGEST_SHARE: f64 = 0.5;

/// What one centre contributes. Not even its code is here.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CentreDoses {
    /// Its cases.
    pub cases: u32,
    /// Of these, without X-ray.
    pub no_x_ray: u32,
    /// Air kerma in mGy of its cases with the beam on, where reported.
    pub air_kerma_mgy: Vec<f64>,
    /// Kerma-area product in Gy·cm² of them, where reported.
    pub kap_gy_cm2: Vec<f64>,
}

/// The network, coarsened; `None` where too few centres contribute or one of them outweighs
/// the others. Nothing tells which.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct NetworkValues {
    /// Share of cases without X-ray in per cent, to the nearest 5, never 0 or 100.
    pub no_x_ray_percent: Option<u32>,
    /// Median air kerma in mGy of cases with the beam on, to two digits.
    pub air_kerma_mgy: Option<f64>,
    /// Median kerma-area product in Gy·cm² of them, to two digits.
    pub kap_gy_cm2: Option<f64>,
}

impl NetworkValues {
    /// From what each centre contributes.
    pub fn of(centres: &[CentreDoses]) -> Self {
        Self {
            no_x_ray_percent: share(centres),
            air_kerma_mgy: pooled(centres.iter().map(|centre| centre.air_kerma_mgy.as_slice())),
            kap_gy_cm2: pooled(centres.iter().map(|centre| centre.kap_gy_cm2.as_slice())),
        }
    }
}

fn share(centres: &[CentreDoses]) -> Option<u32> {
    let enough: Vec<&CentreDoses> = centres.iter().filter(|centre| centre.cases >= FEW).collect();
    balanced(enough.iter().map(|centre| centre.cases as usize))?;
    let sum = |of: fn(&CentreDoses) -> u32| enough.iter().map(|centre| f64::from(of(centre))).sum::<f64>();
    let fives = (20.0 * sum(|centre| centre.no_x_ray) / sum(|centre| centre.cases)).round();
    Some((5.0 * fives).clamp(5.0, 95.0) as u32)
}

fn pooled<'a>(centres: impl Iterator<Item = &'a [f64]>) -> Option<f64> {
    let enough: Vec<&[f64]> = centres.filter(|doses| doses.len() >= FEW as usize).collect();
    balanced(enough.iter().map(|doses| doses.len()))?;
    let sample = Sample::new(enough.concat()).ok()?;
    Some(two_digits(median(&sample)))
}

/// Enough centres, and none that outweighs the others.
fn balanced(sizes: impl Iterator<Item = usize> + Clone) -> Option<()> {
    let all: usize = sizes.clone().sum();
    let largest = sizes.clone().max()?;
    let fits = sizes.count() >= LEAST_CENTRES && largest as f64 <= LARGEST_SHARE * all as f64;
    fits.then_some(())
}

fn two_digits(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}
