//! What became of the patient after the procedure.

use super::code_list;

code_list! {
    /// How far the follow-up at this time point got.
    FollowUpStatus = "follow_up_status" {
        /// The patient, or a close carer, was asked in person, by telephone or in writing and
        /// answered.
        Contacted = "contacted", "Contacted";
        /// Nobody was asked; the records were read and cover the whole time.
        ChartOnly = "chart_only", "Records only";
        /// Neither contact nor records were to be had in the time allowed.
        Lost = "lost", "Lost to follow-up";
        /// The patient died before this time point.
        Dead = "dead", "Dead";
        /// The patient, or whoever decides for the patient, withdrew from the registry.
        Withdrawn = "withdrawn", "Withdrawn";
        /// The time point has not come yet, or the contact is still being sought.
        Pending = "pending", "Pending";
    }
}

code_list! {
    /// The cause of death as judged by the centre.
    DeathCause = "death_cause" {
        /// Death from the procedure or one of its complications, of the heart or not.
        CardiacProcedure = "cardiac_proc", "Procedure-related";
        /// Cardiac death without a link to the procedure.
        CardiacOther = "cardiac_other", "Cardiac, not from the procedure";
        /// Death from a cause outside the heart and without a link to the procedure.
        NonCardiac = "noncardiac", "Non-cardiac";
    }
}

code_list! {
    /// The most thorough rhythm monitoring during follow-up; more of it finds more recurrences.
    RhythmMonitoring = "rhythm_monitoring" {
        /// No recording was made unless symptoms called for one.
        None = "none", "None";
        /// Resting electrocardiograms at visits.
        Ecg = "ecg", "ECG at visits";
        /// Ambulatory recording over about one day.
        Holter24 = "holter_24", "24-hour Holter";
        /// Ambulatory recording over about one week.
        Holter7d = "holter_7d", "7-day Holter";
        /// An adhesive patch recorder worn for longer than one week.
        Patch = "patch", "Patch recorder";
        /// Continuous recording by an implanted loop recorder, pacemaker or defibrillator.
        Implanted = "ilr_device", "Implanted device";
        /// Recordings started by the patient, or made at intervals by a wearable.
        Wearable = "wearable", "Wearable";
    }
}

code_list! {
    /// The arrhythmia that came back first, documented for 30 seconds or more where it is a
    /// tachycardia.
    RecurrenceType = "recurrence_type" {
        /// Atrial fibrillation.
        Af = "af", "Atrial fibrillation";
        /// Atrial flutter or atrial tachycardia, whichever its circuit.
        FlutterOrAt = "afl_at", "Flutter or atrial tachycardia";
        /// Atrioventricular nodal re-entrant tachycardia.
        Avnrt = "avnrt", "AVNRT";
        /// Tachycardia over an accessory pathway, or return of conduction over the pathway.
        Avrt = "avrt", "AVRT or pathway conduction";
        /// Premature ventricular beats of the kind that was ablated.
        Pvc = "pvc", "Premature ventricular beats";
        /// Ventricular tachycardia, of the kind that was ablated or another.
        Vt = "vt", "Ventricular tachycardia";
    }
}

code_list! {
    /// Examination of the skin two to four weeks after a high X-ray dose; a check that was due and
    /// left out is the missing code for not done.
    SkinCheck = "skin_check" {
        /// Judged unnecessary by the responsible physician or physicist once the dose was reviewed.
        NotNeeded = "not_needed", "Not needed";
        /// The skin was examined and showed nothing that X-rays could have caused.
        DoneClear = "done_clear", "Done, clear";
        /// The skin was examined and showed a change that X-rays could have caused.
        DoneLesion = "done_lesion", "Done, skin change found";
    }
}
