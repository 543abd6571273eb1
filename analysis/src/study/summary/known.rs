//! How the counts of a summary hold each other, as readers know it.

use super::super::published::OneOrAll;
use super::counted::{Count, Counted, Measure, routes};
use super::part::Part;
use crate::study::staff::{StaffRole, positions};
use quietbeam_schema::vocabulary::{Coded, ComplicationClass, HarmTier, ProcedureGroup, Strategy};
use std::collections::BTreeSet;

/// How counts hold each other, as readers know it.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Said {
    Total(Count, Vec<Count>),
    Part(Count, Count),
    NeverBelowZero(Vec<(Count, i64)>),
}

impl Said {
    /// The counts it is about.
    pub(super) fn counts(&self) -> Vec<Count> {
        match self {
            Self::Total(whole, parts) => [*whole].iter().chain(parts).copied().collect(),
            Self::Part(part, whole) => vec![*part, *whole],
            Self::NeverBelowZero(terms) => terms.iter().map(|(count, _)| *count).collect(),
        }
    }
}

/// Everything that readers know of how the counts of a summary hold each other.
pub(super) fn said(counted: &Counted<'_>) -> BTreeSet<Said> {
    let mut said = BTreeSet::new();
    let nested = counted.ranks.nested().into_iter().chain(counted.arms.nested.iter().copied());
    said.extend(nested.map(|(part, whole)| Said::Part(part, whole)));
    let totals = counted.ranks.totals().into_iter().chain(counted.arms.totals.iter().cloned());
    said.extend(totals.map(|(whole, parts)| Said::Total(whole, parts)));
    said.extend(counted.arms.never_below_zero.iter().cloned().map(Said::NeverBelowZero));
    for block in &counted.blocks {
        let grid = block.tables.grid();
        let (last_row, last_column) = (grid.height() - 1, grid.width() - 1);
        for (table, own) in block.tables.tables().iter().enumerate() {
            let at = |row: usize, column: usize| block.at(table, grid.place(row, column));
            for row in (0..grid.height()).filter(|_| block.is_by_strategy()) {
                said.insert(Said::Total(
                    at(row, last_column),
                    (0..last_column).map(|column| at(row, column)).collect(),
                ));
            }
            for column in (0..grid.width()).filter(|_| block.is_divided()) {
                said.insert(Said::Total(
                    at(last_row, column),
                    (0..last_row).map(|row| at(row, column)).collect(),
                ));
            }
            for whole in own.within() {
                let places = 0..grid.cells();
                said.extend(places.map(|place| Said::Part(block.at(table, place), block.at(*whole, place))));
            }
        }
    }
    said.extend(inequalities(counted));
    said
}

/// An eligible procedure was sent in or was not; a case is of a quarter with a signed log or of another.
fn eligible() -> impl Iterator<Item = Said> {
    let groups = ProcedureGroup::all().iter().copied().map(Part::Group).chain([Part::All]);
    groups.flat_map(|part| {
        let count = |measure| Count { measure, part, strategy: OneOrAll::All };
        let total = |whole, parts: [Measure; 2]| Said::Total(count(whole), parts.map(count).to_vec());
        [
            total(Measure::Eligible, [Measure::Logged, Measure::NotSent]),
            total(Measure::Cases, [Measure::Logged, Measure::Unlogged]),
        ]
    })
}

/// All badges of a case were worn in one place, so that cases with a badge here, another there and one nobody
/// knows where are different ones, each with X-ray.
fn worn_once() -> impl Iterator<Item = Said> {
    let one_each = positions().fold(vec![Vec::new()], |chosen: Vec<Vec<Measure>>, position| {
        let with = |before: &Vec<Measure>, role| {
            before.iter().copied().chain([Measure::BadgeRead(role, position)]).collect()
        };
        chosen.iter().flat_map(|before| StaffRole::ALL.map(|role| with(before, role))).collect()
    });
    one_each.into_iter().map(|read| {
        let less = [Measure::NoXRay].into_iter().chain(read).map(|measure| (Count::of_network(measure), -1));
        Said::NeverBelowZero([(Count::of_network(Measure::Cases), 1)].into_iter().chain(less).collect())
    })
}

/// What readers know beside totals and parts: every complication has a class and was shown by
/// something, a dose is reported of a case with X-ray only, and whoever was harmed has a known outcome.
fn inequalities(counted: &Counted<'_>) -> Vec<Said> {
    let covered = |whole: Measure, parts: Vec<Measure>| {
        let terms = parts.into_iter().map(|part| (Count::of_network(part), 1));
        Said::NeverBelowZero(terms.chain([(Count::of_network(whole), -1)]).collect())
    };
    let tiers = [
        (HarmTier::Major, Measure::Major),
        (HarmTier::Minor, Measure::Minor),
        (HarmTier::ImagingOnly, Measure::ImagingOnly),
    ];
    let classes = tiers.into_iter().map(|(tier, whole)| {
        let parts = ComplicationClass::all().iter().map(|class| Measure::Class(*class, tier));
        covered(whole, parts.collect())
    });
    let routes = tiers
        .into_iter()
        .map(|(tier, whole)| covered(whole, routes().map(|first| Measure::First(first, tier)).collect()));
    let doses = [Measure::AirKermaReported, Measure::KapReported].into_iter().flat_map(|reported| {
        let strategies = OneOrAll::<Strategy>::each();
        strategies.map(move |strategy| {
            let count = |measure| Count { measure, part: Part::All, strategy };
            Said::NeverBelowZero(vec![
                (count(Measure::Cases), 1),
                (count(Measure::NoXRay), -1),
                (count(reported), -1),
            ])
        })
    });
    let harmed = OneOrAll::<Strategy>::each().map(|strategy| {
        let count = |measure| Count { measure, part: Part::All, strategy };
        Said::NeverBelowZero(vec![(count(Measure::OutcomeKnown), 1), (count(Measure::Major), -1)])
    });
    let said = classes.chain(routes).chain(doses).chain(worn_once()).chain(harmed).chain(eligible());
    said.filter(|said| said.counts().iter().all(|count| counted.counts.contains_key(count))).collect()
}
