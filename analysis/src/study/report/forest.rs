//! A planned endpoint centre by centre: is the result the same everywhere, or one centre's?

use super::prose::{capital, things};
use crate::methods::between_centres::{BetweenCentres, paule_mandel};
use crate::methods::centre_effects::CentreEffect;
use crate::methods::counts::Stratum;
use crate::methods::heterogeneity::{Heterogeneity, heterogeneity};
use crate::methods::interval::{Confidence, NotEstimable};
use crate::methods::pooling::{pooled_hartung_knapp, prediction_interval};
use crate::study::adjustment::Adjusted;
use crate::study::arm::ByArm;
use crate::study::cohort::CaseRow;
use crate::study::effect::{Drawn, Effect, centre_effects};
use crate::study::endpoint::Endpoint;
use crate::study::estimate::Estimate;
use crate::study::numerals;
use crate::study::plan::{AnalysisPlan, PlannedMargin};
use crate::study::planned::{PlannedComparison, PlannedResult};
use crate::study::population::Population;
use crate::study::tally::{CentreTallies, Tally, stratum, tally_by_centre, two_arms};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{PrimaryMethod, Strata};
use serde::Serialize;

/// One endpoint by centre, as intended, on the scale of the margin.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Forest {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// The margin and its scale.
    #[serde(flatten)]
    pub margin: PlannedMargin,
    /// The centres in the order of their codes.
    pub centres: Vec<ForestCentre>,
    /// All centres together, the planned row marked.
    pub summaries: Vec<ForestSummary>,
    /// The centres' own effects pooled as draws from a distribution.
    pub pooled: Estimate<Pooled>,
    /// Whether the centres differ beyond chance.
    pub heterogeneity: Estimate<Heterogeneity>,
    /// Where the true effect of a new centre would lie.
    pub prediction: Effect,
    /// The same in words.
    pub in_words: String,
}

/// One centre.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ForestCentre {
    /// The centre.
    pub centre: CentreCode,
    /// Its counts.
    pub arms: ByArm<Tally>,
    /// Its effect with score limits.
    #[serde(flatten)]
    pub effect: Effect,
    /// Its share in the pooled effect; absent where it has no part in it.
    pub weight: Option<f64>,
}

/// All centres together by one method.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ForestSummary {
    /// The method.
    pub row: SummaryRow,
    /// Whether the plan decides by it.
    pub planned: bool,
    /// The effect.
    #[serde(flatten)]
    pub effect: Effect,
}

/// The methods side by side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SummaryRow {
    /// All centres thrown together.
    Crude,
    /// Within centres.
    WithinCentres,
    /// Within the procedure groups of each centre.
    WithinCentresAndGroups,
    /// Centre and covariates held alike by a model of the outcome.
    Standardised,
    /// The same, for these centres only.
    StandardisedTheseCentres,
    /// Weighted to the patients whom either arm might have treated.
    OverlapWeighted,
}

impl SummaryRow {
    fn within(strata: Strata) -> Self {
        match strata {
            Strata::Centres => Self::WithinCentres,
            Strata::CentresAndGroups => Self::WithinCentresAndGroups,
        }
    }

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::Crude => "Crude, all centres together",
            Self::WithinCentres => "Within centres",
            Self::WithinCentresAndGroups => "Within centres and procedure groups",
            Self::Standardised => "Adjusted, centres like these",
            Self::StandardisedTheseCentres => "Adjusted, these centres only",
            Self::OverlapWeighted => "Overlap-weighted",
        }
    }
}

/// A random-effects mean with the limits of Hartung and Knapp, τ² by Paule and Mandel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Pooled {
    /// The mean effect.
    #[serde(flatten)]
    pub effect: Effect,
    /// The variance between centres, of a ratio that of its logarithm.
    pub between: BetweenCentres,
}

/// The forest of every planned endpoint.
pub(super) fn forests(rows: &[&CaseRow], planned: &PlannedComparison) -> Vec<Forest> {
    let plan = &planned.plan;
    let forest = |result: &PlannedResult| {
        let tallies = tally_by_centre(rows, result.endpoint, Population::AsIntended);
        Forest::new(result, &tallies, plan, planned.level())
    };
    planned.endpoints.iter().map(forest).collect()
}

