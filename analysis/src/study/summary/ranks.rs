//! What printed quartiles tell: a quartile stands at a rank, so it says how many doses at least lie up to
//! the upper edge of what was printed, and how many at most below its lower edge.

use super::super::cohort::CaseRow;
use super::super::published::OneOrAll;
use super::counted::{Count, Measure};
use super::part::Part;
use super::placed::Placed;
use crate::methods::sample::Sample;
use crate::study::dose::quartiles;
use crate::study::staff::{StaffRole, badges};
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{BadgePosition, Coded, Strategy, SummaryTable};
use std::collections::{BTreeMap, BTreeSet};

/// Quartiles of fewer doses are never printed.
const FEWEST: usize = 11;

/// A dose of a case with X-ray.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Dose {
    AirKerma,
    Kap,
    /// Of staff in a role, read from a badge that was worn there.
    Badge(StaffRole, Option<BadgePosition>),
}

impl Dose {
    /// The doses whose quartiles a design asks for.
    pub(super) fn asked(design: &SummaryDesign) -> Vec<Self> {
        let patients = [Self::AirKerma, Self::Kap].into_iter().filter(|_| design.has(SummaryTable::Dose));
        let staff = badges().filter(|_| design.has(SummaryTable::StaffDose));
        patients.chain(staff.map(|(role, position)| Self::Badge(role, position))).collect()
    }

    /// The count of the cases of which it was reported.
    pub(super) fn reported(self) -> Measure {
        match self {
            Self::AirKerma => Measure::AirKermaReported,
            Self::Kap => Measure::KapReported,
            Self::Badge(role, position) => Measure::BadgeRead(role, position),
        }
    }

    /// The strategies whose cases are told apart: there are too few badges to divide them.
    fn strategies(self) -> Vec<OneOrAll<Strategy>> {
        match self {
            Self::AirKerma | Self::Kap => OneOrAll::each().collect(),
            Self::Badge(..) => vec![OneOrAll::All],
        }
    }

    pub(super) fn name(self) -> String {
        match self {
            Self::AirKerma => "air kerma".to_owned(),
            Self::Kap => "kerma-area product".to_owned(),
            Self::Badge(role, position) => format!("badge reading ({})", worn(role, position)),
        }
    }
}

/// A role and where its badge was worn, in words.
pub(super) fn worn(role: StaffRole, position: Option<BadgePosition>) -> String {
    let place = position.map_or("badge place not stated".to_owned(), |place| place.label().to_lowercase());
    format!("{}, {place}", role.label())
}

/// A quartile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Quartile {
    Lower,
    Median,
    Upper,
}

impl Quartile {
    pub(super) const ALL: [Self; 3] = [Self::Lower, Self::Median, Self::Upper];

    fn quarters(self) -> i64 {
        match self {
            Self::Lower => 1,
            Self::Median => 2,
            Self::Upper => 3,
        }
    }

    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Lower => "lower quartile",
            Self::Median => "median",
            Self::Upper => "upper quartile",
        }
    }

    /// How many of so many doses lie up to it at least, and below it at most.
    ///
    /// Formula: the quartile of type 7 stands at h = (n − 1)q of the doses in order, counted from 0,
    /// between the one at ⌊h⌋ and the one at ⌈h⌉.
    /// Units: counts of cases.
    /// Edges: none; n is at least [`FEWEST`].
    /// Source: [hyndman_fan1996].
    /// Checked: tests/disclosure/ranks.rs, by counting.
    pub(super) fn ranks(self, of: i64) -> (i64, i64) {
        let fourths = (of - 1) * self.quarters();
        (fourths / 4 + 1, (fourths + 3) / 4)
    }
}

/// An edge of a printed number: the doses below it, or those up to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Edge {
    /// The bits of a number that is not negative, which are in its order.
    at: u64,
    /// Whether a dose that equals it is counted.
    up_to: bool,
}

impl Edge {
    fn counts(self, dose: f64) -> bool {
        let at = f64::from_bits(self.at);
        if self.up_to { dose <= at } else { dose < at }
    }

    pub(super) fn name(self) -> String {
        let word = if self.up_to { "up to" } else { "below" };
        format!("{word} {:.3e}", f64::from_bits(self.at))
    }

    /// Below the lowest number that is printed so, and up to the highest. No dose lies below zero.
    fn around(printed: f64) -> (Option<Self>, Self) {
        let written = format!("{printed:.1e}");
        let (digits, power) = written.split_once('e').unwrap_or(("0", "0"));
        let half = 0.05 * 10_f64.powi(power.parse().unwrap_or(0));
        // Below a power of ten numbers are printed more finely.
        let below = if digits == "1.0" { half / 10.0 } else { half };
        // A hair wider, so that no rounding of the edge itself leaves the number out.
        let (low, high) = ((printed - below) * (1.0 - 1e-12), (printed + half) * (1.0 + 1e-12));
        let edge = |at: f64, up_to| Self { at: at.to_bits(), up_to };
        ((low > 0.0).then(|| edge(low, false)), edge(high, true))
    }
}

/// A dose, and where its centre stands among all.
type Given = (f64, usize);

/// Printed quartiles, and how many doses lie below or up to their edges.
#[derive(Default)]
pub(super) struct Ranks {
    /// The printed number of each quartile.
    pub(super) printed: BTreeMap<Count, f64>,
    /// For each edge the cases beyond, by centre.
    pub(super) edges: BTreeMap<Count, Vec<u64>>,
}

