//! The dose fields of a case that a report can fill. They are offered, never
//! entered: a person compares them with the console and takes them.

use quietbeam_schema::quantity::{AirKerma, BeamTime, CineTime, KermaArea};
use serde::Serialize;
use utoipa::ToSchema;

use super::DoseReportProblem;
use super::concept::{Plane, Total};
use super::totals::{DoseReport, PlaneTotals, without_noise};

/// A field of the case form with the value that the report gives it.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct OfferedField {
    /// The field's name in the dictionary.
    pub field: &'static str,
    /// The value as it is written in files and forms.
    pub value: String,
    /// The unit, for a quantity.
    pub unit: Option<&'static str>,
}

/// A total of one plane.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct TotalTold {
    /// What was added up, in words.
    pub total: String,
    /// The value.
    pub value: f64,
    /// The unit in UCUM notation.
    pub unit: &'static str,
}

/// The totals of one plane. Totals of two planes are never added as a skin dose.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PlaneTold {
    /// Which plane.
    pub plane: String,
    /// What the report gives for it.
    pub totals: Vec<TotalTold>,
}

/// What a report says, for programs. Nothing else of it leaves this module.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Offer {
    /// The fields of a case that it can fill.
    pub fields: Vec<OfferedField>,
    /// Its totals.
    pub planes: Vec<PlaneTold>,
    /// What to know before taking the figures.
    pub notes: Vec<String>,
}

impl PlaneTold {
    fn of(plane: &PlaneTotals) -> Self {
        let total = |(total, value): (&Total, &f64)| TotalTold {
            total: total.to_string(),
            value: *value,
            unit: total.unit(),
        };
        Self { plane: plane.plane.to_string(), totals: plane.totals.iter().map(total).collect() }
    }
}

impl DoseReport {
    /// The fields of the case that this report can fill.
    ///
    /// # Errors
    /// A value beyond what the registry takes for one procedure.
    pub fn offer(&self) -> Result<Offer, DoseReportProblem> {
        let mut fields = Vec::new();
        let mut quantity = |field, total: Total, value: Option<f64>| {
            if let Some(value) = value {
                let text = value.to_string();
                if !accepted(total, &text) {
                    return Err(DoseReportProblem::TooMuch { total });
                }
                fields.push(OfferedField { field, value: text, unit: Some(total.unit()) });
            }
            Ok(())
        };
        quantity("air_kerma", Total::AirKerma, self.sum(Total::AirKerma))?;
        quantity("kap", Total::KermaArea, self.sum(Total::KermaArea))?;
        quantity("fluoro_time", Total::FluoroscopyTime, self.single(Total::FluoroscopyTime))?;
        quantity("cine_time", Total::CineTime, self.single(Total::CineTime))?;
        let plain = |field, value: &str| OfferedField { field, value: value.to_owned(), unit: None };
        if self.sum(Total::AirKerma).is_some() {
            fields.push(plain("ak_planes", if self.biplane() { "a_plus_b" } else { "single" }));
        }
        if let (Some(runs @ 0..=100), false) = (self.cine_runs, self.biplane()) {
            fields.push(plain("cine_runs", &runs.to_string()));
        }
        fields.push(plain("dose_source", "structured_report"));
        Ok(Offer {
            fields,
            planes: self.planes.iter().map(PlaneTold::of).collect(),
            notes: self.notes.iter().map(ToString::to_string).collect(),
        })
    }

    fn biplane(&self) -> bool {
        self.planes.iter().any(|of| of.plane != Plane::Single)
    }

    fn of(&self, plane: Plane, total: Total) -> Option<f64> {
        let of: &PlaneTotals = self.planes.iter().find(|of| of.plane == plane)?;
        of.totals.get(&total).copied()
    }

    /// The figure of the only plane, or of all planes where the report gives one.
    fn single(&self, total: Total) -> Option<f64> {
        self.of(Plane::All, total).or_else(|| self.of(Plane::Single, total))
    }

    /// The same, or the sum of both planes when both are there.
    fn sum(&self, total: Total) -> Option<f64> {
        let both = || Some(without_noise(self.of(Plane::A, total)? + self.of(Plane::B, total)?));
        self.single(total).or_else(both)
    }
}

fn accepted(total: Total, value: &str) -> bool {
    match total {
        Total::AirKerma => AirKerma::parse(value, total.unit()).is_ok(),
        Total::KermaArea => KermaArea::parse(value, total.unit()).is_ok(),
        Total::FluoroscopyTime => BeamTime::parse(value, total.unit()).is_ok(),
        Total::CineTime => CineTime::parse(value, total.unit()).is_ok(),
        _ => true,
    }
}