impl Forest {
    fn new(result: &PlannedResult, tallies: &CentreTallies, plan: &AnalysisPlan, level: Confidence) -> Self {
        let strata: Vec<Stratum> = tallies.values().map(stratum).collect();
        let (endpoint, scale) = (result.endpoint, result.margin.scale());
        let effects = centre_effects(scale, endpoint, &strata);
        let taking_part: Result<Vec<CentreEffect>, NotEstimable> =
            effects.as_ref().map(|all| all.iter().flatten().copied().collect()).map_err(|why| *why);
        let model = taking_part.as_ref().map_err(|why| *why).and_then(|effects| paule_mandel(effects));
        let pooled = model.as_ref().map_err(|why| *why).and_then(|model| {
            let mean = pooled_hartung_knapp(model, level)?;
            Ok(Pooled { effect: Effect::pooled(scale, Ok(mean.interval)), between: mean.between })
        });
        let shares = model.as_ref().map(|model| model.shares()).unwrap_or_default();
        let mut forest = Self {
            endpoint,
            margin: result.margin,
            centres: centres(result, tallies, (effects.unwrap_or_default(), &shares), level),
            summaries: summaries(result, plan),
            pooled: pooled.into(),
            heterogeneity: taking_part.and_then(|effects| heterogeneity(&effects)).into(),
            prediction: Effect::pooled(scale, model.and_then(|model| prediction_interval(&model, level))),
            in_words: String::new(),
        };
        forest.in_words = in_words(&forest);
        forest
    }
}

fn centres(
    result: &PlannedResult,
    tallies: &CentreTallies,
    (effects, shares): (Vec<Option<CentreEffect>>, &[f64]),
    level: Confidence,
) -> Vec<ForestCentre> {
    let mut shares = shares.iter().copied();
    let weights: Vec<Option<f64>> =
        effects.into_iter().map(|effect| effect.and_then(|_| shares.next())).collect();
    let line = |(place, (centre, arms)): (usize, (&CentreCode, &ByArm<Tally>))| ForestCentre {
        centre: *centre,
        arms: *arms,
        effect: Effect::crude(result.margin.scale(), result.endpoint, two_arms(arms), level),
        weight: weights.get(place).copied().flatten(),
    };
    tallies.iter().enumerate().map(line).collect()
}

fn summaries(result: &PlannedResult, plan: &AnalysisPlan) -> Vec<ForestSummary> {
    let (method, within) = (plan.method(), SummaryRow::within(plan.strata()));
    let scale = result.margin.scale();
    let of_model = |estimate: &Estimate<Adjusted>| Effect::adjusted(scale, estimate.result());
    let (crude, adjusted) = (&result.as_intended.crude, &result.as_intended.adjusted);
    let line = |row, planned, effect| ForestSummary { row, planned, effect };
    vec![
        line(SummaryRow::Crude, false, crude.crude_effect(scale)),
        line(within, method == PrimaryMethod::WithinCentres, crude.effect_within_centres(scale)),
        line(
            SummaryRow::Standardised,
            method == PrimaryMethod::Standardised,
            of_model(&adjusted.standardised),
        ),
        line(SummaryRow::StandardisedTheseCentres, false, of_model(&adjusted.standardised_these_centres)),
        line(
            SummaryRow::OverlapWeighted,
            method == PrimaryMethod::OverlapWeighted,
            of_model(&adjusted.overlap_weighted),
        ),
    ]
}

fn in_words(forest: &Forest) -> String {
    let reaches = |effect: &Drawn| forest.margin.is_reached_by(*effect);
    let known: Vec<Drawn> = forest.centres.iter().filter_map(|centre| centre.effect.drawn()).collect();
    let reaching = known.iter().filter(|effect| reaches(effect)).count();
    let planned = forest.summaries.iter().find(|row| row.planned);
    let planned = planned.and_then(|row| row.effect.drawn());
    let decides = match planned {
        Some(effect) if reaches(&effect) => "so does the planned one",
        Some(_) => "the planned one stays short of it",
        None => "there is no planned one",
    };
    let mut text = capital(&format!(
        "{} of {} {} the margin; {decides}.",
        numerals::in_words(reaching),
        things(known.len(), "centre interval", "centre intervals"),
        if reaching == 1 { "reaches" } else { "reach" },
    ));
    if let Estimate::Estimated(Heterogeneity { q, i_squared_from_q, .. }) = &forest.heterogeneity {
        let shown = if q.p < 0.05 { "shown" } else { "not shown, which does not make them alike" };
        text.push_str(&format!(
            " That centres differ beyond chance is {shown} (Q {:.1} on {} degrees of freedom, p {}; I² {}).",
            q.statistic,
            q.degrees_of_freedom,
            numerals::p_value(q.p),
            numerals::percent(*i_squared_from_q, 0)
        ));
    }
    text
}
