//! Complications: what happened, how it came to light, what was done and how
//! much harm it did.

use super::code_list;

code_list! {
    /// What happened; the most specific code that fits, one entry for each event.
    ComplicationKind = "complication_kind" {
        /// Pericardial fluid, new or increased, that changed neither pressure nor heart rate and
        /// needed no drainage.
        Effusion = "effusion", "Pericardial effusion";
        /// Pericardial fluid that changed the circulation, or was drained or operated on.
        Tamponade = "tamponade", "Cardiac tamponade";
        /// Inflammation of the pericardium with pain, a rub or typical ECG changes.
        Pericarditis = "pericarditis", "Pericarditis";
        /// Collection of blood in the soft tissue of the access site, beyond the usual bruise.
        Haematoma = "haematoma", "Haematoma at the access site";
        /// Blood-filled cavity fed by an artery at the access site.
        Pseudoaneurysm = "pseudoaneurysm", "Pseudoaneurysm";
        /// Abnormal connection between an artery and a vein at the access site.
        AvFistula = "av_fistula", "Arteriovenous fistula";
        /// Bleeding behind the peritoneum.
        Retroperitoneal = "retroperitoneal", "Retroperitoneal bleeding";
        /// Tear in the wall of an artery outside the heart, aorta included; a coronary artery counts
        /// as coronary injury.
        Dissection = "dissection", "Arterial dissection";
        /// Thrombosis of a deep vein.
        Dvt = "dvt", "Deep vein thrombosis";
        /// Sudden deficit of the brain that lasts or has a matching infarct or bleed on imaging.
        Stroke = "stroke", "Stroke";
        /// Sudden deficit of the brain that resolves fully and leaves no infarct on imaging.
        Tia = "tia", "Transient ischaemic attack";
        /// New lesion of the brain on imaging without any symptom or sign.
        SilentCerebral = "silent_cerebral", "Silent cerebral lesion";
        /// Embolus to an artery of the body outside the brain; into a coronary artery counts as
        /// coronary injury.
        SystemicEmbolism = "systemic_embolism", "Systemic embolism";
        /// Embolus to the arteries of the lung.
        PulmonaryEmbolism = "pe", "Pulmonary embolism";
        /// Air in the circulation with a sign such as ST elevation, low pressure or a deficit.
        AirEmbolism = "air_embolism", "Air embolism";
        /// Unintended atrioventricular block that recovered without a permanent pacemaker.
        AvbTransient = "avb_transient", "Transient AV block";
        /// Unintended atrioventricular block that stayed or led to a permanent pacemaker.
        AvbPermanent = "avb_permanent", "Permanent AV block";
        /// Injury to the sinus node or its artery with slow rhythm or pauses.
        SinusNode = "sinus_node", "Sinus node injury";
        /// Palsy of a phrenic nerve that recovered before discharge.
        PhrenicTransient = "phrenic_transient", "Transient phrenic palsy";
        /// Palsy of a phrenic nerve still present at discharge.
        PhrenicPersistent = "phrenic_persistent", "Persistent phrenic palsy";
        /// Delayed emptying of the stomach from injury to the nerves beside the oesophagus.
        Gastroparesis = "gastroparesis", "Gastroparesis";
        /// Redness, ulcer or haematoma of the oesophagus without a connection to the heart.
        OesophagealInjury = "oesophageal_injury", "Oesophageal injury";
        /// Connection between the oesophagus and the atrium or the pericardium.
        AtrioOesophagealFistula = "ae_fistula", "Atrio-oesophageal fistula";
        /// Narrowing of a pulmonary vein that was not there before.
        PvStenosis = "pv_stenosis", "Pulmonary vein stenosis";
        /// Injury to a heart valve or its apparatus.
        ValveInjury = "valve_injury", "Valve injury";
        /// Spasm, occlusion, embolism, dissection or perforation of a coronary artery.
        CoronaryInjury = "coronary_injury", "Coronary injury";
        /// Displaced or damaged lead of a device that was in place before.
        LeadDislodged = "lead_dislodged", "Lead displaced or damaged";
        /// Catheter caught in a valve, a vessel or another device, so that force or surgery was
        /// needed.
        CatheterEntrapment = "catheter_entrapment", "Catheter entrapment";
        /// Cardiac arrest with resuscitation, other than arrhythmia induced on purpose and ended at
        /// once.
        Arrest = "arrest", "Cardiac arrest";
        /// Heart failure or fluid overload that needed treatment.
        HeartFailure = "hf_overload", "Heart failure or fluid overload";
        /// Myocardial infarction with a cause other than injury by the procedure to a coronary
        /// artery; the rise of troponin that every ablation brings does not count.
        MyocardialInfarction = "mi", "Myocardial infarction";
        /// Air, or blood and air, in the pleural space.
        Pneumothorax = "pneumothorax", "Pneumothorax";
        /// Breakdown of red cells, injury to the kidneys, or both.
        HaemolysisAki = "haemolysis_aki", "Haemolysis or kidney injury";
        /// Severe allergic reaction.
        Anaphylaxis = "anaphylaxis", "Anaphylaxis";
        /// Complication of sedation or anaesthesia, such as aspiration or airway injury.
        Anaesthetic = "anaesthetic", "Anaesthetic complication";
        /// Infection of the access site, the blood, the heart or another place, from the procedure.
        Infection = "infection", "Infection";
        /// Bleeding elsewhere than at the access site, behind the peritoneum or in the pericardium.
        BleedOther = "bleed_other", "Other bleeding";
        /// Change of the skin caused by X-rays, from redness to ulcer.
        SkinRadiation = "skin_radiation", "Radiation skin injury";
        /// Death that no other code explains; if its cause is on the list, that code is used with a
        /// fatal outcome.
        Death = "death", "Death without known cause";
        /// Another complication.
        Other = "other", "Other complication";
    }
}

