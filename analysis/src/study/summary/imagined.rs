//! One case more, as a reader could imagine it: which counts it would raise. Where everything is hidden,
//! such a case is what nobody can exclude; among hundreds of hidden counts the attack might not find it.

use super::super::endpoint::Endpoint;
use super::super::published::OneOrAll;
use super::arms::known_and_had;
use super::counted::{Count, Counted, Measure, routes};
use super::part::Part;
use quietbeam_schema::vocabulary::{Coded, ComplicationClass, HarmTier, Strategy};
use std::collections::BTreeSet;

/// A case as far as counts can tell it.
struct Imagined {
    parts: Vec<Part>,
    strategy: Strategy,
    measures: Vec<Measure>,
}

impl Imagined {
    fn counts_in(&self, count: Count) -> bool {
        let Count { measure, part, strategy } = count;
        self.measures.contains(&measure)
            && (part == Part::All || self.parts.contains(&part))
            && (strategy == OneOrAll::All || strategy == OneOrAll::One(self.strategy))
    }
}

/// The counts that one case more would raise: a plain case of every kind, and of every group and strategy
/// one with each thing that is counted.
pub(super) fn one_more(counted: &Counted<'_>) -> Vec<BTreeSet<Count>> {
    let groups = parts(counted, |part| matches!(part, Part::Group(_)));
    let years = parts(counted, |part| matches!(part, Part::Year(_)));
    let leads = parts(counted, |part| matches!(part, Part::Lead(_)));
    let regions = parts(counted, |part| matches!(part, Part::Region(_)));
    let (usual, everywhere) = (regions[0], &regions[1..]);
    let log = log(counted);
    let measures: BTreeSet<Measure> = counted.counts.keys().map(|count| count.measure).collect();
    let mut cases = Vec::new();
    for group in &groups {
        for strategy in Strategy::all() {
            let mut imagine = |[year, lead, region]: [Part; 3], mut measures: Vec<Measure>| {
                if measures.contains(&Measure::Cases) && !measures.contains(&Measure::Logged) {
                    measures.extend(log.iter().copied());
                }
                measures.extend(known_of(&measures, counted));
                let mut parts = vec![*group, year, lead, region];
                let no_x_ray = measures.contains(&Measure::NoXRay);
                parts.extend(counted.arms.parts_of(*group, *strategy, no_x_ray));
                cases.push(Imagined { parts, strategy: *strategy, measures });
            };
            for (year, lead) in years.iter().flat_map(|year| leads.iter().map(move |lead| (*year, *lead))) {
                imagine([year, lead, usual], vec![Measure::Cases]);
            }
            for region in everywhere {
                imagine([years[0], leads[0], *region], vec![Measure::Cases]);
            }
            for measure in &measures {
                imagine([years[0], leads[0], usual], with(*measure, counted));
            }
        }
    }
    let raised =
        |case: Imagined| counted.counts.keys().copied().filter(|count| case.counts_in(*count)).collect();
    cases.into_iter().map(raised).collect()
}

/// What a case raises of the logs: most are of a quarter like those of most.
fn log(counted: &Counted<'_>) -> Vec<Measure> {
    let value = |measure| counted.value(Count::of_network(measure)).unwrap_or(0);
    if value(Measure::Logged) >= value(Measure::Unlogged) {
        vec![Measure::Logged, Measure::Eligible]
    } else {
        vec![Measure::Unlogged]
    }
}

/// The parts of one kind, the one with most cases first; all cases where they are not divided so.
fn parts(counted: &Counted<'_>, is_of: impl Fn(Part) -> bool) -> Vec<Part> {
    let found: BTreeSet<Part> =
        counted.counts.keys().map(|count| count.part).filter(|part| is_of(*part)).collect();
    let mut parts: Vec<Part> = found.into_iter().collect();
    let cases = |part: &Part| {
        counted.value(Count { measure: Measure::Cases, part: *part, strategy: OneOrAll::All }).unwrap_or(0)
    };
    parts.sort_by_key(|part| std::cmp::Reverse(cases(part)));
    if parts.is_empty() { vec![Part::All] } else { parts }
}

/// An outcome that is counted is known.
fn known_of(measures: &[Measure], counted: &Counted<'_>) -> Vec<Measure> {
    let endpoints = Endpoint::ALL.map(known_and_had).into_iter();
    let counts = |known: Measure| counted.counts.contains_key(&Count::of_network(known));
    endpoints
        .filter(|[known, had]| measures.contains(had) && counts(*known))
        .map(|[known, _]| known)
        .collect()
}

/// What a case that has something counted must have besides.
fn with(measure: Measure, counted: &Counted<'_>) -> Vec<Measure> {
    let most = |of: &mut dyn Iterator<Item = Measure>| {
        of.max_by_key(|measure| counted.value(Count::of_network(*measure)).unwrap_or(0))
    };
    let class = |tier| most(&mut ComplicationClass::all().iter().map(|class| Measure::Class(*class, tier)));
    let route = |tier| most(&mut routes().map(|first| Measure::First(first, tier)));
    let (tier, class, route) = match measure {
        Measure::Major | Measure::Drained => {
            (HarmTier::Major, class(HarmTier::Major), route(HarmTier::Major))
        }
        Measure::MajorBeforeDischarge => {
            let mut all = with(Measure::Major, counted);
            all.push(measure);
            return all;
        }
        Measure::Minor => (HarmTier::Minor, class(HarmTier::Minor), route(HarmTier::Minor)),
        Measure::ImagingOnly => {
            (HarmTier::ImagingOnly, class(HarmTier::ImagingOnly), route(HarmTier::ImagingOnly))
        }
        Measure::Class(_, tier) => (tier, Some(measure), route(tier)),
        Measure::First(_, tier) => (tier, class(tier), Some(measure)),
        Measure::Edge(dose, edge) => {
            let beyond =
                |other: &Measure| matches!(other, Measure::Edge(of, at) if *of == dose && *at >= edge);
            let edges: BTreeSet<Measure> =
                counted.counts.keys().map(|count| count.measure).filter(beyond).collect();
            return [Measure::Cases, dose.reported()].into_iter().chain(edges).collect();
        }
        Measure::Logged => return vec![Measure::Cases, Measure::Eligible, measure],
        // A procedure that was not sent in is no case.
        Measure::NotSent | Measure::Eligible => return vec![Measure::Eligible, Measure::NotSent],
        _ => return vec![Measure::Cases, measure],
    };
    let of_tier = match tier {
        HarmTier::Major => Measure::Major,
        HarmTier::Minor => Measure::Minor,
        HarmTier::ImagingOnly => Measure::ImagingOnly,
    };
    [Measure::Cases, of_tier, measure].into_iter().chain(class).chain(route).collect()
}
