//! One complication, ready to be written.

use quietbeam_schema::vocabulary::{
    ComplicationKind, DetectedBy, EventOutcome, EventPhase, Intervention, Relatedness, Seriousness,
};

/// When it began and when it was seen.
#[derive(Clone, Copy)]
pub(super) enum Onset {
    /// Minutes from first venous access.
    InRoom { onset: i64, seen: i64 },
    /// Days from the procedure.
    Afterwards { onset: i64, seen: i64 },
}

/// One complication.
#[derive(Clone)]
pub(super) struct Event {
    pub(super) kind: ComplicationKind,
    pub(super) phase: EventPhase,
    pub(super) onset: Onset,
    pub(super) shown_by: DetectedBy,
    pub(super) also: Option<DetectedBy>,
    /// The minute at which fluid affected the circulation.
    pub(super) circulation_min: Option<i64>,
    pub(super) symptomatic: bool,
    pub(super) depth_mm: Option<i64>,
    pub(super) volume_ml: Option<i64>,
    pub(super) drained_ml: Option<i64>,
    pub(super) done: Vec<Intervention>,
    pub(super) extra_days: i64,
    pub(super) hct_fall: Option<i64>,
    pub(super) permanent: bool,
    /// Empty if not serious.
    pub(super) serious: &'static [Seriousness],
    pub(super) related: Relatedness,
    pub(super) outcome: EventOutcome,
}

impl Event {
    /// A complication that was felt, showed itself by a sign, was not serious
    /// and resolved; whoever knows more says so.
    pub(super) fn new(kind: ComplicationKind, phase: EventPhase, onset: Onset) -> Self {
        Self {
            kind,
            phase,
            onset,
            shown_by: DetectedBy::ClinicalSign,
            also: None,
            circulation_min: None,
            symptomatic: true,
            depth_mm: None,
            volume_ml: None,
            drained_ml: None,
            done: Vec::new(),
            extra_days: 0,
            hct_fall: None,
            permanent: false,
            serious: &[],
            related: Relatedness::Probable,
            outcome: EventOutcome::Resolved,
        }
    }

    /// Whether it came to light on a day after the procedure.
    pub(super) fn came_later(&self) -> bool {
        matches!(self.onset, Onset::Afterwards { onset, seen } if onset > 0 || seen > 0)
    }
}