impl ComplicationKind {
    /// The class under which the kind is counted.
    pub fn class(self) -> ComplicationClass {
        use ComplicationKind as K;
        match self {
            K::Effusion | K::Tamponade | K::Pericarditis => ComplicationClass::Pericardial,
            K::Haematoma | K::Pseudoaneurysm | K::AvFistula | K::Retroperitoneal | K::Dissection | K::Dvt => {
                ComplicationClass::Vascular
            }
            K::Stroke
            | K::Tia
            | K::SilentCerebral
            | K::SystemicEmbolism
            | K::PulmonaryEmbolism
            | K::AirEmbolism => ComplicationClass::Embolic,
            K::AvbTransient | K::AvbPermanent | K::SinusNode => ComplicationClass::Conduction,
            K::PhrenicTransient
            | K::PhrenicPersistent
            | K::Gastroparesis
            | K::OesophagealInjury
            | K::AtrioOesophagealFistula => ComplicationClass::NerveOrOesophagus,
            K::PvStenosis | K::ValveInjury | K::CoronaryInjury | K::LeadDislodged | K::CatheterEntrapment => {
                ComplicationClass::Structural
            }
            K::Arrest
            | K::HeartFailure
            | K::MyocardialInfarction
            | K::Pneumothorax
            | K::HaemolysisAki
            | K::Anaphylaxis
            | K::Anaesthetic
            | K::Infection
            | K::BleedOther
            | K::SkinRadiation
            | K::Death
            | K::Other => ComplicationClass::General,
        }
    }
}

code_list! {
    /// Kinds of complication gathered for counting.
    ComplicationClass = "complication_class" {
        /// Fluid in, or inflammation of, the pericardium.
        Pericardial = "pericardial", "Pericardial";
        /// Injury to vessels at or near the access site, and thrombosis of deep veins.
        Vascular = "vascular", "Vascular";
        /// Clot, air or other matter carried to the brain, the lungs or another organ.
        Embolic = "embolic", "Neurological or embolic";
        /// Unintended harm to the sinus node or the conduction system.
        Conduction = "conduction", "Conduction";
        /// Harm to the phrenic nerve, the nerves of the stomach or the oesophagus.
        NerveOrOesophagus = "nerve_or_oesophagus", "Nerve or oesophagus";
        /// Harm to valves, coronary arteries, pulmonary veins or device leads, and caught catheters.
        Structural = "structural", "Structural";
        /// Everything else, from arrest to infection, and death without a known cause.
        General = "general", "General";
    }
}

