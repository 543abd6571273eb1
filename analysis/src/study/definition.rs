//! What each endpoint means, and until when it counts. A definition that is changed gets the next
//! version, so that a reader knows by which one a report was made.

use super::endpoint::Endpoint;
use serde::Serialize;

/// What an endpoint means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Definition {
    /// From 1.
    pub version: u8,
    /// Until when it counts.
    pub window: &'static str,
    /// When it holds, and when nobody knows.
    pub sentence: &'static str,
}

impl Definition {
    /// Window, sentence and version in one line.
    pub fn in_words(self) -> String {
        format!("{} Window: {}. Definition {}.", self.sentence, self.window, self.version)
    }
}

impl Endpoint {
    /// What it means.
    pub fn definition(self) -> Definition {
        let (window, sentence) = match self {
            Self::AcuteSuccess => (
                "at the end of the procedure",
                "What belongs to the type of procedure was shown in full; partial success counts as failure, and a case in which nothing was attempted counts neither way.",
            ),
            Self::MajorWithin30Days => (
                "from the procedure to day 30",
                "Death, or a complication of the major tier, by a definition that does not ask how it was found; one whose day nobody knows counts. Without one it is known where the 30-day status was learnt.",
            ),
            Self::MajorBeforeDischarge => (
                "from the procedure until the patient left the hospital",
                "Death in hospital, or a complication of the major tier that began there, by a definition that does not ask how it was found; one whose phase nobody knows counts. Of a death after the day of the procedure that the follow-up alone tells, nobody knows where it happened, so that case is unknown until day 30.",
            ),
        };
        Definition { version: 1, window, sentence }
    }

    /// The subject of a sentence about it, its verb, and what worse would be.
    pub(super) fn subject(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::AcuteSuccess => ("acute success", "is", "worse"),
            Self::MajorWithin30Days => ("major complications within 30 days", "are", "more frequent"),
            Self::MajorBeforeDischarge => ("major complications before discharge", "are", "more frequent"),
        }
    }

    /// Whether it is harm, so that less is better.
    pub fn is_harm(self) -> bool {
        match self {
            Self::AcuteSuccess => false,
            Self::MajorWithin30Days | Self::MajorBeforeDischarge => true,
        }
    }
}
