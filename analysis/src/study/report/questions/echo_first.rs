//! Does echo see it first: how long before pressure or rhythm changed was fluid seen, by what
//! showed it.

use super::super::Seen;
use super::super::columns::Fluid;
use crate::methods::interval::{self, Confidence, Interval, NotEstimable};
use crate::methods::sample::Sample;
use crate::methods::shift::median_interval;
use crate::study::estimate::Estimate;
use crate::study::numerals;
use crate::study::population::is_ablation;
use quietbeam_schema::vocabulary::{Coded, DetectedBy};
use serde::Serialize;

/// Pericardial fluid by what showed it first. Of every ablation in the cut, whatever the strategy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EchoFirst {
    /// The routes that showed any.
    pub routes: Vec<RouteLead>,
    /// What the times cannot tell.
    pub caution: &'static str,
    /// The same in words.
    pub in_words: String,
}

/// Fluid that one route showed first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RouteLead {
    /// The route; absent where it was not stated.
    pub shown_by: Option<DetectedBy>,
    /// Cases with fluid that it showed.
    pub cases: u32,
    /// Of these, pressure and rhythm never changed.
    pub never_felt: u32,
    /// Of these, both minutes are known.
    pub timed: u32,
    /// Of the timed, seen at an earlier minute than the change.
    pub seen_earlier: u32,
    /// Of the timed, in the same minute.
    pub same_minute: u32,
    /// Of the timed, only after the change: never preceded.
    pub seen_later: u32,
    /// Minutes from detection to the change among the timed, below 0 where the change came first:
    /// median with limits that are order statistics.
    pub lead_min: Estimate<Interval>,
    /// The median alone, where there are too few for limits; absent without any.
    pub median_min: Option<f64>,
}

/// What the times cannot tell.
const CAUTION: &str = "Times are as written down afterwards. Fluid that changed nothing has no lead time, and who looks all the time sees more of that kind.";

impl EchoFirst {
    pub(in super::super) fn new(seen: &Seen<'_>) -> Self {
        let fluid: Vec<Fluid> = seen
            .all
            .iter()
            .filter(|case| is_ablation(&case.row))
            .filter_map(|case| case.course.fluid)
            .collect();
        let level = seen.plan.level();
        let routes = DetectedBy::all().iter().copied().map(Some).chain([None]);
        let routes: Vec<RouteLead> = routes
            .map(|route| {
                let own = fluid.iter().filter(|fluid| fluid.shown_by == route);
                RouteLead::new(route, own, level)
            })
            .filter(|route| route.cases > 0)
            .collect();
        Self { in_words: in_words(&routes), routes, caution: CAUTION }
    }
}

impl RouteLead {
    fn new<'f>(
        shown_by: Option<DetectedBy>,
        fluid: impl Iterator<Item = &'f Fluid> + Clone,
        level: Confidence,
    ) -> Self {
        let leads: Vec<f64> = fluid.clone().filter_map(lead).collect();
        let count = |test: fn(&f64) -> bool| leads.iter().filter(|lead| test(lead)).count() as u32;
        let (seen_earlier, same_minute) = (count(|lead| *lead > 0.0), count(|lead| *lead == 0.0));
        let seen_later = count(|lead| *lead < 0.0);
        let timed = leads.len() as u32;
        let sample = Sample::new(leads).ok();
        let none = NotEstimable::TooFewValues { arm: interval::Arm::First, found: 0, needed: 1 };
        let limits = sample.as_ref().map_or(Err(none), |sample| median_interval(sample, level));
        Self {
            shown_by,
            cases: fluid.clone().count() as u32,
            never_felt: fluid.filter(|fluid| fluid.felt == Some(false)).count() as u32,
            timed,
            seen_earlier,
            same_minute,
            seen_later,
            median_min: sample.as_ref().map(crate::methods::sample::median),
            lead_min: limits.map(|(interval, _)| interval).into(),
        }
    }
}

/// Minutes from detection to the change, where it changed anything and both are known.
fn lead(fluid: &Fluid) -> Option<f64> {
    match (fluid.felt, fluid.seen_min, fluid.felt_min) {
        (Some(false), ..) => None,
        (_, Some(seen), Some(felt)) => Some(f64::from(felt) - f64::from(seen)),
        _ => None,
    }
}

fn in_words(routes: &[RouteLead]) -> String {
    let told = routes.iter().filter(|route| route.timed > 0).map(|route| {
        let name =
            route.shown_by.map_or("a route not stated".to_owned(), |shown| shown.label().to_lowercase());
        let median = route.median_min.map_or(String::new(), |median| {
            let size = numerals::measured(median.abs());
            match median {
                m if m > 0.0 => format!("; at the median {size} min before"),
                m if m < 0.0 => format!("; at the median {size} min after"),
                _ => "; at the median in the same minute".to_owned(),
            }
        });
        format!(
            "Fluid shown first by {name} was seen before pressure or rhythm changed in {}{median}.",
            numerals::share(route.seen_earlier, route.timed, 0)
        )
    });
    let told: Vec<String> = told.collect();
    if told.is_empty() {
        return "In no case are both the minute of detection and the minute of the change known.".to_owned();
    }
    told.join(" ")
}
