//! How the procedure was guided: the strategy declared, the X-ray used and
//! the reasons for it.

use super::code_list;

code_list! {
    /// The imaging strategy the operator intended before the case; it decides the group in which
    /// the case is compared, whatever happened afterwards.
    Strategy = "strategy" {
        /// No X-ray beam planned at any point, with fluoroscopy ready in the room as a standby.
        Zero = "zero", "Zero fluoroscopy";
        /// A brief, planned use of X-ray for one or a few steps and none for the rest.
        NearZero = "near_zero", "Near-zero fluoroscopy";
        /// X-ray planned as the usual guidance, with or without a mapping system.
        Conventional = "conventional", "Conventional fluoroscopy";
    }
}

code_list! {
    /// When the intended strategy was written down.
    IntentDeclared = "intent_declared" {
        /// Entered in the registry before the first venous access.
        Before = "before", "Before the procedure";
        /// Written in the laboratory's log on the day, before the first venous access, and entered
        /// in the registry later.
        SameDayLog = "same_day_log", "In that day's log";
        /// Written down after the procedure had begun, so the outcome may have coloured it.
        Retrospective = "retrospective", "After the fact";
    }
}

code_list! {
    /// The leading reason why zero fluoroscopy was not the intended strategy.
    ZfDeclinedReason = "zf_declined_reason" {
        /// Epicardial access was planned.
        Epicardial = "epicardial", "Epicardial access";
        /// Congenital anatomy called for X-ray.
        Congenital = "chd", "Congenital anatomy";
        /// An implanted device or its leads called for X-ray.
        Device = "device", "Implanted device";
        /// No electroanatomic mapping system was available for the case.
        NoMapping = "no_eam", "No mapping system";
        /// No intracardiac echo was available for the case.
        NoIce = "no_ice", "No intracardiac echo";
        /// The operator preferred fluoroscopy, or does not work without it.
        OperatorPreference = "operator_pref", "Operator preference";
        /// Fluoroscopy was planned in order to teach or to learn it.
        Training = "training", "Training";
        /// The extra material for work without X-ray cost too much.
        Cost = "cost", "Cost";
        /// Another reason.
        Other = "other", "Other reason";
    }
}

code_list! {
    /// Whether the X-ray beam was on in the laboratory, from first access to last sheath out, for
    /// any purpose.
    FluoroUsed = "fluoro_used" {
        /// The beam was never on and no standby was set up for the case.
        None = "none", "Not used";
        /// Fluoroscopy stood ready for the case and the beam was never on.
        StandbyNotUsed = "standby_not_used", "On standby, not used";
        /// The beam was on although it had not been planned, however briefly.
        StandbyUsed = "standby_used", "On standby, used unplanned";
        /// The beam was on as planned.
        PlannedUsed = "planned_used", "Used as planned";
    }
}

impl FluoroUsed {
    /// Whether the X-ray beam was on at all; when it was not, every X-ray quantity is zero.
    pub fn beam_on(self) -> bool {
        match self {
            Self::None | Self::StandbyNotUsed => false,
            Self::StandbyUsed | Self::PlannedUsed => true,
        }
    }
}

code_list! {
    /// Why X-ray was used although it had not been planned.
    FluoroReason = "fluoro_reason" {
        /// To pass a wire or sheath through the vessels at the access site or in the pelvis.
        Access = "access", "Vascular access";
        /// To place or find a catheter that the mapping system or echo did not show well enough.
        CatheterPosition = "catheter_position", "Catheter position";
        /// To guide or confirm the transseptal crossing.
        Transseptal = "transseptal", "Transseptal crossing";
        /// To advance the intracardiac echo catheter to the heart.
        IceAdvance = "ice_advance", "Advancing the echo catheter";
        /// To watch or locate the phrenic nerve or the movement of the diaphragm.
        Phrenic = "phrenic", "Phrenic nerve";
        /// To show the coronary arteries before or during ablation near them.
        CoronaryAngio = "coronary_angio", "Coronary angiography";
        /// To gain or use epicardial access.
        Epicardial = "epicardial", "Epicardial access";
        /// To check or protect the lead of an implanted device.
        DeviceLead = "device_lead", "Device lead";
        /// To look for or treat a complication, suspected or proven; such a use is an outcome of
        /// the case rather than a failure of guidance.
        SuspectedComplication = "suspected_complication", "Suspected complication";
        /// The mapping system failed or its map could not be trusted.
        MappingFailure = "eam_failure", "Mapping system failure";
        /// Intracardiac echo failed or gave no usable view.
        IceFailure = "ice_failure", "Echo failure";
        /// Another reason.
        Other = "other", "Other reason";
    }
}

code_list! {
    /// The parts of the procedure during which the beam was on.
    FluoroPhase = "fluoro_phase" {
        /// While vessels were punctured and sheaths put in.
        Access = "access", "Vascular access";
        /// While catheters were brought to and placed in the heart.
        Placement = "placement", "Catheter placement";
        /// While the atrial septum was crossed.
        Transseptal = "transseptal", "Transseptal crossing";
        /// While the arrhythmia was studied or a map was made.
        Mapping = "mapping", "Mapping";
        /// While energy was delivered or the ablation catheter moved between lesions.
        Ablation = "ablation", "Ablation";
        /// While a complication was looked for or treated.
        Complication = "complication", "Complication";
        /// After the last lesion, up to the last sheath out.
        Post = "post", "After ablation";
    }
}

code_list! {
    /// Which X-ray planes the stated air kerma covers in a biplane room.
    KermaPlanes = "kerma_planes" {
        /// One plane only, or a room that has one plane.
        Single = "single", "Single plane";
        /// The sum of both planes; it does not describe the dose to any one patch of skin.
        BothPlanes = "a_plus_b", "Sum of both planes";
    }
}

code_list! {
    /// Whether the staff in the room wore lead aprons.
    LeadWorn = "lead_worn" {
        /// Everyone in the room wore lead for the whole procedure.
        All = "all", "Everyone";
        /// Some wore it, or it was worn for part of the procedure.
        Some = "some", "Some, or part of the time";
        /// Nobody wore lead at any time.
        None = "none", "Nobody";
    }
}

code_list! {
    /// Where the badge that measured a staff dose was worn.
    BadgePosition = "badge_position" {
        /// Outside the lead apron, or with no apron worn.
        OverApron = "over_apron", "Over the apron";
        /// Beneath the lead apron.
        UnderApron = "under_apron", "Under the apron";
    }
}

code_list! {
    /// Where the dose figures were taken from.
    DoseSource = "dose_source" {
        /// Read by software from the structured dose report that the X-ray system wrote.
        StructuredReport = "structured_report", "Structured dose report";
        /// Copied from the display of the X-ray console at the end of the case.
        Console = "console", "Console display";
        /// Copied from the written procedure report.
        WrittenReport = "written_report", "Written report";
        /// Noted by hand during the case, or taken from a logbook.
        Manual = "manual", "Handwritten note";
    }
}
