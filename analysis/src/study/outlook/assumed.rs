//! What is assumed and asked before a plan is written.

use crate::methods::interval::Confidence;
use crate::methods::non_inferiority::Margin;
use crate::methods::plan::{OneSidedAlpha, PlanError, Planned, Proportions};
use crate::study::endpoint::Endpoint;
use crate::study::plan::{PlanRefusal, Trouble, number};

/// Words and numbers that nobody has checked.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AssumedForm {
    /// Code of the endpoint.
    pub endpoint: String,
    /// The margin as a proportion without a sign.
    pub margin: f64,
    /// The proportion expected in the conventional arm.
    pub expected: f64,
    /// Two-sided confidence level.
    pub level: f64,
}

/// What is assumed: an endpoint, its margin on its side, what the conventional arm does, a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Assumed {
    pub(super) endpoint: Endpoint,
    pub(super) margin: Margin,
    pub(super) expected: f64,
    pub(super) level: Confidence,
}

impl TryFrom<&AssumedForm> for Assumed {
    type Error = PlanRefusal;

    fn try_from(form: &AssumedForm) -> Result<Self, PlanRefusal> {
        let endpoint = Endpoint::from_code(&form.endpoint)
            .ok_or_else(|| Trouble::UnknownEndpoint(form.endpoint.chars().take(40).collect()));
        let read = (
            endpoint,
            number::margin(form.margin),
            number::expected(form.expected),
            number::level(form.level),
        );
        match read {
            (Ok(endpoint), Ok(size), Ok(expected), Ok(level)) => {
                Ok(Self { endpoint, margin: endpoint.margin_of(size), expected, level })
            }
            (endpoint, margin, expected, level) => {
                let wrong = [
                    ("/endpoint", endpoint.err()),
                    ("/margin", margin.err()),
                    ("/expected", expected.err()),
                    ("/level", level.err()),
                ];
                let troubles = wrong.into_iter().filter_map(|(at, why)| Some((at.to_owned(), why?)));
                Err(PlanRefusal(troubles.collect()))
            }
        }
    }
}

impl Assumed {
    /// The endpoint.
    pub fn endpoint(self) -> Endpoint {
        self.endpoint
    }

    /// The level of the interval.
    pub fn level(self) -> Confidence {
        self.level
    }

    /// How much worse is still acceptable, as a proportion above 0.
    pub fn margin_size(self) -> f64 {
        self.margin.null_difference().difference().abs()
    }

    /// The comparison to be planned, where zero-fluoroscopy is truly worse by a share of the
    /// margin: 0 where the arms are alike, 1 at the margin.
    ///
    /// # Errors
    /// When a proportion leaves the range from 0 to 1.
    pub(super) fn planned(self, share: f64) -> Result<Planned<Margin>, PlanError> {
        let worse = self.margin.null_difference().difference() * share;
        Ok(Planned {
            proportions: Proportions::new(self.expected + worse, self.expected)?,
            margin: self.margin,
            alpha: OneSidedAlpha::new(self.level.tail())?,
        })
    }
}
