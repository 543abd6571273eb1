//! The procedure: what was treated, through which route, with which tools and
//! by whom.

use super::code_list;

code_list! {
    /// The arrhythmia or step that the procedure was done for; the endpoint of the case follows
    /// from it.
    ProcedureType = "procedure_type" {
        /// Ablation for atrioventricular nodal re-entrant tachycardia.
        Avnrt = "avnrt", "AVNRT";
        /// Ablation of an accessory pathway, whether it conducts forwards, backwards or both ways.
        AvrtAp = "avrt_ap", "Accessory pathway";
        /// Ablation of the cavotricuspid isthmus for typical flutter, in either direction.
        CtiFlutter = "cti_afl", "Typical flutter";
        /// Ablation of a macro-re-entrant atrial circuit outside the cavotricuspid isthmus, right
        /// or left.
        AtypicalFlutter = "atyp_afl", "Atypical flutter";
        /// Ablation of a focal atrial tachycardia, right or left.
        FocalAt = "focal_at", "Focal atrial tachycardia";
        /// First left atrial ablation for atrial fibrillation whose episodes end within seven days.
        AfParoxysmalFirst = "af_parox_first", "Paroxysmal AF, first";
        /// First left atrial ablation for atrial fibrillation that lasts longer than seven days and
        /// no longer than one year.
        AfPersistentFirst = "af_pers_first", "Persistent AF, first";
        /// First left atrial ablation for atrial fibrillation without a break for more than one year.
        AfLongStandingFirst = "af_lspers_first", "Long-standing persistent AF, first";
        /// Any later left atrial ablation for atrial fibrillation, or for an atrial arrhythmia that
        /// came after one, if the veins were reassessed.
        AfRedo = "af_redo", "AF, repeat";
        /// Ablation of premature ventricular beats, whatever their origin.
        Pvc = "pvc", "Premature ventricular beats";
        /// Ablation of ventricular tachycardia in a heart without structural disease.
        VtIdiopathic = "vt_idio", "Idiopathic VT";
        /// Ablation of ventricular tachycardia in structural heart disease, from inside the heart
        /// only.
        VtEndocardial = "vt_endo", "Structural VT, endocardial";
        /// Ablation of ventricular tachycardia with percutaneous epicardial access, alone or with
        /// work from inside.
        VtEpicardial = "vt_epi", "VT, epicardial";
        /// Ablation of the atrioventricular node to produce complete block in a paced patient.
        AvNode = "avn", "AV node ablation";
        /// Another atrial ablation, such as isolation of the superior vena cava alone or
        /// modification of the sinus node.
        OtherAtrial = "other_atrial", "Other atrial ablation";
        /// Electrophysiological study in which no energy was delivered; kept so that the
        /// denominator is whole.
        DiagnosticOnly = "diag_only", "Diagnostic study only";
        /// An ablation that fits none of the other types.
        Other = "other", "Other";
    }
}

impl ProcedureType {
    /// The group under which the type is counted and compared.
    pub fn group(self) -> ProcedureGroup {
        match self {
            Self::Avnrt | Self::AvrtAp | Self::FocalAt => ProcedureGroup::Svt,
            Self::CtiFlutter | Self::AtypicalFlutter => ProcedureGroup::Flutter,
            Self::AfParoxysmalFirst | Self::AfPersistentFirst | Self::AfLongStandingFirst => {
                ProcedureGroup::AfFirst
            }
            Self::AfRedo => ProcedureGroup::AfRedo,
            Self::Pvc => ProcedureGroup::Pvc,
            Self::VtIdiopathic | Self::VtEndocardial | Self::VtEpicardial => ProcedureGroup::Vt,
            Self::AvNode | Self::OtherAtrial | Self::DiagnosticOnly | Self::Other => ProcedureGroup::Other,
        }
    }

    /// Whether the procedure was an ablation for atrial fibrillation, first or repeat.
    pub fn is_af(self) -> bool {
        matches!(self.group(), ProcedureGroup::AfFirst | ProcedureGroup::AfRedo)
    }
}

code_list! {
    /// Procedure types gathered for counting, for denominators and as strata of comparisons.
    ProcedureGroup = "procedure_group" {
        /// Nodal re-entrant tachycardia, accessory pathways and focal atrial tachycardia.
        Svt = "svt", "SVT";
        /// Typical and atypical atrial flutter.
        Flutter = "flutter", "Atrial flutter";
        /// First ablations for atrial fibrillation of every duration.
        AfFirst = "af_first", "AF, first";
        /// Repeat ablations for atrial fibrillation.
        AfRedo = "af_redo", "AF, repeat";
        /// Premature ventricular beats.
        Pvc = "pvc", "Premature ventricular beats";
        /// Ventricular tachycardia, idiopathic or structural, endocardial or epicardial.
        Vt = "vt", "Ventricular tachycardia";
        /// Atrioventricular node ablation, other atrial ablation, diagnostic studies and all else.
        Other = "other", "Other";
    }
}