code_list! {
    /// The part of the procedure or the time after it in which the event began.
    EventPhase = "event_phase" {
        /// While vessels were punctured and sheaths put in.
        Access = "access", "Vascular access";
        /// While the needle or wire crossed the septum.
        TransseptalNeedle = "transseptal_needle", "Transseptal needle";
        /// While sheath or dilator was brought into, or exchanged in, the left atrium.
        SheathInLa = "sheath_in_la", "Sheath into left atrium";
        /// While catheters were placed, the arrhythmia was studied or a map was made.
        Mapping = "mapping", "Mapping";
        /// While lesions were made, without a steam pop at that moment.
        Ablation = "ablation", "Ablation";
        /// At a steam pop that was heard, felt or seen.
        SteamPop = "steam_pop", "Steam pop";
        /// While catheters and sheaths were drawn back and taken out.
        SheathWithdrawal = "sheath_withdrawal", "Sheath withdrawal";
        /// From the last sheath out to discharge from hospital.
        Recovery = "recovery", "Recovery in hospital";
        /// After discharge from hospital.
        PostDischarge = "post_discharge", "After discharge";
    }
}

code_list! {
    /// What showed the event; the first to show it and any that showed it afterwards are asked
    /// apart.
    DetectedBy = "detected_by" {
        /// Intracardiac echo.
        Ice = "ice", "Intracardiac echo";
        /// Transthoracic echo.
        Tte = "tte", "Transthoracic echo";
        /// Transoesophageal echo.
        Tee = "tee", "Transoesophageal echo";
        /// A change of arterial pressure, measured in the artery or by cuff.
        ArterialPressure = "art_pressure", "Arterial pressure";
        /// The outline or the movement of the heart border on X-ray.
        FluoroSilhouette = "fluoro_silhouette", "Heart border on X-ray";
        /// Computed tomography.
        Ct = "ct", "CT";
        /// Magnetic resonance imaging.
        Mri = "mri", "MRI";
        /// The surface ECG or the intracardiac signals.
        Ecg = "ecg", "ECG";
        /// A symptom, or a sign found on examination.
        ClinicalSign = "clinical_sign", "Symptom or sign";
        /// A test that every such patient has at follow-up, without a symptom to prompt it.
        RoutineFollowUp = "routine_fu_test", "Routine follow-up test";
        /// A blood test, the clotting time included.
        Lab = "lab", "Blood test";
        /// Examination after death.
        Autopsy = "autopsy", "Autopsy";
    }
}

code_list! {
    /// How the fluid compares with what was there before the procedure.
    EffusionBefore = "effusion_before" {
        /// Somebody looked before the procedure and there was no fluid.
        None = "none", "No fluid before";
        /// There was fluid before the procedure, and it is no more than it was.
        Same = "same", "Same as before";
        /// There was fluid before the procedure, and it has become more.
        Increased = "increased", "More than before";
    }
}

code_list! {
    /// What was done because of the event.
    Intervention = "intervention" {
        /// Nothing was done or changed.
        None = "none", "None";
        /// Watching, repeated imaging or a longer stay, with no treatment.
        Observe = "observe", "Observation";
        /// Anticoagulation was reversed, such as with protamine or clotting factors.
        Reversal = "reversal", "Anticoagulation reversed";
        /// Fluid or pressor medicines to hold up the circulation.
        FluidPressor = "fluid_pressor", "Fluid or pressors";
        /// Drainage of the pericardium through a needle or catheter.
        Pericardiocentesis = "pericardiocentesis", "Pericardiocentesis";
        /// Open, thoracoscopic or vascular surgery, other than repair of the access vessel.
        Surgery = "surgery", "Surgery";
        /// Transfusion of red cells or return of shed blood.
        Transfusion = "transfusion", "Transfusion";
        /// Repair of an access vessel by surgery or by catheter.
        VascularRepair = "vasc_repair", "Vascular repair";
        /// Injection of thrombin into a pseudoaneurysm.
        Thrombin = "thrombin", "Thrombin injection";
        /// Pacing through a new wire or device, temporary or permanent.
        Pacemaker = "pacemaker", "Pacemaker";
        /// Chest compressions, or a shock for an arrest.
        Cpr = "cpr", "Resuscitation";
        /// Another treatment, medicines for the event included.
        Other = "other", "Other treatment";
    }
}

