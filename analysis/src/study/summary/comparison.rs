//! A comparison that was carried out as planned, for everyone: what the plan fixed, the counts of both
//! arms as far as they may be shown, and what was found where they are.

use super::super::decision::{Decision, Reason};
use super::super::effect::Drawn;
use super::super::endpoint::Endpoint;
use super::super::numerals;
use super::super::plan::{AnalysisPlan, PlannedMargin};
use super::super::planned::{PlannedComparison, PlannedPopulation, PlannedResult};
use super::arms::{arms, behind_a_difference, kept};
use super::counted::{Count, Counted};
use super::table::{NamedTable, TableCell, TableRow, named};
use crate::methods::interval::{Interval, Ratio, RatioInterval};
use quietbeam_schema::vocabulary::{MarginScale, NearZeroCases, PrimaryMethod};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// A comparison as planned, to be published with a summary of the same data cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PublishedComparison {
    /// The plan.
    pub plan: AnalysisPlan,
    /// When and as what it was registered.
    pub registered: PlanRegistered,
    /// The planned endpoints in their order.
    pub endpoints: Vec<PublishedEndpoint>,
    /// How to read them.
    pub notes: Vec<String>,
}

/// The registration of a plan, for everyone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanRegistered {
    /// Number and version, such as 3.1.
    pub plan: String,
    /// SHA-256 of the plan.
    pub plan_hash: String,
    /// The day, UTC.
    pub day: String,
    /// Whether nobody can have looked at the cases in scope before.
    pub fully_prespecified: bool,
}

/// What was found of an endpoint.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PublishedEndpoint {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// The margin as a proportion above 0, or as a ratio above 1.
    pub margin: f64,
    /// The scale of the margin.
    #[serde(default = "of_difference", skip_serializing_if = "is_of_difference")]
    pub scale: MarginScale,
    /// What may be claimed, in one sentence; absent where the counts of an arm are not shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub claim: Option<String>,
    /// As intended.
    #[serde(flatten)]
    pub as_intended: PublishedEffect,
    /// Per protocol; absent where nothing can be told of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub per_protocol: Option<PublishedEffect>,
}

/// What was found by the plan's method in one population.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct PublishedEffect {
    /// The difference, zero-fluoroscopy − conventional; absent where it could not be estimated, or the
    /// counts of an arm are not shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub difference: Option<PublishedDifference>,
    /// Where the margin is one of a ratio: the ratio of what nobody wants, zero-fluoroscopy /
    /// conventional; absent where the difference is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ratio: Option<PublishedRatio>,
}

impl PublishedEffect {
    fn of(found: &PlannedPopulation, (method, scale): (PrimaryMethod, MarginScale), level: f64) -> Self {
        let difference = found.difference(method).ok();
        let ratio = match scale {
            MarginScale::RiskDifference => None,
            MarginScale::RiskRatio => {
                found.ratio(method).estimated().and_then(|interval| PublishedRatio::of(interval, level))
            }
        };
        Self { difference: difference.map(|interval| PublishedDifference::of(interval, level)), ratio }
    }

    /// What was held against a margin of that scale, as it is drawn, and in words.
    pub fn drawn(&self, scale: MarginScale) -> Option<(Drawn, String)> {
        match scale {
            MarginScale::RiskDifference => self.difference.map(|found| {
                let PublishedDifference { estimate, lower, upper, .. } = found;
                (Drawn { lower, estimate, upper }, found.in_words())
            }),
            MarginScale::RiskRatio => self.ratio.map(|found| {
                let [lower, estimate, upper] =
                    [found.lower, found.estimate, found.upper].map(|ratio| ratio.max(1e-6).ln());
                (Drawn { lower, estimate, upper }, found.in_words())
            }),
        }
    }
}

// The signatures are those of the serializer.
fn of_difference() -> MarginScale {
    MarginScale::RiskDifference
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_of_difference(scale: &MarginScale) -> bool {
    *scale == MarginScale::RiskDifference
}

/// A ratio with its interval, to two decimals.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PublishedRatio {
    /// The estimate.
    pub estimate: f64,
    /// The lower limit.
    pub lower: f64,
    /// The upper limit.
    pub upper: f64,
    /// The two-sided level of the interval.
    pub level: f64,
}