code_list! {
    /// The site of the pathway or of the ventricular focus or circuit that was the main target.
    Substrate = "substrate" {
        /// Accessory pathway at the free lateral wall of the mitral ring.
        LeftLateral = "left_lat", "Left lateral pathway";
        /// Accessory pathway at the posterior mitral ring or the left posteroseptal space.
        LeftPosterior = "left_post", "Left posterior pathway";
        /// Accessory pathway at the free wall of the tricuspid ring.
        RightFree = "right_free", "Right free-wall pathway";
        /// Accessory pathway at the septum, away from the His bundle and reached from the right.
        Septal = "septal", "Septal pathway";
        /// Accessory pathway next to the His bundle, where ablation may block the node.
        Parahisian = "parahisian", "Para-Hisian pathway";
        /// Right ventricular outflow tract, including the pulmonary valve.
        Rvot = "rvot", "RV outflow tract";
        /// Left ventricular outflow tract, aortic cusps or aortomitral continuity.
        LvotCusp = "lvot_cusp", "LV outflow tract or cusp";
        /// Papillary muscle or moderator band of either ventricle.
        Papillary = "papillary", "Papillary muscle";
        /// Left or right fascicle of the conduction system.
        Fascicular = "fascicular", "Fascicular";
        /// Scar of the left ventricle, of ischaemic or other origin.
        LvScar = "lv_scar", "LV scar";
        /// Scar of the right ventricle.
        RvScar = "rv_scar", "RV scar";
        /// Left ventricular summit, reached from the coronary veins or from next to it.
        Summit = "summit", "LV summit";
        /// A target on the outer surface of the heart other than the summit.
        Epicardial = "epi", "Epicardial";
        /// Another site.
        Other = "other", "Other site";
    }
}

code_list! {
    /// How soon the procedure had to be done.
    Urgency = "urgency" {
        /// Planned, the patient coming in for it.
        Elective = "elective", "Elective";
        /// Needed before the patient could leave hospital.
        Urgent = "urgent", "Urgent";
        /// Needed within hours, such as for an electrical storm.
        Emergency = "emergency", "Emergency";
    }
}

code_list! {
    /// Energy delivered for ablation.
    Energy = "energy" {
        /// Radiofrequency current from a catheter tip or array, at any power.
        Rf = "rf", "Radiofrequency";
        /// Freezing with a catheter tip.
        CryoFocal = "cryo_focal", "Focal cryoablation";
        /// Freezing with a balloon.
        CryoBalloon = "cryo_balloon", "Cryoballoon";
        /// Pulsed electric fields.
        Pfa = "pfa", "Pulsed field";
        /// Another energy, such as laser, ultrasound or alcohol.
        Other = "other", "Other energy";
        /// No energy was delivered.
        None = "none", "None";
    }
}

code_list! {
    /// Vessels or spaces through which instruments were brought to the heart.
    AccessSite = "access_site" {
        /// Femoral vein, right, left or both.
        FemoralVein = "fem_vein", "Femoral vein";
        /// Femoral artery for work in the heart; a pressure line alone does not count.
        FemoralArtery = "fem_art", "Femoral artery";
        /// Internal jugular vein.
        Jugular = "jugular", "Jugular vein";
        /// Subclavian or axillary vein.
        Subclavian = "subclavian", "Subclavian vein";
        /// Hepatic vein, through the liver.
        Transhepatic = "transhepatic", "Transhepatic";
        /// Pericardial space, by puncture below the breastbone or through a surgical window.
        Epicardial = "epicardial", "Epicardial";
    }
}

code_list! {
    /// How the left atrium was reached through the septum.
    TransseptalRoute = "transseptal_route" {
        /// The septum was not crossed; a purely retrograde aortic approach counts as none.
        None = "none", "Not crossed";
        /// The septum was punctured for every crossing.
        Puncture = "puncture", "Puncture";
        /// Every crossing went through a patent foramen ovale or another natural opening.
        Pfo = "pfo", "Patent foramen ovale";
        /// At least one crossing by puncture and one through a natural opening.
        Mixed = "mixed", "Puncture and natural opening";
    }
}

code_list! {
    /// What guided the transseptal crossing.
    TransseptalGuidance = "transseptal_guidance" {
        /// Intracardiac echo.
        Ice = "ice", "Intracardiac echo";
        /// Transoesophageal echo.
        Tee = "tee", "Transoesophageal echo";
        /// X-ray, however briefly.
        Fluoro = "fluoro", "Fluoroscopy";
        /// Electroanatomic mapping with a needle, wire or sheath shown on the map.
        Mapping = "eam", "Mapping system";
        /// The pressure curve at the needle tip.
        Pressure = "pressure", "Pressure curve";
        /// A needle or wire that crosses by radiofrequency energy.
        RfNeedle = "rf_needle", "Radiofrequency needle";
    }
}

code_list! {
    /// Whether intracardiac echo was used and from where it looked.
    IceUse = "ice_use" {
        /// No intracardiac echo catheter was put in.
        No = "no", "Not used";
        /// The echo catheter stayed in the right atrium and the great veins.
        RaOnly = "ra_only", "From the right atrium only";
        /// The echo catheter was also brought beyond the right atrium, into the right ventricle,
        /// coronary sinus or left atrium, to see the left heart and the pericardium from there.
        RaAndLeft = "ra_and_left", "From the right atrium and beyond";
    }
}

