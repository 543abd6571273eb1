//! What was done, by whom, and how the heart was watched.

use super::conditions::*;
use crate::dictionary::{Need::*, section};
use crate::ids::{CaseCode, RoomCode};
use crate::period::Quarter;
use crate::reported::Reported;
use crate::value::{OperatorCode, Whole};
use crate::vocabulary::*;

section! {
    /// When the case took place, and under which consent.
    Identity {
        /// The quarter of the procedure. No date of a case is ever stored.
        period: Quarter = "Quarter of the procedure", Always, Internal;
        /// Which ablation this is for the patient: 1 for the first.
        procedure_seq_for_patient: Reported<Whole<1, 9>> = "Ablation number for this patient", Always, Internal, query 1 to 4;
        /// The registry's code of an earlier case of the same person, so that repeat ablations are not taken as independent.
        earlier_case_code: Reported<CaseCode> = "Earlier case of the same person", Optional, Restricted;
        /// The basis on which the case may be in the registry.
        consent_basis: Reported<ConsentBasis> = "Consent basis", Always, Internal;
    }
}

section! {
    /// The procedure and its room.
    Procedure {
        /// The arrhythmia that was the reason for the procedure. The endpoint of acute success depends on it.
        proc_primary: ProcedureType = "Procedure", Always, Internal;
        /// Further ablations in the same sitting.
        proc_additional: Reported<Codes<ProcedureType>> = "Further procedures", Optional, Internal;
        /// Where the pathway, ectopy or ventricular tachycardia arose.
        substrate_detail: Reported<Substrate> = "Site of origin", When(&HAS_SUBSTRATE), Internal;
        /// How soon the procedure had to take place.
        urgency: Reported<Urgency> = "Urgency", Always, Internal;
        /// Energy delivered; none where nothing was ablated.
        energy: Reported<Codes<Energy>> = "Energy", Always, Internal;
        /// Whether the catheter measured contact force.
        contact_force: Reported<YesNo> = "Contact force", When(&RADIOFREQUENCY), Internal;
        /// Every vessel or space entered.
        access: Reported<Codes<AccessSite>> = "Access", Always, Internal;
        /// Whether vessels were punctured under ultrasound.
        access_us_guided: Reported<YesNo> = "Ultrasound-guided access", Always, Internal;
        /// Number of transseptal punctures, 0 if none.
        transseptal_n: Reported<Whole<0, 6>> = "Transseptal punctures", Always, Internal, query 0 to 2;
        /// How the left atrium was reached across the septum.
        transseptal_route: Reported<TransseptalRoute> = "Way across the septum", Always, Internal;
        /// What guided the puncture.
        transseptal_guidance: Reported<Codes<TransseptalGuidance>> = "Guidance of the puncture", When(&TRANSSEPTAL), Internal;
        /// Intracardiac echo and how far it went.
        ice_used: Reported<IceUse> = "Intracardiac echo", Always, Internal;
        /// Transoesophageal echo during the procedure.
        tee_used: Reported<YesNo> = "Transoesophageal echo", Always, Internal;
        /// Whether anyone looked for pericardial fluid before the procedure, found or not.
        eff_surv_baseline: Reported<EffusionLookBaseline> = "Looked for fluid before", Always, Internal;
        /// How the pericardium was watched during the procedure, found or not.
        eff_surv_intra: Reported<EffusionLookDuring> = "Watched for fluid during", Always, Internal;
        /// How the pericardium was looked at before leaving the room, found or not.
        eff_surv_end: Reported<Codes<EffusionLookEnd>> = "Looked for fluid at the end", Always, Internal;
        /// Whether an echo was made within a day as routine, only for symptoms, or not. Routine looking finds what nobody would have missed.
        eff_surv_24h: Reported<EffusionLook24h> = "Looked for fluid within a day", Always, Internal;
        /// Whether the transverse sinus was watched on intracardiac echo as an early sign.
        transverse_sinus_watch: Reported<YesNo> = "Transverse sinus watched", Optional, Internal;
        /// Kind of three-dimensional mapping, without any product name.
        mapping: Reported<MappingSystem> = "Mapping", Always, Internal;
        /// Deepest level of sedation or anaesthesia.
        anaesthesia: Reported<Anaesthesia> = "Anaesthesia", Always, Internal;
        /// Minutes from first venous access to last sheath out.
        skin_to_skin_min: Reported<Whole<5, 900>> = "Skin-to-skin time", Always, Internal, unit "min";
        /// Minutes during which a sheath or catheter lay in the left atrium.
        la_dwell_min: Reported<Whole<0, 900>> = "Time in the left atrium", Optional, Internal, unit "min";
        /// Seconds of radiofrequency delivered.
        rf_time_s: Reported<Whole<0, 14_400>> = "Radiofrequency time", Optional, Internal, unit "s";
        /// Number of lesions, freezes or pulsed-field applications.
        applications_n: Reported<Whole<0, 400>> = "Applications", Optional, Internal;
        /// Highest activated clotting time.
        heparin_act_max: Reported<Whole<80, 700>> = "Highest clotting time", Optional, Internal, unit "s", query 250 to 450;
        /// The centre's code of the X-ray room. Its console's unit is then offered for the dose.
        room_code: Reported<RoomCode> = "Room", Optional, Internal;
        /// The operator's code inside this centre. It is personal data of staff and is never published.
        op_code: Reported<OperatorCode> = "Operator", Always, Restricted;
        /// The operator's years of independent practice.
        op_experience_band: Reported<OperatorExperience> = "Operator's experience", Always, Internal;
        /// The operator's zero-fluoroscopy cases before joining this registry; later ones are counted by the registry.
        op_zf_prior_band: Reported<OperatorPriorZf> = "Operator's earlier zero-fluoroscopy cases", Always, Internal;
        /// A second operator's part.
        second_operator_role: Reported<SecondOperator> = "Second operator", Optional, Internal;
    }
}
