//! The intended strategy, what became of it, and the X-ray that was used.

use super::conditions::*;
use crate::dictionary::{Need::*, section};
use crate::quantity::{AirKerma, BadgeDose, BeamTime, CineTime, KermaArea};
use crate::reported::Reported;
use crate::value::{Decimal, Whole};
use crate::vocabulary::*;

section! {
    /// The intended strategy and whether the beam was on.
    Guidance {
        /// The strategy decided before the case starts. It defines the arm of the primary comparison and is never changed to fit what happened.
        strategy_intended: Strategy = "Intended strategy", Always, Internal;
        /// When the intended strategy was written down.
        intended_declared: Reported<IntentDeclared> = "Strategy declared", Always, Internal;
        /// Why zero-fluoroscopy was not intended.
        zf_declined_reason: Reported<ZfDeclinedReason> = "Why not zero-fluoroscopy", When(&NOT_INTENDED_ZERO), Internal;
        /// Whether the beam was on at any moment, for any reason. Fluoroscopy stays available in every room. With no beam every X-ray quantity is zero and is set by the registry.
        fluoro_used: FluoroUsed = "Fluoroscopy used", Always, Internal;
        /// Who wore lead during the case.
        lead_worn: Reported<LeadWorn> = "Lead worn", Always, Internal;
        /// Operator's badge reading for this case. A dose of the person's role; no person is recorded.
        staff_dose_operator: Reported<BadgeDose> = "Badge dose, operator", Optional, Restricted, query 0 to 100;
        /// Second operator's badge reading for this case.
        staff_dose_second: Reported<BadgeDose> = "Badge dose, second operator", Optional, Restricted, query 0 to 100;
        /// Nurse's badge reading for this case.
        staff_dose_nurse: Reported<BadgeDose> = "Badge dose, nurse", Optional, Restricted, query 0 to 100;
        /// Badge reading of whoever gave the anaesthetic.
        staff_dose_anaesthesia: Reported<BadgeDose> = "Badge dose, anaesthesia", Optional, Restricted, query 0 to 100;
        /// Where the badges were worn.
        staff_badge_position: Reported<BadgePosition> = "Badge position", Optional, Restricted;
    }
}

section! {
    /// The X-ray used, in a case in which the beam was on.
    Exposure {
        /// Why the beam was needed although it had only been on standby.
        fluoro_reason: Reported<Codes<FluoroReason>> = "Why X-ray was needed", When(&UNPLANNED_BEAM), Internal;
        /// In which phases the beam was on.
        fluoro_phase: Reported<Codes<FluoroPhase>> = "When X-ray was used", When(&BEAM_ON), Internal;
        /// Time with the beam on. It describes the work and never stands for dose.
        fluoro_time: Reported<BeamTime> = "Fluoroscopy time", When(&BEAM_ON), Internal, query 0 to 3600;
        /// Air kerma at the reference point, cumulated over the case. The primary dose. Read the unit from the console: a gray is a thousand milligray.
        air_kerma: Reported<AirKerma> = "Air kerma", When(&BEAM_ON), Internal, query 0.05 to 2000;
        /// In a biplane room, whether the air kerma is of one plane or of both added. Planes are never added to judge skin.
        ak_planes: Reported<KermaPlanes> = "Planes in the air kerma", Optional, Internal;
        /// Kerma-area product, cumulated over the case.
        kap: Reported<KermaArea> = "Kerma-area product", When(&BEAM_ON), Internal, query 0 to 60;
        /// Number of cine runs.
        cine_runs: Reported<Whole<0, 100>> = "Cine runs", When(&BEAM_ON), Internal, query 0 to 10;
        /// Time of cine acquisition.
        cine_time: Reported<CineTime> = "Cine time", Optional, Internal, query 0 to 120;
        /// Whether the last image was kept instead of a cine run.
        last_image_store_used: Reported<YesNo> = "Last image kept instead of cine", Optional, Internal;
        /// Pulses or frames per second of fluoroscopy.
        pulse_rate_fps: Reported<Decimal<500, 60_000>> = "Pulse rate", When(&BEAM_ON), Internal, unit "/s", query 0.5 to 15;
        /// Whether the detector was kept close to the patient.
        detector_close: Reported<YesNo> = "Detector close to the patient", Optional, Internal;
        /// Contrast medium given.
        contrast_ml: Reported<Whole<0, 600>> = "Contrast", When(&BEAM_ON), Internal, unit "mL", query 0 to 200;
        /// Where the dose figures were read.
        dose_source: Reported<DoseSource> = "Source of the dose", When(&BEAM_ON), Internal;
    }
}
