//! What each seat could learn: the table that an approver reads.

use super::super::release::CellId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// From where somebody looks: nobody's seat is an outsider's.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seat(pub Vec<String>);

impl fmt::Display for Seat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.as_slice() {
            [] => f.write_str("an outsider"),
            [one] => write!(f, "centre {one}"),
            several => write!(f, "centres {} together", several.join(" and ")),
        }
    }
}

/// The lowest and the highest value for which a world was found: a number could lie beyond.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Range {
    /// At least as low as this.
    pub low: i64,
    /// At least as high as this.
    pub high: i64,
}

impl Range {
    /// The same with one more value.
    pub(super) fn with(self, value: i64) -> Self {
        Self { low: self.low.min(value), high: self.high.max(value) }
    }
}

/// How narrowly a seat could place a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Held {
    /// Between which values, as far as worlds were found; nothing where that is not told.
    #[serde(flatten)]
    pub range: Option<Range>,
    /// Whether that is wide and high enough.
    pub wide: bool,
    /// Whether what was published earlier had given it away already.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub lost_before: bool,
}

/// One guarded number, seat by seat.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// What is counted.
    pub number: String,
    /// Where it is held too narrowly: what is published that speaks of it, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told_by: Vec<String>,
    /// The counts that it is made of.
    #[serde(skip)]
    pub cells: Vec<CellId>,
    /// For each seat its range; nothing where the seat learns of nobody but its own cases.
    pub held: Vec<Option<Held>>,
}

/// What each seat could learn of each guarded number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Learnt {
    /// The seats: the outsider first, then single centres, then pairs.
    pub seats: Vec<Seat>,
    /// The guarded numbers.
    pub rows: Vec<Row>,
}

/// A number that a seat could place too narrowly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Refused<'l> {
    /// What is counted.
    pub number: &'l str,
    /// What is published that speaks of it.
    pub told_by: &'l [String],
    /// Who could.
    pub seat: &'l Seat,
    /// The range found.
    pub held: Held,
}

impl fmt::Display for Refused<'_> {
    /// Names the number and the seat, and not the count.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} could work out “{}” too closely", self.seat, self.number)?;
        match self.told_by {
            [] => Ok(()),
            sources => write!(f, ", from {}", sources.join(", ")),
        }
    }
}

impl Held {
    fn is_refused(self) -> bool {
        !self.wide && !self.lost_before
    }
}

impl Learnt {
    /// The numbers of which something is held too narrowly.
    pub fn narrow_rows(&self) -> impl Iterator<Item = &Row> {
        self.rows.iter().filter(|row| row.held.iter().flatten().any(|held| held.is_refused()))
    }

    /// The same, without blaming a release for what those before it had given away already.
    pub fn lost_before(mut self, before: &Self) -> Self {
        let known: BTreeMap<&[CellId], &Row> =
            before.rows.iter().map(|row| (row.cells.as_slice(), row)).collect();
        for row in &mut self.rows {
            let Some(before) = known.get(row.cells.as_slice()) else { continue };
            for (held, before) in row.held.iter_mut().zip(&before.held) {
                if let (Some(held), Some(before)) = (held, before) {
                    held.lost_before = !held.wide && !before.wide;
                }
            }
        }
        self
    }

    /// The same of a release that tells nothing: whatever is held too narrowly was so before.
    #[must_use]
    pub fn all_lost_before(mut self) -> Self {
        let held = self.rows.iter_mut().flat_map(|row| &mut row.held).flatten();
        held.for_each(|held| held.lost_before = !held.wide);
        self
    }

    /// The same for reading: a range that is too narrow is as good as the count, and whoever reads
    /// it may know less than the seat that could find it.
    #[must_use]
    pub fn told(mut self) -> Self {
        let held = self.rows.iter_mut().flat_map(|row| &mut row.held).flatten();
        held.filter(|held| !held.wide).for_each(|held| held.range = None);
        self
    }

    /// Everything that is held too narrowly.
    pub fn refused(&self) -> impl Iterator<Item = Refused<'_>> {
        self.rows.iter().flat_map(|row| {
            let held = self.seats.iter().zip(&row.held);
            held.filter_map(|(seat, held)| {
                let held = (*held)?;
                held.is_refused().then_some(Refused {
                    number: &row.number,
                    told_by: &row.told_by,
                    seat,
                    held,
                })
            })
        })
    }

    /// Whether nothing is.
    pub fn passes(&self) -> bool {
        self.refused().next().is_none()
    }

    /// For each seat how many numbers are kept from it, and the one that it can place most narrowly.
    pub fn worst(&self) -> impl Iterator<Item = (&Seat, usize, Option<(&str, Held)>)> {
        self.seats.iter().map(|seat| {
            let width = |held: Held| held.range.map(|range| range.high - range.low);
            let narrowest = self.from(seat).min_by_key(|(_, held)| (held.wide, width(*held)));
            (seat, self.from(seat).count(), narrowest)
        })
    }

    /// What one seat could learn: each number with its range.
    pub fn from<'l>(&'l self, seat: &Seat) -> impl Iterator<Item = (&'l str, Held)> {
        let place = self.seats.iter().position(|other| other == seat);
        self.rows.iter().filter_map(move |row| Some((row.number.as_str(), row.held[place?]?)))
    }
}
