//! The crude effect by kind of patient, and whether it varies beyond chance.

use crate::methods::association::ChiSquareTest;
use crate::methods::counts::Stratum;
use crate::methods::heterogeneity::heterogeneity;
use crate::methods::interval::{Confidence, NotEstimable};
use crate::study::arm::ByArm;
use crate::study::cohort::CaseRow;
use crate::study::effect::{Effect, centre_effects};
use crate::study::endpoint::Endpoint;
use crate::study::estimate::Estimate;
use crate::study::plan::{AnalysisPlan, PlannedEndpoint};
use crate::study::population::Population;
use crate::study::tally::{Tally, stratum, two_arms};
use quietbeam_schema::vocabulary::{
    Coded, CongenitalDisease, MarginScale, Sex, StructuralDisease, SubgroupBy,
};
use rayon::prelude::*;
use serde::Serialize;

/// One way to divide the patients.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Subgroup {
    /// By what.
    pub by: &'static str,
    /// Whether the plan named it; the others are exploratory.
    pub planned: bool,
    /// Its lines; cases in which it was not recorded are in none.
    pub lines: Vec<SubgroupLine>,
    /// Cochran's Q of the lines' crude effects: whether they vary beyond chance.
    pub interaction: Estimate<ChiSquareTest>,
}

/// One kind of patient.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SubgroupLine {
    /// Which.
    pub label: &'static str,
    /// Counts as intended.
    pub arms: ByArm<Tally>,
    /// The crude effect with score limits, on the scale of the margin.
    #[serde(flatten)]
    pub effect: Effect,
}

type Division = (SubgroupBy, fn(&CaseRow) -> Option<&'static str>);

fn either(found: bool) -> &'static str {
    if found { "Yes" } else { "No" }
}

const DIVISIONS: [Division; 5] = [
    (SubgroupBy::ProcedureGroup, |case| Some(case.procedure.group().label())),
    (SubgroupBy::Sex, |case| case.before.sex.filter(|sex| *sex != Sex::Other).map(Coded::label)),
    (SubgroupBy::Paediatric, |case| Some(either(case.paediatric()))),
    (SubgroupBy::StructuralDisease, |case| {
        case.before.structural.map(|found| either(found != StructuralDisease::None))
    }),
    (SubgroupBy::CongenitalDisease, |case| {
        case.before.congenital.map(|found| either(found != CongenitalDisease::None))
    }),
];

/// Every division in which there are two kinds of patient or more, the planned ones first.
pub(super) fn subgroups(rows: &[&CaseRow], planned: &PlannedEndpoint, plan: &AnalysisPlan) -> Vec<Subgroup> {
    let divided = |division: &Division| Subgroup {
        planned: plan.subgroups().contains(&division.0),
        ..subgroup(rows, planned, plan.level(), *division)
    };
    let mut all: Vec<Subgroup> =
        DIVISIONS.par_iter().map(divided).filter(|division| division.lines.len() > 1).collect();
    all.sort_by_key(|division| !division.planned);
    all
}

fn subgroup(rows: &[&CaseRow], planned: &PlannedEndpoint, level: Confidence, (by, of): Division) -> Subgroup {
    let (endpoint, scale) = (planned.endpoint, planned.margin.scale());
    // There are a few kinds: looking through them is quicker than any map.
    let mut parts = Vec::<(&'static str, ByArm<Tally>)>::new();
    for case in rows {
        let (Some(label), Some(arm)) = (of(case), Population::AsIntended.arm(case)) else { continue };
        let place = parts.iter().position(|(own, _)| *own == label).unwrap_or_else(|| {
            parts.push((label, ByArm::default()));
            parts.len() - 1
        });
        parts[place].1.of_mut(arm).add(endpoint, case);
    }
    parts.sort_unstable_by_key(|(label, _)| *label);
    let line = |(label, arms): (&'static str, ByArm<Tally>)| SubgroupLine {
        label,
        effect: Effect::crude(scale, endpoint, two_arms(&arms), level),
        arms,
    };
    let lines: Vec<SubgroupLine> = parts.into_iter().map(line).collect();
    let interaction = interaction(&lines, endpoint, scale).into();
    Subgroup { by: by.label(), planned: false, interaction, lines }
}

fn interaction(
    lines: &[SubgroupLine],
    endpoint: Endpoint,
    scale: MarginScale,
) -> Result<ChiSquareTest, NotEstimable> {
    let strata: Vec<Stratum> = lines.iter().map(|line| stratum(&line.arms)).collect();
    let effects: Vec<_> = centre_effects(scale, endpoint, &strata)?.into_iter().flatten().collect();
    Ok(heterogeneity(&effects)?.q)
}
