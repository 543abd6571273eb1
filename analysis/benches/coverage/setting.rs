//! The two outcomes of the demonstration, their margins and their truths.

use quietbeam_analysis::methods::non_inferiority::{Margin, MarginSize};

/// One outcome under study.
#[derive(Clone, Copy)]
pub(crate) struct Outcome {
    pub(crate) name: &'static str,
    /// Proportion of the second arm.
    pub(crate) base: f64,
    pub(crate) margin: Margin,
}

/// Rare harm, with the demonstration's margin of 1 point, and acute success, with 3 points.
pub(crate) fn outcomes() -> [Outcome; 2] {
    let size = |points: f64| MarginSize::new(points).unwrap();
    [
        Outcome { name: "harm 1.5 %", base: 0.015, margin: Margin::Harm(size(0.01)) },
        Outcome { name: "success 94 %", base: 0.94, margin: Margin::Benefit(size(0.03)) },
    ]
}

/// What is true of the difference.
#[derive(Clone, Copy)]
pub(crate) enum Truth {
    NoDifference,
    AtTheMargin,
}

impl Truth {
    pub(crate) const BOTH: [Self; 2] = [Self::NoDifference, Self::AtTheMargin];

    pub(crate) fn difference(self, margin: Margin) -> f64 {
        match self {
            Self::NoDifference => 0.0,
            Self::AtTheMargin => margin.null_difference().difference(),
        }
    }
}
