//! The methods as a table of calculations: rows of named columns in, rows of named columns out.
//!
//! Whoever has numbers of her own uses the same code as the registry does. A calculation knows
//! its inputs and outputs by the types of the function behind it, so that the list of columns
//! and what is read cannot differ. Nothing here reads or writes a file.

// Source keys stand in square brackets without being links; tests/numbers checks them.
#![allow(rustdoc::broken_intra_doc_links)]

mod agreement;
mod answer;
mod arms;
mod balance;
mod calculation;
mod cells;
mod centres;
mod column;
mod count;
mod cox;
mod difference;
mod dose;
mod effect;
mod evenness;
mod exact;
mod follow_up;
mod groups;
mod input;
mod line;
mod looks;
mod method;
mod name;
mod named;
mod non_inferiority;
mod odds_ratio;
mod one_proportion;
mod place;
mod planning;
mod pooling;
mod posterior;
mod precision;
mod random_intercept;
mod rank;
mod ratio;
mod regression;
mod run_length;
mod seen;
mod sensitivity;
mod sheet;
mod strata;
mod table;
mod terms;
mod trouble;
mod watching;
mod weighting;

pub use calculation::{Calculation, Shape};
pub use column::{Column, Need, Output, Role};
pub use line::{Cell, Line};
pub use name::{UnknownMethod, find};
pub use place::HeaderError;
pub use sheet::{Results, Sheet};
pub use trouble::{Trouble, Wrong};

use std::sync::LazyLock;

static CATALOGUE: LazyLock<Vec<Calculation>> = LazyLock::new(|| {
    let families = [
        one_proportion::family(),
        difference::family(),
        ratio::family(),
        odds_ratio::family(),
        exact::family(),
        evenness::family(),
        agreement::family(),
        non_inferiority::family(),
        strata::family(),
        dose::family(),
        rank::family(),
        balance::family(),
        follow_up::family(),
        pooling::family(),
        random_intercept::family(),
        sensitivity::family(),
        watching::family(),
        run_length::family(),
        looks::family(),
        planning::family(),
        precision::family(),
        posterior::family(),
        regression::family(),
        cox::family(),
        weighting::family(),
    ];
    families.into_iter().flatten().collect()
});

/// Every calculation, family by family.
pub fn catalogue() -> &'static [Calculation] {
    &CATALOGUE
}
