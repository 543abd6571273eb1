//! From content items to the totals of each plane, checked against each other.

use std::collections::BTreeMap;
use std::fmt;

use super::DoseReportProblem;
use super::concept::{Concept, Plane, Total};
use super::content::{Item, Number};
use super::unit::factor;

/// How far two figures that should be equal may be apart, as a share: rounding of the
/// console's display (common practice, no source).
const NEAR: f64 = 0.01;

/// The totals of one plane, in the units of [`Total::unit`].
#[derive(Clone, Debug, PartialEq)]
pub struct PlaneTotals {
    /// The plane.
    pub plane: Plane,
    /// What the report says; what it does not say is missing.
    pub totals: BTreeMap<Total, f64>,
}

/// Something a person should know before taking the figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Note {
    /// The total and the sum of the irradiations differ.
    EventsDisagree {
        /// The plane.
        plane: Plane,
        /// Which total.
        total: Total,
        /// The total.
        stated: f64,
        /// The sum of the irradiations.
        summed: f64,
    },
    /// Fluoroscopy and cine together differ from the total.
    PartsDisagree {
        /// The plane.
        plane: Plane,
        /// Which total.
        total: Total,
        /// The total.
        stated: f64,
        /// The sum of its two parts.
        summed: f64,
    },
    /// Two planes: their air kerma falls on different skin.
    TwoPlanes,
    /// The reference point is not the usual one, or the report does not say.
    OtherReferencePoint,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::EventsDisagree { plane, total, stated, summed } => write!(
                f,
                "{total}, {plane}: the total is {stated} {unit}, but the single irradiations add up to {summed} {unit}. Compare with the console.",
                unit = total.unit()
            ),
            Self::PartsDisagree { plane, total, stated, summed } => write!(
                f,
                "{total}, {plane}: the total is {stated} {unit}, but fluoroscopy and cine add up to {summed} {unit}. Compare with the console.",
                unit = total.unit()
            ),
            Self::TwoPlanes => f.write_str(
                "Two planes: kerma-area product is added; air kerma is added only as the output of both tubes and is not the dose to any patch of skin. Times of two planes may overlap and are not added: enter the console's time.",
            ),
            Self::OtherReferencePoint => f.write_str(
                "The reference point of the air kerma is not stated as 15 cm from the isocentre toward the source (IEC 60601-2-43). Ask the physicist before comparing it.",
            ),
        }
    }
}

/// What the report says.
#[derive(Clone, Debug, PartialEq)]
pub struct DoseReport {
    /// One entry a plane.
    pub planes: Vec<PlaneTotals>,
    /// Cine runs among the irradiations; missing when the report lists no irradiation.
    pub cine_runs: Option<u32>,
    /// What to know before taking the figures.
    pub notes: Vec<Note>,
}

/// Reads the totals.
pub(super) fn summarise(items: &[Item]) -> Result<DoseReport, DoseReportProblem> {
    refuse_other_reports(items)?;
    let tree = Tree::new(items);
    let planes = accumulated(&tree)?;
    let mut notes = Vec::new();
    for plane in &planes {
        disagreements(&tree, plane, &mut notes);
    }
    if planes.iter().any(|of| matches!(of.plane, Plane::A | Plane::B)) {
        notes.push(Note::TwoPlanes);
    }
    let stated = |item: &Item| item.concept == Some(Concept::ReferencePoint);
    let usual = |item: &Item| item.code == Some(Concept::FifteenCentimetres);
    if planes.iter().any(|of| of.totals.contains_key(&Total::AirKerma))
        && !(items.iter().any(stated) && items.iter().filter(|item| stated(item)).all(usual))
    {
        notes.push(Note::OtherReferencePoint);
    }
    Ok(DoseReport { planes, cine_runs: cine_runs(items), notes })
}

fn refuse_other_reports(items: &[Item]) -> Result<(), DoseReportProblem> {
    let about = items.iter().find(|item| item.concept == Some(Concept::ProcedureReported));
    match about.and_then(|item| item.code) {
        Some(Concept::Ct) => return Err(DoseReportProblem::Ct),
        Some(Concept::Mammography) => return Err(DoseReportProblem::Mammography),
        _ => {}
    }
    if items.iter().any(|item| item.concept == Some(Concept::CtAccumulated)) {
        return Err(DoseReportProblem::Ct);
    }
    match items.first().and_then(|report| report.concept) {
        Some(Concept::DoseReport) => Ok(()),
        _ => Err(DoseReportProblem::OtherReport),
    }
}

/// The items with what each contains, so that a container is read without a look at the rest.
struct Tree<'a> {
    items: &'a [Item],
    contained: Vec<Vec<usize>>,
}

impl<'a> Tree<'a> {
    fn new(items: &'a [Item]) -> Self {
        let mut contained = vec![Vec::new(); items.len()];
        for (place, item) in items.iter().enumerate() {
            if let Some(parent) = item.parent {
                contained[parent].push(place);
            }
        }
        Self { items, contained }
    }

    /// Places of the items about a concept.
    fn about(&self, concept: Concept) -> impl Iterator<Item = usize> + '_ {
        (0..self.items.len()).filter(move |place| self.items[*place].concept == Some(concept))
    }

    /// The items directly in a container.
    fn within(&self, container: usize) -> impl Iterator<Item = &'a Item> + '_ {
        self.contained[container].iter().map(|place| &self.items[*place])
    }

    fn plane_of(&self, container: usize) -> Option<Plane> {
        let stated = self.within(container).find(|item| item.concept == Some(Concept::AcquisitionPlane));
        match stated.and_then(|item| item.code) {
            Some(Concept::Plane(plane)) => Some(plane),
            _ => None,
        }
    }
}

