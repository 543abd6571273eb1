//! What was shown at the end of the procedure.

use super::code_list;

code_list! {
    /// What was demonstrated at the end of the procedure, as an observed fact; whether it amounts
    /// to success depends on the procedure and is derived.
    EndpointShown = "endpoint_shown" {
        /// Conduction block across the line in both directions, such as the cavotricuspid isthmus.
        BidirBlock = "bidir_block", "Block in both directions";
        /// Conduction block across the line in one direction, the other open or not tested.
        OnewayBlock = "oneway_block", "Block in one direction";
        /// The arrhythmia could not be induced again by the stimulation that was used.
        NonInducible = "non_inducible", "Not inducible";
        /// No tachycardia could be induced, with single atrioventricular nodal echo beats left.
        NonInducibleOneEcho = "non_inducible_one_echo", "Not inducible, single echo left";
        /// No conduction over the accessory pathway, forwards or backwards.
        ApBlockBoth = "ap_block_both", "Pathway blocked both ways";
        /// No conduction over the accessory pathway in one direction, the other open or not tested.
        ApBlockOneWay = "ap_block_one_way", "Pathway blocked one way";
        /// Entrance block into every pulmonary vein that was targeted; exit block absent or not
        /// tested.
        PviEntrance = "pvi_entrance", "Veins isolated, entrance block";
        /// Entrance and exit block of every pulmonary vein that was targeted.
        PviEntranceExit = "pvi_entrance_exit", "Veins isolated, entrance and exit block";
        /// The arrhythmia ended during ablation and could not be induced again.
        TerminationNonInducible = "termination_non_inducible", "Terminated and not inducible";
        /// The arrhythmia ended during ablation, and it was inducible afterwards or induction was
        /// not tried.
        TerminationOnly = "termination_only", "Terminated only";
        /// The clinical premature beats were gone at the end of the waiting time.
        PvcAbolished = "pvc_abolished", "Ectopy abolished";
        /// The clinical premature beats had become clearly fewer without being gone.
        PvcReduced = "pvc_reduced", "Ectopy reduced";
        /// The clinical ventricular tachycardia could not be induced; another one could, or was
        /// not sought.
        VtClinicalNonInducible = "vt_clinical_non_inducible", "Clinical VT not inducible";
        /// No sustained ventricular tachycardia of any kind could be induced.
        VtAllNonInducible = "vt_all_non_inducible", "No VT inducible";
        /// Complete atrioventricular block, with an escape rhythm or pacing.
        AvbComplete = "avb_complete", "Complete AV block";
        /// Another endpoint, named in the plan of the procedure beforehand, was reached.
        OtherPlannedEndpoint = "other_planned_endpoint", "Other planned endpoint";
        /// No endpoint could be shown, or none was tested.
        None = "none", "None";
    }
}

code_list! {
    /// Medicines given to test the result before the procedure was ended.
    DrugTest = "drug_test" {
        /// The result was not tested with a medicine.
        None = "none", "None";
        /// Isoprenaline, or another beta-agonist, was given.
        Isoprenaline = "isoprenaline", "Isoprenaline";
        /// Adenosine, or another medicine that blocks the atrioventricular node for seconds, was
        /// given.
        Adenosine = "adenosine", "Adenosine";
        /// Isoprenaline and adenosine were both given, together or in turn.
        Both = "both", "Both";
    }
}

code_list! {
    /// Why the procedure ended without ablation or without success.
    AbortReason = "abort_reason" {
        /// A complication ended the procedure.
        Complication = "complication", "Complication";
        /// The arrhythmia could not be induced or did not occur often enough to be mapped.
        NoInduction = "no_induction", "Not inducible at the start";
        /// The target could not be reached, or lay too close to a structure that had to be spared.
        Anatomy = "anatomy", "Anatomy";
        /// Equipment failed or was missing.
        Equipment = "equipment", "Equipment";
        /// Another reason.
        Other = "other", "Other reason";
    }
}

code_list! {
    /// Whether the endpoint that belongs to the procedure was reached before the patient left the
    /// laboratory.
    AcuteSuccess = "acute_success" {
        /// The endpoint that belongs to the procedure was shown in full.
        Yes = "yes", "Success";
        /// Part of the endpoint was shown; it counts as failure in the main comparison.
        Partial = "partial", "Partial success";
        /// Ablation was tried and the endpoint was not reached.
        No = "no", "No success";
        /// No ablation was tried, so that the case counts neither as success nor as failure.
        NotAttempted = "not_attempted", "Not attempted";
    }
}