code_list! {
    /// How the pericardium was looked at before the first catheter reached the heart, whether or
    /// not fluid was seen.
    EffusionLookBaseline = "effusion_look_baseline" {
        /// Nobody looked on the day of the procedure.
        None = "none", "Not looked at";
        /// Intracardiac echo at the start.
        Ice = "ice", "Intracardiac echo";
        /// Transthoracic echo on the day, before the start.
        Tte = "tte", "Transthoracic echo";
        /// Transoesophageal echo on the day, before the start.
        Tee = "tee", "Transoesophageal echo";
    }
}

code_list! {
    /// How the pericardium was watched during the procedure, whether or not fluid was seen.
    EffusionLookDuring = "effusion_look_during" {
        /// An intracardiac echo view of the pericardium was kept or repeated throughout.
        ContinuousIce = "continuous_ice", "Intracardiac echo, continuous";
        /// Intracardiac echo looked at the pericardium at some steps or when in doubt.
        IntermittentIce = "intermittent_ice", "Intracardiac echo, at intervals";
        /// Transoesophageal echo, at any rhythm.
        Tee = "tee", "Transoesophageal echo";
        /// Nobody looked with echo; the arterial pressure or the heart border alone counts as none.
        None = "none", "Not looked at";
    }
}

code_list! {
    /// How the pericardium was looked at after the last lesion and before the patient left the
    /// laboratory, whether or not fluid was seen.
    EffusionLookEnd = "effusion_look_end" {
        /// Intracardiac echo.
        Ice = "ice", "Intracardiac echo";
        /// Transthoracic echo.
        Tte = "tte", "Transthoracic echo";
        /// Transoesophageal echo.
        Tee = "tee", "Transoesophageal echo";
        /// The movement of the heart border on X-ray.
        FluoroBorder = "fluoro_border", "Heart border on X-ray";
        /// Nobody looked.
        None = "none", "Not looked at";
    }
}

code_list! {
    /// How the pericardium was looked at from leaving the laboratory to 24 hours later, whether or
    /// not fluid was seen.
    EffusionLook24h = "effusion_look_24h" {
        /// Transthoracic echo that every such patient has, without a symptom to prompt it.
        RoutineTte = "routine_tte", "Routine transthoracic echo";
        /// Transthoracic echo only because a symptom or sign called for it.
        SymptomTte = "symptom_tte", "Echo for symptoms only";
        /// No echo in the first 24 hours.
        None = "none", "Not looked at";
    }
}

code_list! {
    /// How the mapping system located its catheters.
    MappingSystem = "mapping_system" {
        /// No electroanatomic mapping system was used.
        None = "none", "None";
        /// By the impedance between patches on the skin.
        Impedance = "impedance", "Impedance";
        /// By a magnetic field and sensors in the catheters.
        Magnetic = "magnetic", "Magnetic";
        /// By both impedance and a magnetic field.
        Hybrid = "hybrid", "Impedance and magnetic";
        /// By another principle.
        Other = "other", "Other principle";
    }
}

code_list! {
    /// The deepest anaesthesia reached during the procedure.
    Anaesthesia = "anaesthesia" {
        /// Local anaesthetic at the access site only.
        Local = "local", "Local";
        /// Sedation in which the patient answered to voice.
        Conscious = "conscious", "Conscious sedation";
        /// Sedation in which the patient answered only to repeated or painful stimuli and breathed
        /// without a tube.
        Deep = "deep", "Deep sedation";
        /// General anaesthesia with a secured airway.
        General = "general", "General anaesthesia";
    }
}

code_list! {
    /// Years of independent ablation practice of the main operator, at the time of the case.
    OperatorExperience = "operator_experience" {
        /// Less than one year, or still in training.
        Under1 = "under_1", "Under 1 year";
        /// From one to four completed years.
        From1To4 = "1_4", "1–4 years";
        /// From five to nine completed years.
        From5To9 = "5_9", "5–9 years";
        /// Ten completed years or more.
        From10 = "10_plus", "10 years or more";
    }
}

code_list! {
    /// Cases without X-ray that the main operator had done before the first one in this registry.
    OperatorPriorZf = "operator_prior_zf" {
        /// No case without X-ray before joining.
        Zero = "0", "None";
        /// From 1 to 24 cases without X-ray before joining.
        From1To24 = "1_24", "1–24";
        /// From 25 to 99 cases without X-ray before joining.
        From25To99 = "25_99", "25–99";
        /// 100 cases without X-ray or more before joining.
        From100 = "100_plus", "100 or more";
    }
}

code_list! {
    /// The role of a second operator who handled catheters.
    SecondOperator = "second_operator" {
        /// One operator did the whole case.
        None = "none", "None";
        /// A doctor in training worked under the main operator.
        Fellow = "fellow", "Fellow in training";
        /// An experienced colleague taught or supported the main operator.
        Proctor = "proctor", "Proctor";
    }
}