fn accumulated(tree: &Tree<'_>) -> Result<Vec<PlaneTotals>, DoseReportProblem> {
    let mut planes: BTreeMap<Plane, BTreeMap<Total, f64>> = BTreeMap::new();
    for container in tree.about(Concept::Accumulated) {
        let plane = tree.plane_of(container).unwrap_or(Plane::Single);
        let totals = planes.entry(plane).or_default();
        for item in tree.within(container) {
            let (Some(Concept::Total(total)), Some(number)) = (item.concept, &item.number) else { continue };
            let Some(value) = value_of(total, number)? else { continue };
            match totals.insert(total, value) {
                Some(other) if !near(other, value) => {
                    return Err(DoseReportProblem::Conflicting { total, plane });
                }
                _ => {}
            }
        }
    }
    if planes.values().all(BTreeMap::is_empty) {
        return Err(DoseReportProblem::NoTotals);
    }
    let planes: Vec<PlaneTotals> =
        planes.into_iter().map(|(plane, totals)| PlaneTotals { plane, totals }).collect();
    sums_agree(&planes)?;
    Ok(planes)
}

/// A single plane beside plane A or B makes no sense; planes must add up to their stated sum.
fn sums_agree(planes: &[PlaneTotals]) -> Result<(), DoseReportProblem> {
    let of = |wanted: Plane, total| planes.iter().find(|p| p.plane == wanted)?.totals.get(&total).copied();
    for total in [Total::AirKerma, Total::KermaArea] {
        let (a, b) = (of(Plane::A, total), of(Plane::B, total));
        if let (Some(_), true) = (of(Plane::Single, total), a.is_some() || b.is_some()) {
            return Err(DoseReportProblem::Conflicting { total, plane: Plane::Single });
        }
        if let (Some(a), Some(b), Some(all)) = (a, b, of(Plane::All, total))
            && !near(a + b, all)
        {
            return Err(DoseReportProblem::PlanesDisagree { total });
        }
    }
    Ok(())
}

/// The number in the unit that is kept; `None` when the report gives none.
fn value_of(total: Total, number: &Number) -> Result<Option<f64>, DoseReportProblem> {
    let Some(text) = number.value.as_deref().filter(|text| !text.is_empty()) else { return Ok(None) };
    let unit = number.unit.as_deref().and_then(|unit| factor(unit, total.measured()));
    let unit = unit.ok_or(DoseReportProblem::Unit { total })?;
    let value = text.parse::<f64>().map(|value| unit.apply(value));
    match value {
        Ok(value) if value.is_finite() && value >= 0.0 => Ok(Some(without_noise(value))),
        _ => Err(DoseReportProblem::NotNumber { total }),
    }
}

/// Nine digits: far more than a console has, and free of the binary fraction's tail.
pub(super) fn without_noise(value: f64) -> f64 {
    format!("{value:.8e}").parse().unwrap_or(value)
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() <= NEAR * one.abs().max(other.abs())
}

fn disagreements(tree: &Tree<'_>, of: &PlaneTotals, notes: &mut Vec<Note>) {
    let plane = of.plane;
    let value = |total| of.totals.get(&total).copied();
    for (total, fluoroscopy, cine, event) in [
        (Total::AirKerma, Total::FluoroscopyAirKerma, Total::CineAirKerma, Concept::EventAirKerma),
        (Total::KermaArea, Total::FluoroscopyKermaArea, Total::CineKermaArea, Concept::EventKermaArea),
    ] {
        let Some(stated) = value(total) else { continue };
        if let (Some(fluoroscopy), Some(cine)) = (value(fluoroscopy), value(cine))
            && !near(stated, fluoroscopy + cine)
        {
            let summed = without_noise(fluoroscopy + cine);
            notes.push(Note::PartsDisagree { plane, total, stated, summed });
        }
        if let Some(summed) = sum_of_events(tree, plane, event, total)
            && !near(stated, summed)
        {
            notes.push(Note::EventsDisagree { plane, total, stated, summed });
        }
    }
}

/// `None` when there is no irradiation of the plane, or one that cannot be read.
fn sum_of_events(tree: &Tree<'_>, plane: Plane, what: Concept, total: Total) -> Option<f64> {
    let mut sum = None;
    for event in tree.about(Concept::Event) {
        let of_plane = tree.plane_of(event).unwrap_or(Plane::Single);
        if plane != Plane::All && of_plane != plane {
            continue;
        }
        let number = tree.within(event).find(|item| item.concept == Some(what))?.number.as_ref()?;
        sum = Some(sum.unwrap_or(0.0) + value_of(total, number).ok()??);
    }
    sum.map(without_noise)
}

fn cine_runs(items: &[Item]) -> Option<u32> {
    let kinds: Vec<_> =
        items.iter().filter(|item| item.concept == Some(Concept::EventType)).map(|item| item.code).collect();
    if kinds.is_empty() || kinds.iter().any(Option::is_none) {
        return None;
    }
    u32::try_from(kinds.iter().filter(|kind| **kind == Some(Concept::Cine)).count()).ok()
}
