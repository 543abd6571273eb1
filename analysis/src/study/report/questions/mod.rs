//! What the field asks, beside the planned endpoints: can it be done, does echo see fluid
//! first, do minutes tell the dose, and who is protected. Description: no verdict.

mod dose_and_minutes;
mod dose_in_two_parts;
mod echo_first;
mod feasibility;
mod protected;

pub use dose_and_minutes::{Axis, DoseAndMinutes, GridCell, MGY, MINUTES, Rate};
pub use dose_in_two_parts::DoseInTwoParts;
pub use echo_first::{EchoFirst, RouteLead};
pub use feasibility::{Feasibility, Tried};
pub use protected::{BadgeReadings, LeadWorn, RoleDose, WhoIsProtected};
