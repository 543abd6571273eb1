//! What is assumed and asked before a plan is written.

use crate::methods::interval::Confidence;
use crate::study::endpoint::Endpoint;
use crate::study::plan::{Alternative, BeyondAll, PlanRefusal, PlannedMargin, Trouble, number};
use quietbeam_schema::vocabulary::MarginScale;

/// How much of the margin zero-fluoroscopy is truly worse where it is not alike: what is shown
/// easily for arms alike is shown rarely then.
const WORSE_BY: f64 = 1.0 / 3.0;

/// Words and numbers that nobody has checked.
#[derive(Debug, Clone, PartialEq)]
pub struct AssumedForm {
    /// Code of the endpoint.
    pub endpoint: String,
    /// The scale of the margin.
    pub scale: MarginScale,
    /// The margin: a proportion without a sign, or a ratio above 1.
    pub margin: f64,
    /// The proportion expected in the conventional arm.
    pub expected: f64,
    /// Two-sided confidence level.
    pub level: f64,
}

/// What is assumed: an endpoint, its margin on its scale and side, a level, and what both arms do.
/// Even worse by the whole margin fewer than all cases fare badly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Assumed {
    pub(super) endpoint: Endpoint,
    pub(super) margin: PlannedMargin,
    pub(super) level: Confidence,
    /// The arms are alike.
    pub(super) alike: Alternative,
    /// Zero-fluoroscopy is worse by a third of the margin.
    pub(super) worse: Alternative,
}

impl TryFrom<&AssumedForm> for Assumed {
    type Error = PlanRefusal;

    fn try_from(form: &AssumedForm) -> Result<Self, PlanRefusal> {
        let endpoint = Endpoint::from_code(&form.endpoint)
            .ok_or_else(|| Trouble::UnknownEndpoint(form.endpoint.chars().take(40).collect()));
        // The size of a margin is right or wrong on either side.
        let side = endpoint.as_ref().map_or(Endpoint::AcuteSuccess, |endpoint| *endpoint);
        let read = (
            endpoint,
            number::planned_margin((side, form.scale), form.margin),
            number::expected(form.expected),
            number::level(form.level),
        );
        match read {
            (Ok(endpoint), Ok(margin), Ok(expected), Ok(level)) => {
                Self::new((endpoint, expected), margin, level).ok_or_else(|| {
                    let beyond = BeyondAll { endpoint, margin, expected };
                    PlanRefusal(vec![("/margin".to_owned(), Trouble::BeyondAll(beyond))])
                })
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
    /// `None` where the margin leaves no room for what is expected.
    fn new(of: (Endpoint, f64), margin: PlannedMargin, level: Confidence) -> Option<Self> {
        let worse_by = |share| margin.worse_by(share, of, level).ok().filter(|_| margin.leaves_room(of));
        Some(Self { endpoint: of.0, margin, level, alike: worse_by(0.0)?, worse: worse_by(WORSE_BY)? })
    }

    /// How much worse is still acceptable.
    pub fn margin(self) -> PlannedMargin {
        self.margin
    }
}
