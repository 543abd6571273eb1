//! The head of an arm's column.

use quietbeam_analysis::study::arm::Arm;
use quietbeam_schema::vocabulary::Strategy;

use super::{Column, arm_shape};

/// Shape and word.
pub(crate) fn arm_column(arm: Arm) -> Column {
    let (shape, name) = match arm {
        Arm::ZeroFluoroscopy => (Strategy::Zero, "Zero-fluoroscopy"),
        Arm::Conventional => (Strategy::Conventional, "Conventional"),
    };
    Column::numbers(name).with_sign(arm_shape(shape))
}
