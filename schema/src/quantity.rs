//! Physical quantities: the value and the unit as typed, and the canonical
//! value they stand for. Nothing converts minutes into a dose.

use crate::value::{Kind, ValueProblem, parse_number};
use std::marker::PhantomData;

#[cfg(test)]
pub(crate) mod tests;

/// One unit of a dimension.
#[derive(Debug, PartialEq)]
pub struct Unit {
    /// The unit in UCUM notation, as written in files and JSON.
    pub ucum: &'static str,
    /// The unit as shown to a person.
    pub label: &'static str,
    /// Canonical value = typed value × `times` ÷ `per`; two whole factors keep
    /// decimal conversions exact where one rounded factor would not.
    times: f64,
    per: f64,
}

/// A kind of quantity with its units and hard limits.
#[derive(Debug, PartialEq)]
pub struct Dimension {
    /// The name in the codebook.
    pub name: &'static str,
    /// The units accepted; the first is canonical.
    pub units: &'static [Unit],
    /// Smallest canonical value accepted.
    pub min: f64,
    /// Largest canonical value accepted.
    pub max: f64,
}

impl Dimension {
    /// The unit in which values are compared and analysed.
    pub fn canonical(&self) -> &'static Unit {
        &self.units[0]
    }

    /// The UCUM strings accepted, separated by commas.
    pub fn units_joined(&self) -> String {
        self.units.iter().map(|unit| unit.ucum).collect::<Vec<_>>().join(", ")
    }

    /// Reads a unit in UCUM notation or as printed (`µGy·m²`, `cGycm2`).
    ///
    /// # Errors
    /// Units per area, units of effective dose, and anything else unknown.
    pub fn unit(&self, text: &str) -> Result<&'static Unit, ValueProblem> {
        let plain = plain_unit(text);
        let undotted = |unit: &str| unit.replace('.', "");
        if let Some(unit) = self.units.iter().find(|unit| undotted(unit.ucum) == undotted(&plain)) {
            return Ok(unit);
        }
        let per_area = plain.ends_with("m-2") || plain.contains('/') && plain.ends_with("m2");
        if per_area && plain.contains("Gy") {
            return Err(ValueProblem::PerArea);
        }
        let asks_kerma = self.canonical().ucum.contains("Gy");
        if asks_kerma && ["Sv", "R", "rem"].iter().any(|unit| plain.ends_with(unit)) {
            return Err(ValueProblem::NotKerma);
        }
        Err(ValueProblem::NotUnit(self.units_joined()))
    }

    /// Reads a number in a unit: the number as kept, the unit, and the value in the canonical
    /// unit.
    ///
    /// # Errors
    /// What is wrong with the number, the unit, or the value they stand for.
    pub fn read(&self, typed: &str, unit: &str) -> Result<(String, &'static Unit, f64), ValueProblem> {
        let unit = self.unit(unit)?;
        let typed = typed.trim();
        let (number, typed) = match typed.split_once(':') {
            Some(clock) if unit.ucum == "min" => (minutes_of_clock(clock)?, typed.to_owned()),
            _ => parse_number(typed).map(|number| (number, number.to_string()))?,
        };
        let canonical = number * unit.times / unit.per;
        if canonical < self.min || canonical > self.max {
            let label = self.canonical().label;
            return Err(ValueProblem::OutOfRange {
                value: format!("{typed} {} = {canonical} {label}", unit.label),
                min: self.min.to_string(),
                max: format!("{} {label}", self.max),
            });
        }
        Ok((typed, unit, canonical))
    }
}

/// A printed unit in UCUM's letters: both micro signs, many signs of a product,
/// superscripts and `cm*cm` occur on consoles, in image headers and in papers.
fn plain_unit(text: &str) -> String {
    let plain: String = text
        .trim()
        .chars()
        .filter_map(|c| match c {
            'µ' | 'μ' => Some('u'),
            '·' | '*' | '⋅' | '×' => Some('.'),
            '²' => Some('2'),
            '^' | ' ' => None,
            other => Some(other),
        })
        .collect();
    plain.replace("cm.cm", "cm2").replace(".m.m", ".m2")
}

/// Which dimension a quantity has.
pub trait Measure: 'static {
    /// The dimension.
    const DIMENSION: &'static Dimension;
}

/// A quantity as typed, with its canonical value.
pub struct Quantity<M> {
    typed: String,
    unit: &'static Unit,
    canonical: f64,
    measure: PhantomData<fn() -> M>,
}

impl<M> Clone for Quantity<M> {
    fn clone(&self) -> Self {
        Self { typed: self.typed.clone(), unit: self.unit, canonical: self.canonical, measure: PhantomData }
    }
}

impl<M> std::fmt::Debug for Quantity<M> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.typed, self.unit.ucum)
    }
}

impl<M> PartialEq for Quantity<M> {
    fn eq(&self, other: &Self) -> bool {
        self.typed == other.typed && self.unit == other.unit
    }
}

