//! The margin of a planned endpoint on its scale.

use crate::methods::interval::{Interval, NotEstimable, RatioInterval};
use crate::methods::non_inferiority::{Conclusion, Margin, decide};
use crate::methods::ratio_margin::{RatioMargin, decide_ratio};
use crate::study::decision::points;
use crate::study::effect::Drawn;
use crate::study::endpoint::Endpoint;
use quietbeam_schema::vocabulary::MarginScale;
use serde::Serialize;

/// How much worse is still acceptable.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(into = "Written")]
pub enum PlannedMargin {
    /// As a difference of proportions, on the side that the endpoint demands.
    Difference(Margin),
    /// As a ratio of what nobody wants, above 1.
    Ratio(RatioMargin),
}

/// A margin as it is written.
#[derive(Serialize)]
struct Written {
    margin: f64,
    scale: MarginScale,
}

impl From<PlannedMargin> for Written {
    fn from(margin: PlannedMargin) -> Self {
        Self { margin: margin.size(), scale: margin.scale() }
    }
}

impl PlannedMargin {
    /// Its scale.
    pub fn scale(self) -> MarginScale {
        match self {
            Self::Difference(_) => MarginScale::RiskDifference,
            Self::Ratio(_) => MarginScale::RiskRatio,
        }
    }

    /// How much, as a proportion without a sign, or as a ratio above 1.
    pub fn size(self) -> f64 {
        match self {
            Self::Difference(margin) => margin.null_difference().difference().abs(),
            Self::Ratio(margin) => margin.null_ratio().ratio(),
        }
    }

    /// Where it lies as effects are drawn: the difference with its sign, or the natural logarithm of
    /// the ratio.
    pub fn drawn(self) -> f64 {
        match self {
            Self::Difference(margin) => margin.null_difference().difference(),
            Self::Ratio(margin) => libm::log(margin.null_ratio().ratio()),
        }
    }

    /// The number alone, in points or as a ratio: 3, 1.5.
    pub fn in_short(self) -> String {
        match self {
            Self::Difference(_) => format!("{}", (self.size() * 1e8).round() / 1e6),
            Self::Ratio(_) => format!("{}", times(self.size())),
        }
    }

    /// In words: 3 points, or a ratio of 1.5.
    pub fn in_words(self) -> String {
        match self {
            Self::Difference(_) => points(self.size()),
            Self::Ratio(_) => format!("a ratio of {}", times(self.size())),
        }
    }

    /// What is held against it, and the verb that it asks for.
    pub(in crate::study) fn subject(self, endpoint: Endpoint) -> (&'static str, &'static str) {
        match (self, endpoint) {
            (Self::Ratio(_), Endpoint::AcuteSuccess) => (endpoint.unwanted_in_words(), "is"),
            (Self::Difference(_), _)
            | (Self::Ratio(_), Endpoint::MajorWithin30Days | Endpoint::MajorBeforeDischarge) => {
                let (what, verb, _) = endpoint.subject();
                (what, verb)
            }
        }
    }

    /// How much that is: 3 points worse, or 1.5 times as frequent.
    pub(in crate::study) fn amount(self, endpoint: Endpoint) -> String {
        match self {
            Self::Difference(_) => format!("{} {}", points(self.size()), endpoint.subject().2),
            Self::Ratio(_) => format!("{} times as frequent", times(self.size())),
        }
    }

    /// The word between the amount and what it is held against.
    pub(in crate::study) fn than(self) -> &'static str {
        match self {
            Self::Difference(_) => "than",
            Self::Ratio(_) => "as",
        }
    }

    /// What both estimates say against it: the one on its scale.
    pub(in crate::study) fn decide(
        self,
        difference: Result<Interval, NotEstimable>,
        ratio: Result<RatioInterval, NotEstimable>,
    ) -> Conclusion {
        match self {
            Self::Difference(margin) => decide(&difference, margin),
            Self::Ratio(margin) => decide_ratio(&ratio, margin),
        }
    }

    /// Whether worse lies on the right as effects are drawn.
    pub fn worse_is_right(self) -> bool {
        !matches!(self, Self::Difference(Margin::Benefit(_)))
    }

    /// Whether an effect allows for one that is worse by the margin or more.
    pub(in crate::study) fn is_reached_by(self, effect: Drawn) -> bool {
        if self.worse_is_right() { effect.upper >= self.drawn() } else { effect.lower <= self.drawn() }
    }
}

/// A ratio as a person writes it: 1.5, 2.
fn times(ratio: f64) -> f64 {
    (ratio * 1e6).round() / 1e6
}