code_list! {
    /// How much harm an event did, derived from what was done and what followed, so that looking
    /// harder does not make it worse.
    HarmTier = "harm_tier" {
        /// Death, lasting harm, a change of the circulation, or harm that needed an intervention or
        /// more than 48 hours of extra stay.
        Major = "major", "Major";
        /// Symptoms or a change of care, with no intervention and no lasting harm.
        Minor = "minor", "Minor";
        /// Seen only because somebody looked, without a symptom and with no action beyond watching.
        ImagingOnly = "imaging_only", "Imaging finding only";
    }
}

code_list! {
    /// Why the event counts as serious in the regulatory sense; several reasons may hold.
    Seriousness = "seriousness" {
        /// The event led to death.
        Death = "death", "Death";
        /// The patient was at risk of death at the time of the event.
        LifeThreat = "life_threat", "Life-threatening";
        /// The event led to admission or to a longer stay in hospital.
        Hospital = "hospital", "Hospital stay";
        /// The event left lasting or marked disability.
        Disability = "disability", "Disability";
        /// The event led to a congenital anomaly in a child born afterwards.
        Congenital = "congenital", "Congenital anomaly";
        /// An important medical event that could have led to one of the above without treatment.
        Important = "important", "Important medical event";
        /// None of these; the event is not serious.
        None = "none", "Not serious";
    }
}

code_list! {
    /// How likely it is that the cause in question brought the event about.
    Relatedness = "relatedness" {
        /// The cause is certain, from what was seen or from the course of the event.
        Definite = "definite", "Definite";
        /// The cause is much likelier than any other.
        Probable = "probable", "Probable";
        /// The cause is about as likely as another.
        Possible = "possible", "Possible";
        /// Another cause is likelier, and this one cannot be ruled out.
        Unlikely = "unlikely", "Unlikely";
        /// The event has another cause.
        Unrelated = "unrelated", "Unrelated";
    }
}

code_list! {
    /// How the event stood at the last report.
    EventOutcome = "event_outcome" {
        /// The patient is as before the event.
        Resolved = "resolved", "Resolved";
        /// The patient is getting better and is not yet as before.
        Resolving = "resolving", "Resolving";
        /// The event is over and has left lasting harm.
        Sequelae = "sequelae", "Resolved with lasting harm";
        /// The event goes on without getting better.
        Ongoing = "ongoing", "Ongoing";
        /// The patient died of the event.
        Fatal = "fatal", "Fatal";
    }
}

code_list! {
    /// Grade of a surgical complication after Clavien and Dindo, by the treatment it needed.
    SurgicalGrade = "surgical_grade" {
        /// Departure from the usual course that needed nothing beyond simple medicines or care at
        /// the bedside.
        I = "i", "Grade I";
        /// Needed medicines beyond those of grade I, or a transfusion.
        Ii = "ii", "Grade II";
        /// Needed surgery or another intervention without general anaesthesia.
        IiiA = "iiia", "Grade IIIa";
        /// Needed surgery or another intervention under general anaesthesia.
        IiiB = "iiib", "Grade IIIb";
        /// Threatened life and needed intensive care, with one organ failing.
        IvA = "iva", "Grade IVa";
        /// Threatened life and needed intensive care, with several organs failing.
        IvB = "ivb", "Grade IVb";
        /// Led to death.
        V = "v", "Grade V";
    }
}
