//! Do two judges say the same of the same things, more often than chance alone would have it?

use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};

/// Why counts are no table of agreement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AgreementTableError {
    /// A row has more or fewer columns than there are rows, or there are none or more than 100.
    #[error("a table of agreement has as many columns as rows, from 1 to 100")]
    NotSquare,
    /// Nothing was judged.
    #[error("all counts are 0")]
    Nothing,
}

/// How often the first judge chose a category (row) and the second one (column); something was
/// judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AgreementTable(Vec<Vec<u32>>);

impl AgreementTable {
    /// Counts by what the first judge said and then by what the second said.
    ///
    /// # Errors
    /// Not square, more than 100 categories, or nothing judged.
    pub fn new(counts: Vec<Vec<u32>>) -> Result<Self, AgreementTableError> {
        let categories = counts.len();
        if !(1..=100).contains(&categories) || counts.iter().any(|row| row.len() != categories) {
            return Err(AgreementTableError::NotSquare);
        }
        if counts.iter().flatten().all(|count| *count == 0) {
            return Err(AgreementTableError::Nothing);
        }
        Ok(Self(counts))
    }

    fn total(&self) -> f64 {
        self.0.iter().flatten().map(|count| f64::from(*count)).sum()
    }

    /// Shares of all that was judged: each cell, the first judge's margin and the second's.
    fn shares(&self) -> Shares {
        let total = self.total();
        let cells: Vec<Vec<f64>> =
            self.0.iter().map(|row| row.iter().map(|count| f64::from(*count) / total).collect()).collect();
        let first = cells.iter().map(|row| row.iter().sum()).collect();
        let second = (0..cells.len()).map(|column| cells.iter().map(|row| row[column]).sum()).collect();
        Shares { cells, first, second }
    }
}

struct Shares {
    cells: Vec<Vec<f64>>,
    first: Vec<f64>,
    second: Vec<f64>,
}

impl Shares {
    fn agreed(&self) -> f64 {
        self.cells.iter().enumerate().map(|(place, row)| row[place]).sum()
    }

    fn by_chance(&self) -> f64 {
        self.first.iter().zip(&self.second).map(|(first, second)| first * second).sum()
    }

    /// The variance of kappa times the number judged, before it is divided by (1 − pe)².
    fn spread(&self, kappa: f64) -> f64 {
        let apart = 1.0 - kappa;
        let mut sum = 0.0;
        for (place, row) in self.cells.iter().enumerate() {
            for (column, share) in row.iter().enumerate() {
                let term = if place == column {
                    1.0 - (self.first[place] + self.second[place]) * apart
                } else {
                    apart * (self.second[place] + self.first[column])
                };
                sum += share * term * term;
            }
        }
        let centre = kappa - self.by_chance() * apart;
        sum - centre * centre
    }
}

/// Cohen's kappa: agreement of two judges beyond chance, as a share of what chance leaves.
///
/// Formula: κ = (po − pe)/(1 − pe) with po the share agreed and pe = Σ pᵢ.p.ᵢ; its variance is
/// [Σᵢ pᵢᵢ(1 − (pᵢ. + p.ᵢ)(1 − κ))² + (1 − κ)² Σᵢ≠ⱼ pᵢⱼ(p.ᵢ + pⱼ.)² − (κ − pe(1 − κ))²]/(n(1 − pe)²);
/// limits κ ± z·√variance.
/// Units: from −1 to 1; 0 is what chance gives, and limits beyond −1 and 1 are cut there.
/// Edges: one and the same category throughout leaves nothing to agree beyond chance; judges who
/// never differ, or a judge who knows one category, give no sampling error. Few judged make the normal
/// limits rough.
/// Source: [cohen1960], [fleiss_cohen_everitt1969].
/// Checked: tests/numbers/kappa.csv.
///
/// # Errors
/// Where the margins are degenerate, as under Edges.
pub fn cohen_kappa_interval(table: &AgreementTable, level: Confidence) -> Result<Interval, NotEstimable> {
    /// Sums of shares are exact to the last digits; what is smaller than this is 0.
    const NOTHING: f64 = 1e-12;
    let shares = table.shares();
    let (agreed, by_chance) = (shares.agreed(), shares.by_chance());
    if 1.0 - by_chance < NOTHING {
        return Err(NotEstimable::OneCategory);
    }
    if 1.0 - agreed < NOTHING {
        return Err(NotEstimable::NeverDiffered);
    }
    let kappa = (agreed - by_chance) / (1.0 - by_chance);
    let spread = shares.spread(kappa);
    if spread < NOTHING {
        return Err(NotEstimable::NoVariation);
    }
    let reach = level.z() * (spread / table.total()).sqrt() / (1.0 - by_chance);
    Ok(Interval {
        estimate: kappa,
        lower: (kappa - reach).max(-1.0),
        upper: (kappa + reach).min(1.0),
        level,
        method: IntervalMethod::CohenKappa,
    })
}
