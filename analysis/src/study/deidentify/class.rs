//! Rows that are alike in all that could single out a person.

use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::reported::Reported;
use quietbeam_schema::vocabulary::{AgeBand, ProcedureGroup, Sex};
use std::collections::HashMap;

use super::profile::{Profile, Step};

/// What of a case could single out a person in combination.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Traits {
    /// The centre.
    pub site: CentreCode,
    /// The quarter of the procedure.
    pub quarter: Quarter,
    /// The age band.
    pub age: AgeBand,
    /// The sex, or why it is not stated.
    pub sex: Reported<Sex>,
    /// The group of the procedure.
    pub group: ProcedureGroup,
    /// Something about the case is rare and may be known to others. It is never published,
    /// and rows with it are only ever alike to rows with it.
    pub rare: bool,
}

/// An age as far as it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Age {
    /// As recorded.
    Band(AgeBand),
    /// Twenty years or so.
    Wide(&'static str),
    /// Child or adult.
    Adult(bool),
}

impl Age {
    /// The wide band of an age.
    pub fn wide(age: AgeBand) -> &'static str {
        match age.lower_years() {
            0..18 => "0_17",
            18..40 => "18_39",
            40..60 => "40_59",
            60..80 => "60_79",
            _ => "80_plus",
        }
    }
}

/// What is shown of the traits at a step; rows with the same are alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Class {
    /// The site, unless withheld.
    pub site: Option<CentreCode>,
    /// The year and, inside the network, the quarter, unless withheld.
    pub period: Option<(u16, Option<u8>)>,
    /// The age.
    pub age: Age,
    /// The sex, unless withheld.
    pub sex: Option<Reported<Sex>>,
    /// The group of the procedure.
    pub group: ProcedureGroup,
}

impl Traits {
    /// What is shown of them at a step.
    pub fn at(&self, step: Step, profile: Profile) -> Class {
        let quarter = (profile == Profile::Pseudonymised).then_some(self.quarter.quarter());
        Class {
            site: (step < Step::WithoutSite).then_some(self.site),
            period: (step < Step::WithoutPeriod).then_some((self.quarter.year(), quarter)),
            age: match step {
                Step::ChildOrAdult | Step::WithoutSex => Age::Adult(self.age.is_adult()),
                Step::WideAge => Age::Wide(Age::wide(self.age)),
                _ => Age::Band(self.age),
            },
            sex: (step < Step::WithoutSex).then_some(self.sex),
            group: self.group,
        }
    }
}

/// The step at which each row goes out; `None` for a row that is withheld. Every class that
/// goes out, rare rows and others apart, has at least as many rows as the profile asks: the
/// rows of a smaller one go on to the next step together.
pub fn generalise(rows: &[Traits], profile: Profile) -> Vec<Option<Step>> {
    let mut shown = vec![None; rows.len()];
    let mut left: Vec<usize> = (0..rows.len()).collect();
    for step in Step::ALL {
        let class = |row: usize| (rows[row].at(step, profile), rows[row].rare);
        let mut sizes = HashMap::new();
        for row in &left {
            *sizes.entry(class(*row)).or_insert(0_usize) += 1;
        }
        left.retain(|row| {
            let enough = sizes.get(&class(*row)).is_some_and(|size| *size >= profile.least_rows());
            if enough {
                shown[*row] = Some(step);
            }
            !enough
        });
    }
    shown
}