impl Ranks {
    /// The quartiles of some doses, of each strategy's cases; `centre` tells where a case's centre stands among so many.
    pub(super) fn of<'c>(
        (doses, cases): (&[Dose], &[Placed<'c>]),
        (centres, centre): (usize, impl Fn(&'c CaseRow) -> Option<usize>),
    ) -> Self {
        let mut ranks = Self::default();
        for dose in doses.iter().copied() {
            let each = dose.strategies().into_iter();
            let doses: Vec<(OneOrAll<Strategy>, Vec<Given>)> = each
                .map(|strategy| {
                    let of = cases
                        .iter()
                        .filter(|case| strategy == OneOrAll::All || strategy == OneOrAll::One(case.intended));
                    let of = of.map(|case| case.row);
                    (
                        strategy,
                        of.filter_map(|case| Some((dose.reported().dose(case)?, centre(case)?))).collect(),
                    )
                })
                .collect();
            for (strategy, doses) in &doses {
                ranks.print(dose, *strategy, doses);
            }
            for (strategy, doses) in &doses {
                ranks.count(dose, *strategy, (doses, centres));
            }
        }
        ranks
    }

    fn print(&mut self, dose: Dose, strategy: OneOrAll<Strategy>, doses: &[Given]) {
        let sample = Sample::new(doses.iter().map(|(dose, _)| *dose).collect()).ok();
        let Some(found) = sample.filter(|_| doses.len() >= FEWEST).as_ref().and_then(quartiles) else {
            return;
        };
        for (quartile, number) in Quartile::ALL.into_iter().zip([found.lower, found.median, found.upper]) {
            self.printed.insert(quartile_at(dose, quartile, strategy), two_digits(number));
        }
    }

    /// Counts doses at the edges of the strategy's own quartiles and of those of all strategies, which its
    /// doses are a part of.
    fn count(&mut self, dose: Dose, strategy: OneOrAll<Strategy>, (doses, centres): (&[Given], usize)) {
        if doses.is_empty() {
            return;
        }
        let own_and_all: BTreeSet<OneOrAll<Strategy>> = [strategy, OneOrAll::All].into();
        let quartiles = own_and_all
            .iter()
            .flat_map(|strategy| Quartile::ALL.map(|quartile| quartile_at(dose, quartile, *strategy)));
        let edges: BTreeSet<Edge> = quartiles
            .filter_map(|quartile| self.printed.get(&quartile))
            .map(|printed| Edge::around(*printed))
            .flat_map(|(below, up_to)| below.into_iter().chain([up_to]))
            .collect();
        for edge in edges {
            let mut by_centre = vec![0; centres];
            for (_, centre) in doses.iter().filter(|(dose, _)| edge.counts(*dose)) {
                by_centre[*centre] += 1;
            }
            self.edges
                .insert(Count { measure: Measure::Edge(dose, edge), part: Part::All, strategy }, by_centre);
        }
    }

    /// The edges of a printed quartile, the lower one first, if any dose can lie below it.
    pub(super) fn edges_of(&self, quartile: Count) -> Option<(Option<Count>, Count)> {
        let Measure::Quartile(dose, _) = quartile.measure else { return None };
        let count = |edge| Count { measure: Measure::Edge(dose, edge), ..quartile };
        let (below, up_to) = Edge::around(*self.printed.get(&quartile)?);
        Some((below.map(count), count(up_to)))
    }

    /// The quartiles of the doses that some edges are of.
    pub(super) fn beside(&self, counts: &BTreeSet<Count>) -> impl Iterator<Item = Count> {
        let of = |count: &Count| match count.measure {
            Measure::Edge(dose, _) => Some(dose),
            _ => None,
        };
        let doses: BTreeSet<Dose> = counts.iter().filter_map(of).collect();
        let is_of = move |quartile: &&Count| matches!(quartile.measure, Measure::Quartile(dose, _) if doses.contains(&dose));
        self.printed.keys().filter(is_of).copied()
    }

    /// How the counts at the edges hold each other and the cases: each pair a part and its whole.
    pub(super) fn nested(&self) -> Vec<(Count, Count)> {
        let mut nested = Vec::new();
        let edges: Vec<Count> = self.edges.keys().copied().collect();
        for count in &edges {
            let Measure::Edge(dose, edge) = count.measure else { continue };
            let same = |other: &&Count| {
                matches!(other.measure, Measure::Edge(of, after) if of == dose && after > edge)
                    && other.strategy == count.strategy
            };
            let next = edges.iter().filter(same).min().copied();
            nested.push((*count, next.unwrap_or(Count { measure: dose.reported(), ..*count })));
        }
        nested
    }

    /// The counts of all strategies at an edge, each with those of the single strategies.
    pub(super) fn totals(&self) -> Vec<(Count, Vec<Count>)> {
        let is_divided = |count: &Count| match count.measure {
            Measure::Edge(dose, _) => dose.strategies().len() > 1,
            _ => false,
        };
        let of_all = self.edges.keys().filter(|count| count.strategy == OneOrAll::All && is_divided(count));
        let parts = |all: &Count| {
            let single = |other: &&Count| other.measure == all.measure && other.strategy != OneOrAll::All;
            (*all, self.edges.keys().filter(single).copied().collect())
        };
        of_all.map(parts).collect()
    }
}

/// A quartile as what may be hidden.
pub(super) fn quartile_at(dose: Dose, quartile: Quartile, strategy: OneOrAll<Strategy>) -> Count {
    Count { measure: Measure::Quartile(dose, quartile), part: Part::All, strategy }
}

/// Rounded to two significant digits: one case more or less seldom changes them.
fn two_digits(number: f64) -> f64 {
    // Written and read again, so that the nearest number of two digits is found.
    format!("{number:.1e}").parse().unwrap_or(number)
}
