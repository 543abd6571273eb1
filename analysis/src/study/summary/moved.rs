//! Centres that have another region than when an earlier summary told of it: whoever knows that
//! they moved subtracts one region from itself, and reads the counts of those that left.

use super::counted::{BASE, Count, Counted};
use super::part::Part;
use super::placed::Region;
use super::series::{Cells, Nested, Series};
use crate::methods::disclosure::CellId;
use quietbeam_schema::ids::CentreCode;
use std::collections::{BTreeMap, BTreeSet};

/// The region that a centre had then, and the one that it has now.
type Way = (Region, Region);

/// Says of each region that lost or gained a centre what those count that took the same way.
pub(super) fn say(
    series: &mut Series<'_>,
    (then, before): (&Counted<'_>, &Cells),
    (now, new): (&Counted<'_>, &Cells),
) {
    let (had, has) = (then.regions(), now.regions());
    let region = |of: &BTreeMap<CentreCode, usize>, centre: CentreCode| of.get(&centre).copied();
    let both = then.centres.iter().filter(|centre| now.centres.contains(centre));
    let ways: BTreeMap<CentreCode, Way> =
        both.map(|centre| (*centre, (region(&had, *centre), region(&has, *centre)))).collect();
    let touched: BTreeSet<Region> =
        ways.values().filter(|(had, has)| had != has).flat_map(|(had, has)| [*had, *has]).collect();
    if touched.is_empty() {
        return;
    }
    // A centre of one of the summaries alone stays where it is.
    let way = |centre: CentreCode| {
        let stays = || region(&had, centre).or(region(&has, centre));
        ways.get(&centre).copied().unwrap_or_else(|| (stays(), stays()))
    };
    let was = divided(series, (then, before), (&touched, &way));
    let is = divided(series, (now, new), (&touched, &way));
    let nested = match (now.period.encloses(then.period), then.period.encloses(now.period)) {
        (true, _) => Nested::NowHolds,
        (false, true) => Nested::ThenHolds,
        (false, false) => return,
    };
    for (key, of_then) in was {
        is.get(&key).into_iter().for_each(|of_now| series.link((of_then, *of_now), nested));
    }
}

/// Divides the counts of the regions that are touched by the way that centres took.
fn divided(
    series: &mut Series<'_>,
    (counted, cells): (&Counted<'_>, &Cells),
    (touched, way): (&BTreeSet<Region>, &dyn Fn(CentreCode) -> Way),
) -> BTreeMap<(Count, Way), CellId> {
    let mut divided = BTreeMap::new();
    for (count, whole) in cells {
        let Part::Region(region) = count.part else { continue };
        if !touched.contains(&region) || !BASE.contains(&count.measure) {
            continue;
        }
        let Some(by_centre) = counted.counts.get(count) else { continue };
        let ways: BTreeSet<Way> = counted.centres.iter().map(|centre| way(*centre)).collect();
        let mut parts = Vec::new();
        for of in ways {
            let own = series.spread_of((&counted.centres, by_centre), |centre| way(centre) == of);
            if own.iter().all(|cases| *cases == 0) {
                continue;
            }
            let name = format!("{}, centres that moved or stayed alike", counted.name(*count));
            let cell = series.release.count(name, count.measure.meaning(), own);
            series.release.never_told(cell);
            series.speaks_of.entry(cell).or_default().insert(*count);
            parts.push(cell);
            let anywhere = Count { part: Part::All, ..*count };
            divided.insert((anywhere, of), cell);
        }
        series.release.total(*whole, parts);
    }
    divided
}
