//! How far people agree who judge the same events without knowing of each other.

use super::estimate::{Estimate, reason_in_words};
use super::numerals::{count, level as in_per_cent, limits, percent};
use super::share::Share;
use crate::methods::agreement::{AgreementTable, cohen_kappa_interval};
use crate::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_schema::vocabulary::{Coded, HarmRuling};
use serde::Serialize;

/// Agreement of the first two rulings of each event. Who rules first and who second changes from
/// event to event.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    /// Events in which the first two rulings agree, of those with two.
    pub agreed: Share,
    /// Cohen's kappa of the first two rulings.
    pub kappa: Estimate<Interval>,
    /// The same in words.
    pub in_words: String,
}

impl Agreement {
    /// From the first two rulings of each event that has two; `None` where no event has.
    pub fn of(pairs: &[[HarmRuling; 2]], level: Confidence) -> Option<Self> {
        if pairs.is_empty() {
            return None;
        }
        let of = u32::try_from(pairs.len()).unwrap_or(u32::MAX);
        let alike = pairs.iter().filter(|[first, second]| first == second).count();
        let agreed = Share::new(u32::try_from(alike).unwrap_or(u32::MAX), of, level);
        let kappa = kappa(pairs, level).into();
        Some(Self { in_words: in_words(&agreed, &kappa, level), agreed, kappa })
    }
}

fn kappa(pairs: &[[HarmRuling; 2]], level: Confidence) -> Result<Interval, NotEstimable> {
    let rulings = HarmRuling::all().len();
    let mut counts = vec![vec![0_u32; rulings]; rulings];
    for [first, second] in pairs {
        counts[first.position()][second.position()] += 1;
    }
    let table = AgreementTable::new(counts).map_err(|_| NotEstimable::NothingToSpread)?;
    cohen_kappa_interval(&table, level)
}

fn in_words(agreed: &Share, kappa: &Estimate<Interval>, level: Confidence) -> String {
    let interval = in_per_cent(level.level());
    let share = agreed.proportion.map_or(String::new(), |share| {
        format!(" ({}, {interval} interval {})", percent(share.estimate, 1), limits(&share, 1))
    });
    let hundredths = |value: f64| format!("{value:.2}").replace('-', "\u{2212}");
    let beyond_chance = match kappa {
        Estimate::Estimated(kappa) => format!(
            "beyond chance, Cohen's kappa is {} ({} to {})",
            hundredths(kappa.estimate),
            hundredths(kappa.lower),
            hundredths(kappa.upper)
        ),
        Estimate::CannotBeEstimated(why) => {
            format!("Cohen's kappa cannot be estimated, because {}", reason_in_words(*why))
        }
    };
    format!(
        "The first two rulings agree in {} of {} events{share}; {beyond_chance}.",
        count(agreed.count),
        count(agreed.of)
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use HarmRuling::{CannotTell, Major, Minor, NoHarm};

    fn level() -> Confidence {
        Confidence::new(0.95).unwrap()
    }

    /// Twenty, five, ten and fifteen: the first set of tests/numbers/kappa.csv, by statsmodels.
    #[test]
    fn rulings_are_counted_by_pairs() {
        let cells = [([Major, Major], 20), ([Major, Minor], 5), ([Minor, Major], 10), ([Minor, Minor], 15)];
        let pairs: Vec<_> = cells.into_iter().flat_map(|(pair, times)| vec![pair; times]).collect();
        let found = Agreement::of(&pairs, level()).unwrap();
        assert_eq!((found.agreed.count, found.agreed.of), (35, 50));
        assert!((found.kappa.estimated().unwrap().estimate - 0.4).abs() < 1e-12);
        assert!(found.in_words.starts_with("The first two rulings agree in 35 of 50 events (70.0 %"));
        assert!(found.in_words.contains("Cohen's kappa is 0.40 (0."), "{}", found.in_words);
    }

    #[test]
    fn what_cannot_be_told_says_why() {
        assert_eq!(Agreement::of(&[], level()), None);
        let alike = Agreement::of(&[[Major, Major], [NoHarm, NoHarm]], level()).unwrap();
        assert!(alike.in_words.contains("because they never differed"), "{}", alike.in_words);
        let one = Agreement::of(&[[CannotTell, CannotTell]], level()).unwrap();
        assert!(one.in_words.contains("because both used one category throughout"), "{}", one.in_words);
    }
}
