//! What showed complications first, and beside it how often anyone looked: where more is
//! looked, more is found.

use super::super::share::Share;
use super::{FEW, LEVEL, OwnCase};
use quietbeam_schema::vocabulary::{Coded, DetectedBy, HarmTier};

/// Complications that one route showed first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RouteCount {
    /// The route; `None` where it is not stated.
    pub route: Option<DetectedBy>,
    /// Complications.
    pub complications: u32,
    /// Of these, major.
    pub major: u32,
    /// Of these, seen only because someone looked.
    pub imaging_only: u32,
}

/// A time at which one can look for pericardial fluid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// With echo during the case.
    During,
    /// With echo at its end.
    AtTheEnd,
    /// With routine echo within a day.
    NextDay,
}

impl Look {
    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::During => "Echo during the case",
            Self::AtTheEnd => "Echo at its end",
            Self::NextDay => "Routine echo within a day",
        }
    }
}

/// How often anyone looked at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Looks {
    /// When.
    pub look: Look,
    /// Of the cases that say whether; `None` with too few of them.
    pub share: Option<Share>,
    /// Cases that do not say.
    pub not_stated: u32,
}

/// What was found, and how it was looked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Detection {
    /// Cases.
    pub cases: u32,
    /// Complications within 30 days by what showed them first, the commonest route first;
    /// `None` with too few cases to say.
    pub routes: Option<Vec<RouteCount>>,
    /// How often anyone looked.
    pub looks: [Looks; 3],
}

impl Detection {
    pub(super) fn of(cases: &[OwnCase]) -> Self {
        let number = cases.len() as u32;
        let looks = [Look::During, Look::AtTheEnd, Look::NextDay];
        Self {
            cases: number,
            routes: (number >= FEW).then(|| routes(cases)),
            looks: looks.map(|look| Looks::of(look, cases)),
        }
    }
}

fn routes(cases: &[OwnCase]) -> Vec<RouteCount> {
    let every = DetectedBy::all().iter().copied().map(Some).chain([None]);
    let mut counts: Vec<RouteCount> = every
        .map(|route| {
            let seen = || {
                cases.iter().flat_map(|case| &case.complications).filter(move |one| one.detected_by == route)
            };
            let of = |tier| seen().filter(|one| one.tier == Some(tier)).count() as u32;
            RouteCount {
                route,
                complications: seen().count() as u32,
                major: of(HarmTier::Major),
                imaging_only: of(HarmTier::ImagingOnly),
            }
        })
        .filter(|count| count.complications > 0)
        .collect();
    counts.sort_by_key(|count| std::cmp::Reverse(count.complications));
    counts
}

impl Looks {
    fn of(look: Look, cases: &[OwnCase]) -> Self {
        let answers = || cases.iter().filter_map(|case| case.looks[look as usize]);
        let (stated, yes) = (answers().count() as u32, answers().filter(|looked| *looked).count() as u32);
        Self {
            look,
            share: (stated >= FEW).then(|| Share::new(yes, stated, LEVEL)),
            not_stated: cases.len() as u32 - stated,
        }
    }
}
