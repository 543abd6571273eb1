//! What stays as it is while worlds are searched: what some seats know, and which counts that leaves open.

use super::system::{Kind, Rule, System};
use super::worlds::Worlds;

/// From where to where a sum may be.
pub(super) type Span = (i64, i64);

/// Far above every sum.
pub(super) const FAR: i64 = i64::MAX / 4;

/// The bounds that all worlds keep which none of some seats can exclude, and the rules that say more than
/// the bounds do.
pub(super) struct Frame<'s> {
    pub(super) system: &'s System,
    pub(super) low: Vec<i64>,
    pub(super) high: Vec<i64>,
    /// For each rule where its sum may be; nothing where that is no single range.
    pub(super) spans: Vec<Option<Span>>,
    /// The counts of each rule that are not fixed: of a table of which little is hidden, few.
    pub(super) free: Vec<Vec<(usize, i64)>>,
    /// For each count the rules that say more of it than its bounds, with its weight there.
    pub(super) touching: Vec<Vec<(usize, i64)>>,
}

impl<'s> Frame<'s> {
    /// Of all worlds that none of some seats can exclude, in which no count exceeds the truth by more than
    /// `room`.
    pub(super) fn seen_from<S: AsRef<[usize]>>(system: &'s System, seats: &[S], room: i64) -> Self {
        let mut frame = Self::with_every_rule(system, seats, room);
        let (low, high) = Worlds::of(&frame).narrowest();
        (frame.low, frame.high) = (low, high);
        let Self { low, high, spans, free, touching, .. } = &mut frame;
        free.iter_mut().for_each(|terms| terms.retain(|(cell, _)| low[*cell] < high[*cell]));
        // Of a single count a range says what its bounds say already.
        let tells = |rule: usize| !free[rule].is_empty() && (free[rule].len() > 1 || spans[rule].is_none());
        touching.iter_mut().for_each(|rules| rules.retain(|(rule, _)| tells(*rule)));
        frame
    }

    fn with_every_rule<S: AsRef<[usize]>>(system: &'s System, seats: &[S], room: i64) -> Self {
        let cells = 0..system.truth.len();
        let seats = || seats.iter().map(AsRef::as_ref);
        let own = |cell: usize| seats().map(|seat| system.own(seat, cell)).max().unwrap_or(0);
        let own_of = |rule: &Rule, seat: &[usize]| -> i64 {
            rule.terms.iter().map(|(cell, weight)| weight * system.own(seat, *cell)).sum()
        };
        let span = |rule: &Rule| match &rule.kind {
            Kind::Holds => Some((seats().map(|seat| own_of(rule, seat)).max().unwrap_or(0), FAR)),
            Kind::Sum(allowed) => allowed.single(),
            Kind::Ways(_) => None,
        };
        let known = |cell: usize| seats().any(|seat| system.is_own(seat, cell));
        let bound = |cell: usize, open: i64| if known(cell) { system.truth[cell] } else { open };
        Self {
            system,
            low: cells.clone().map(|cell| bound(cell, own(cell))).collect(),
            high: cells.map(|cell| bound(cell, system.truth[cell] + room)).collect(),
            spans: system.rules.iter().map(span).collect(),
            free: system.rules.iter().map(|rule| rule.terms.clone()).collect(),
            touching: system.touching.clone(),
        }
    }
}
