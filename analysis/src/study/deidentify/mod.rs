//! Rows of cases for investigators, with what could single out a person taken out, made
//! coarser or withheld. Built to support de-identification: whether a file may leave is the
//! local privacy officer's decision, and no rule here takes that decision.

mod class;
mod profile;
mod row;

pub use class::{Age, Class, Traits, generalise};
pub use profile::{Profile, Step};
pub use row::{Layout, Operators, TABLES, Table, traits_of};

use serde::Serialize;
use std::collections::BTreeMap;

/// How many rows were withheld, as far as that may be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Withheld {
    /// None.
    None,
    /// Some, and fewer than this.
    FewerThan(usize),
    /// So many.
    Rows(usize),
}

/// What became of the rows of one file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Account {
    /// The profile.
    pub profile: Profile,
    /// Every combination of the traits that is published stands in at least so many rows.
    pub least_rows: usize,
    /// How many rows went out at each step.
    pub steps: BTreeMap<Step, usize>,
    /// How many did not.
    pub withheld: Withheld,
}

impl Account {
    /// Counts what became of the rows. A small number that was withheld is not told.
    pub fn of(profile: Profile, shown: &[Option<Step>]) -> Self {
        let mut steps = BTreeMap::new();
        for step in shown.iter().flatten() {
            *steps.entry(*step).or_insert(0) += 1;
        }
        let least_rows = profile.least_rows();
        let withheld = match shown.iter().filter(|step| step.is_none()).count() {
            0 => Withheld::None,
            few if few < least_rows => Withheld::FewerThan(least_rows),
            many => Withheld::Rows(many),
        };
        Self { profile, least_rows, steps, withheld }
    }

    /// How many rows went out.
    pub fn published(&self) -> usize {
        self.steps.values().sum()
    }
}
