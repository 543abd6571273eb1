//! What stood against a case when its data cut was taken, apart from what its record says.

/// What stood against a case; nothing where nobody asked.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct AtCut {
    /// An approval of the centre did not cover its quarter.
    pub approval_missing: bool,
    /// The screening log of its quarter was not entered or not wholly signed.
    pub denominator_unsigned: bool,
    /// A question about its strategy or an outcome was open.
    pub question_open: bool,
    /// Its centre had sent in less of the eligible than was asked for.
    pub low_capture: bool,
}
