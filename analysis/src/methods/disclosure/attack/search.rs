//! Looks for a world in which a number is larger or smaller than it is. Starting
//! from the truth, broken rules are mended one by one; whatever was tried is
//! ruled out before something else is, so that a search that ends has seen all.

use super::worlds::{Bound, Goal, Worlds};

/// What a search found.
pub(super) enum Found {
    /// A world, as far as it differs from the true one.
    World(Vec<(usize, i64)>),
    /// There is none.
    Nothing,
    /// The search was given up.
    GaveUp,
}

/// How many broken rules are looked at for the next step.
const RULES_WEIGHED: usize = 4;

/// How much longer the first of every four attempts is: many short ones find more than few long ones, but in
/// many linked tables the way to a world is long, and whatever is short before it is in vain.
const LONGER: usize = 4;

/// Looks for a world that reaches a goal, with at most `patience` steps in each of a few
/// attempts, which choose otherwise among steps that cost alike.
pub(super) fn search(worlds: &mut Worlds<'_>, goal: &Goal, (attempts, patience): (usize, usize)) -> Found {
    for attempt in 0..attempts {
        worlds.aim(goal.clone());
        let longer = if attempt % 4 == 0 { LONGER } else { 1 };
        let found = walk(worlds, attempt, longer * patience);
        worlds.reset();
        if !matches!(found, Found::GaveUp) {
            return found;
        }
    }
    Found::GaveUp
}

fn walk(worlds: &mut Worlds<'_>, attempt: usize, patience: usize) -> Found {
    let mut turns: Vec<(usize, Bound)> = Vec::new();
    let mut left = patience;
    loop {
        let lives = worlds.narrow();
        if lives && worlds.broken.is_empty() {
            return Found::World(worlds.differs());
        }
        let step = if lives { next_step(worlds, attempt) } else { None };
        if let Some(bound) = step {
            if left == 0 {
                return Found::GaveUp;
            }
            left -= 1;
            turns.push((worlds.steps(), bound.otherwise()));
            worlds.lay(bound);
        } else {
            let Some((steps, otherwise)) = turns.pop() else { return Found::Nothing };
            worlds.back_to(steps);
            worlds.lay(otherwise);
        }
    }
}

/// A step with what it costs: rules broken by it, less those it mends.
struct Step {
    cost: i64,
    by: i64,
    cell: usize,
    bound: Bound,
}

/// The step that leaves the least broken; nothing where nothing is broken.
fn next_step(worlds: &Worlds<'_>, attempt: usize) -> Option<Bound> {
    let first = *worlds.broken.first()?;
    let weighed = worlds.broken.iter().rev().take(RULES_WEIGHED);
    let steps = weighed.flat_map(|rule| steps_of(worlds, *rule));
    let best = steps.min_by_key(|step| (step.cost, -step.by, mixed(step.cell, attempt)));
    best.map(|step| step.bound).or_else(|| halve(worlds, first))
}

/// A count's place in the order of an attempt: the given order first, then others.
fn mixed(cell: usize, attempt: usize) -> usize {
    const SPREAD: usize = 0x9E37_79B9;
    if attempt == 0 {
        cell
    } else {
        (cell + 1).wrapping_mul(SPREAD).wrapping_mul(2 * attempt + 1) >> 7 & 0xFFFF
    }
}

/// Every change of one count that brings a broken rule nearer to what it allows.
fn steps_of(worlds: &Worlds<'_>, rule: usize) -> impl Iterator<Item = Step> {
    let now = worlds.sums[rule].now;
    let step = move |mended: i64, (cell, weight): (usize, i64)| {
        let (low, high, at) = (worlds.low[cell], worlds.high[cell], worlds.at[cell]);
        let by = ((mended - now) / weight).clamp(low - at, high - at);
        let bound = if by > 0 { Bound::AtLeast(cell, at + by) } else { Bound::AtMost(cell, at + by) };
        (by != 0).then(|| Step { cost: worlds.cost(cell, by), by: by.abs(), cell, bound })
    };
    let mends = worlds.mends(rule).into_iter().flatten();
    mends.flat_map(move |mended| worlds.terms(rule).iter().filter_map(move |term| step(mended, *term)))
}

/// Splits the bounds of a count that a broken rule speaks of.
fn halve(worlds: &Worlds<'_>, rule: usize) -> Option<Bound> {
    let open = |cell: &usize| worlds.low[*cell] < worlds.high[*cell];
    // The world at hand breaks the rule though its bounds do not: some count is open.
    let cell = worlds.terms(rule).iter().map(|(cell, _)| *cell).find(open)?;
    let middle = worlds.low[cell].midpoint(worlds.high[cell]);
    Some(Bound::AtMost(cell, middle.min(worlds.high[cell] - 1)))
}