impl<M: Measure> Quantity<M> {
    /// Reads a number and its unit.
    ///
    /// # Errors
    /// What is wrong with the number, the unit, or the value they stand for.
    pub fn parse(typed: &str, unit: &str) -> Result<Self, ValueProblem> {
        let (typed, unit, canonical) = M::DIMENSION.read(typed, unit)?;
        Ok(Self { typed, unit, canonical, measure: PhantomData })
    }

    /// The number as typed.
    pub fn typed(&self) -> &str {
        &self.typed
    }

    /// The unit as typed.
    pub fn unit(&self) -> &'static Unit {
        self.unit
    }

    /// The value in the dimension's canonical unit.
    pub fn canonical(&self) -> f64 {
        self.canonical
    }
}

/// Minutes of a console reading such as `7:30`.
fn minutes_of_clock((minutes, seconds): (&str, &str)) -> Result<f64, ValueProblem> {
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    let (Ok(whole), Ok(rest)) = (minutes.parse::<u32>(), seconds.parse::<u32>()) else {
        return Err(ValueProblem::NotNumber);
    };
    if !digits(minutes) || !digits(seconds) || seconds.len() != 2 || rest >= 60 {
        return Err(ValueProblem::NotNumber);
    }
    Ok((f64::from(whole) * 60.0 + f64::from(rest)) / 60.0)
}

/// Declares a dimension and the quantity type that has it.
macro_rules! dimension {
    ($(#[doc = $doc:literal])+ $quantity:ident, $measure:ident, $method:ident = $name:literal,
     $min:literal to $max:literal { $($ucum:literal $label:literal $times:literal / $per:literal,)+ }) => {
        #[doc = concat!("Marks a quantity as ", $name, ".")]
        #[derive(Debug)]
        pub enum $measure {}
        impl Measure for $measure {
            const DIMENSION: &'static Dimension = &Dimension {
                name: $name, min: $min, max: $max,
                units: &[$(Unit { ucum: $ucum, label: $label, times: $times, per: $per },)+],
            };
        }
        $(#[doc = $doc])+
        pub type $quantity = Quantity<$measure>;
        impl $quantity {
            /// The value in the canonical unit, which the name tells.
            pub fn $method(&self) -> f64 { self.canonical() }
        }
        impl QuantityKind for $quantity {
            const KIND: Kind = Kind::Quantity(<$measure as Measure>::DIMENSION);
        }
    };
}

/// The kind of a quantity type, for the dictionary.
pub trait QuantityKind {
    /// Always `Kind::Quantity` of its dimension.
    const KIND: Kind;
}

dimension! {
    /// Air kerma at the patient entrance reference point, in mGy. It is not
    /// skin dose and holds no backscatter (IEC 60601-2-43).
    AirKerma, AirKermaMeasure, mgy = "air_kerma", 0.0 to 20_000.0 {
        "mGy" "mGy" 1.0 / 1.0,
        "Gy" "Gy" 1000.0 / 1.0,
        "cGy" "cGy" 10.0 / 1.0,
        "uGy" "µGy" 1.0 / 1000.0,
    }
}

dimension! {
    /// Kerma-area product, in Gy·cm²: kerma times area, never kerma per area.
    KermaArea, KermaAreaMeasure, gy_cm2 = "kerma_area_product", 0.0 to 2_000.0 {
        "Gy.cm2" "Gy·cm²" 1.0 / 1.0,
        "dGy.cm2" "dGy·cm²" 1.0 / 10.0,
        "cGy.cm2" "cGy·cm²" 1.0 / 100.0,
        "mGy.cm2" "mGy·cm²" 1.0 / 1000.0,
        "uGy.m2" "µGy·m²" 1.0 / 100.0,
        "mGy.m2" "mGy·m²" 10.0 / 1.0,
        "cGy.m2" "cGy·m²" 100.0 / 1.0,
        "Gy.m2" "Gy·m²" 10000.0 / 1.0,
    }
}

dimension! {
    /// Time with the beam on, in seconds; a description, never a dose.
    BeamTime, BeamTimeMeasure, seconds = "beam_time", 0.0 to 18_000.0 {
        "s" "s" 1.0 / 1.0,
        "min" "min" 60.0 / 1.0,
    }
}

dimension! {
    /// Time of cine acquisition, in seconds; a description, never a dose.
    CineTime, CineTimeMeasure, seconds = "cine_time", 0.0 to 1_800.0 {
        "s" "s" 1.0 / 1.0,
        "min" "min" 60.0 / 1.0,
    }
}

dimension! {
    /// Dose equivalent Hp(10) read from a badge for one case, in µSv.
    BadgeDose, BadgeDoseMeasure, usv = "badge_dose", 0.0 to 5_000.0 {
        "uSv" "µSv" 1.0 / 1.0,
        "mSv" "mSv" 1000.0 / 1.0,
    }
}
