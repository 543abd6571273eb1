//! What is true of the network: the risks under both strategies, averaged over
//! every case, whichever strategy it had.

use super::case::Drawn;
use super::course::Risks;

/// True marginal risks and their differences, zero-fluoroscopy − conventional.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// Cases averaged over; one entered twice counts once.
    pub cases: usize,
    /// Acute success.
    pub success: Risks,
    /// Major complications within 30 days.
    pub major: Risks,
    /// Drained effusions.
    pub drained: Risks,
    /// Difference of acute success.
    pub success_difference: f64,
    /// Difference of major complications.
    pub major_difference: f64,
    /// Difference of drained effusions.
    pub drained_difference: f64,
}

impl Truth {
    pub(super) fn of(drawn: impl Iterator<Item = Drawn>) -> Self {
        let once: Vec<Drawn> = drawn.filter(|case| !case.entered_before).collect();
        let mean = |risk: fn(&Drawn) -> Risks| {
            let count = once.len().max(1) as f64;
            let sum = |of: fn(&Risks) -> f64| once.iter().map(|case| of(&risk(case))).sum::<f64>();
            Risks {
                zero: sum(|risks| risks.zero) / count,
                conventional: sum(|risks| risks.conventional) / count,
            }
        };
        let success = mean(|case| case.success_risk);
        let major = mean(|case| case.major_risk);
        let drained = mean(|case| case.drained_risk);
        let difference = |risks: Risks| risks.zero - risks.conventional;
        Self {
            cases: once.len(),
            success,
            major,
            drained,
            success_difference: difference(success),
            major_difference: difference(major),
            drained_difference: difference(drained),
        }
    }
}