impl PublishedRatio {
    /// `None` where the estimate or its upper limit has no bound.
    fn of(interval: &RatioInterval, level: f64) -> Option<Self> {
        let hundredth = |ratio: f64| (ratio * 100.0).round() / 100.0;
        let finite = |ratio: Ratio| match ratio {
            Ratio::Finite(value) => Some(hundredth(value)),
            Ratio::Unbounded => None,
        };
        let (estimate, upper) = (finite(interval.estimate?)?, finite(interval.upper)?);
        Some(Self { estimate, lower: hundredth(interval.lower), upper, level })
    }

    /// In words: 1.18 (95 % interval 0.82 to 1.71).
    pub fn in_words(&self) -> String {
        let Self { estimate, lower, upper, level } = *self;
        let level = numerals::percent(level, 0);
        format!("{estimate:.2} ({level} interval {lower:.2} to {upper:.2})")
    }
}

/// A difference of proportions with its interval, to a tenth of a percentage point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PublishedDifference {
    /// The estimate.
    pub estimate: f64,
    /// The lower limit.
    pub lower: f64,
    /// The upper limit.
    pub upper: f64,
    /// The two-sided level of the interval.
    pub level: f64,
}

impl PublishedDifference {
    fn of(interval: Interval, level: f64) -> Self {
        let tenth = |difference: f64| (difference * 1_000.0).round() / 1_000.0;
        let [estimate, lower, upper] = [interval.estimate, interval.lower, interval.upper].map(tenth);
        Self { estimate, lower, upper, level }
    }

    /// In words: −0.4 points (95 % interval −2.1 to 1.3).
    pub fn in_words(&self) -> String {
        let [estimate, lower, upper] = [self.estimate, self.lower, self.upper].map(tenths);
        let level = numerals::percent(self.level, 0);
        format!("{estimate} points ({level} interval {lower} to {upper})")
    }
}

/// Percentage points with one decimal and a true minus.
fn tenths(difference: f64) -> String {
    let text = format!("{:.1}", 100.0 * difference);
    match text.strip_prefix('-') {
        Some("0.0") => "0.0".to_owned(),
        Some(digits) => format!("\u{2212}{digits}"),
        None => text,
    }
}

impl PublishedComparison {
    /// What a comparison would say if nothing had to be hidden.
    pub fn of(planned: &PlannedComparison, registered: PlanRegistered) -> Self {
        let plan = planned.plan.clone();
        let level = planned.level().level();
        let effect = |found: &PlannedPopulation, margin: PlannedMargin| {
            PublishedEffect::of(found, (plan.method(), margin.scale()), level)
        };
        let endpoint = |result: &PlannedResult| PublishedEndpoint {
            endpoint: result.endpoint,
            margin: result.margin.size(),
            scale: result.margin.scale(),
            claim: Some(for_everyone(result)),
            as_intended: effect(&result.as_intended, result.margin),
            per_protocol: Some(effect(&result.per_protocol, result.margin)),
        };
        let endpoints = planned.endpoints.iter().map(endpoint).collect();
        Self { endpoints, notes: notes(&plan), registered, plan }
    }

    /// The differences as a table for programs: proportions, zero-fluoroscopy − conventional; with the
    /// ratios of what nobody wants beside them where a margin is one.
    pub fn differences(&self) -> NamedTable {
        let with_ratios = self.endpoints.iter().any(|found| found.scale == MarginScale::RiskRatio);
        let quantities = |numbers: Option<Vec<f64>>, places: usize| match numbers {
            Some(numbers) => numbers.into_iter().map(TableCell::Quantity).collect(),
            None => vec![TableCell::Hidden; places],
        };
        let row = |key: String, label: String, found: &PublishedEffect, margin: f64| {
            let difference = found.difference.map(|of| vec![of.estimate, of.lower, of.upper, of.level]);
            let mut cells = quantities(difference, 4);
            cells.push(TableCell::Quantity(margin));
            if with_ratios {
                cells.extend(quantities(found.ratio.map(|of| vec![of.estimate, of.lower, of.upper]), 3));
            }
            TableRow { key, label, cells }
        };
        let rows = |found: &PublishedEndpoint| {
            let (key, label) = (found.endpoint.code(), found.endpoint.label());
            let per_protocol = found.per_protocol.as_ref().map(|effect| {
                let (key, label) = (format!("{key}.per_protocol"), format!("{label}, per protocol"));
                row(key, label, effect, found.margin)
            });
            let as_intended = row(key.to_owned(), label.to_owned(), &found.as_intended, found.margin);
            [as_intended].into_iter().chain(per_protocol).collect::<Vec<_>>()
        };
        let columns = [
            ("estimate", "Estimate"),
            ("lower", "Lower limit"),
            ("upper", "Upper limit"),
            ("level", "Level of the interval"),
            ("margin", "Margin"),
            ("ratio", "Ratio of failures or complications"),
            ("ratio_lower", "Lower limit of the ratio"),
            ("ratio_upper", "Upper limit of the ratio"),
        ];
        let columns = &columns[..if with_ratios { 8 } else { 5 }];
        NamedTable {
            key: "comparison_difference".to_owned(),
            caption: "Differences of the planned endpoints, as proportions".to_owned(),
            stub: "Planned endpoint".to_owned(),
            columns: columns.iter().map(|(key, label)| named(key, label)).collect(),
            rows: self.endpoints.iter().flat_map(rows).collect(),
        }
    }

