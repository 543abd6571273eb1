//! Before a plan is written: how many cases it takes, how precise it will be, and by when this
//! network has them. No outcome enters by arm, so nobody who reads this has looked.

mod accrual;
mod assumed;
mod curves;
mod words;

pub use accrual::{Ahead, Held, Outlook, Pooled};
pub use assumed::{Assumed, AssumedForm};
pub use curves::{Curves, Needed, PowerPoint, Precision, ReachPoint, WidthPoint};
pub use words::factor;
