//! By what a list of cases is narrowed, beside what stands in the records themselves.

use super::code_list;

code_list! {
    /// Where the record of a case stands between the centre and its monitors.
    RecordState = "record_state" {
        /// The case was sent in, and every question about it is settled.
        Submitted = "submitted", "Nothing asked";
        /// A question about the case is open, or its answer waits for a monitor's look.
        Queried = "queried", "Asked about";
    }
}

code_list! {
    /// Whether every field that applies to a case says more than "not recorded".
    Completeness = "completeness" {
        /// Every field that applies is filled in, the follow-up with it.
        Complete = "complete", "Complete";
        /// At least one field that applies is still empty.
        SomethingLeft = "something_left", "With something left";
    }
}