    /// The same without what would speak of hidden counts.
    pub(super) fn withheld(mut self, counted: &Counted<'_>, hidden: &BTreeSet<Count>) -> Self {
        let scope = counted.planned().map_or(0, |(_, scope)| scope);
        for found in &mut self.endpoints {
            let is_untold = |count| hidden.contains(&count) || counted.value(count).is_none();
            let is_hidden = |of| behind_a_difference(of, found.endpoint).any(is_untold);
            let [no_arms, none_kept] = [arms(scope), kept(scope)].map(is_hidden);
            if no_arms {
                (found.claim, found.as_intended) = (None, PublishedEffect::default());
            }
            // Alone it would flatter: who crossed over is missing from it.
            if no_arms || none_kept {
                found.per_protocol = None;
            }
        }
        self
    }
}

/// The claim without any count: those that may be shown stand in the table.
fn for_everyone(result: &PlannedResult) -> String {
    match result.claim {
        Decision::CannotConclude { reason: Reason::KnownTooRarely { arm, least, .. } } => format!(
            "Nothing can be concluded about {} against a margin of {}: in the {} arm the outcome is known in fewer than {} of the cases.",
            result.endpoint.label().to_lowercase(),
            result.margin.in_words(),
            arm.name(),
            numerals::percent(least, 0)
        ),
        _ => result.claim_in_words.clone(),
    }
}

fn notes(plan: &AnalysisPlan) -> Vec<String> {
    let near_zero = match plan.near_zero() {
        NearZeroCases::InNeitherArm => "in neither arm",
        NearZeroCases::WithZeroFluoroscopy => "in the zero-fluoroscopy arm",
        NearZeroCases::WithConventional => "in the conventional arm",
    };
    let brief = match plan.near_zero() {
        NearZeroCases::WithZeroFluoroscopy => " (near-zero ones with it no further than planned)",
        NearZeroCases::InNeitherArm | NearZeroCases::WithConventional => "",
    };
    let method = match plan.method() {
        PrimaryMethod::Standardised => {
            "The difference is standardised: centre and what was known of the patient beforehand are held alike in both arms.".to_owned()
        }
        PrimaryMethod::OverlapWeighted => {
            "The difference is weighted to patients who could have been treated either way, with the centre among what is held alike.".to_owned()
        }
        PrimaryMethod::WithinCentres => {
            format!("The difference is taken {} and pooled over them.", plan.within_strata())
        }
    };
    let of_ratio = plan.endpoints().iter().any(|planned| planned.margin.scale() == MarginScale::RiskRatio);
    let mut notes = vec![
        format!("The arms are what was intended beforehand, whatever happened; cases intended as near-zero stand {near_zero}."),
        format!("Per protocol are those of them that went as intended: zero-fluoroscopy cases without X-ray{brief}, conventional ones with it. Cases that cross over are often the harder ones, so this alone would flatter; a claim needs both."),
        "A share is of the cases whose outcome is known; where its count would tell too much it stands alone, in whole per cent.".to_owned(),
        method,
        "A difference is zero-fluoroscopy minus conventional, to a tenth of a point; the claim was decided before rounding, and in the plan's order.".to_owned(),
        "It is told only where the counts of both arms are. It is computed from every case compared and adds up with nothing.".to_owned(),
        "Nobody was randomised. What operators sensed of a case beforehand and nobody wrote down cannot be held alike.".to_owned(),
    ];
    notes.extend(of_ratio.then(|| {
        "A ratio is of what nobody wants, failures or complications, zero-fluoroscopy over conventional, to two decimals; below 1 they are rarer without X-ray."
            .to_owned()
    }));
    notes
}
