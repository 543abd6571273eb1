//! The patient before the procedure: age, build, heart disease and medicines.

use super::code_list;

code_list! {
    /// Age in completed years on the day of the procedure, in bands.
    AgeBand = "age_band" {
        /// From birth up to, but not including, the second birthday.
        Y0To1 = "0_1", "0–1 years";
        /// Two to five completed years.
        Y2To5 = "2_5", "2–5 years";
        /// Six to eleven completed years.
        Y6To11 = "6_11", "6–11 years";
        /// Twelve to seventeen completed years; the last band counted as a child.
        Y12To17 = "12_17", "12–17 years";
        /// Eighteen to twenty-nine completed years; the first band counted as adult.
        Y18To29 = "18_29", "18–29 years";
        /// Thirty to thirty-nine completed years.
        Y30To39 = "30_39", "30–39 years";
        /// Forty to forty-nine completed years.
        Y40To49 = "40_49", "40–49 years";
        /// Fifty to fifty-nine completed years.
        Y50To59 = "50_59", "50–59 years";
        /// Sixty to sixty-nine completed years.
        Y60To69 = "60_69", "60–69 years";
        /// Seventy to seventy-nine completed years.
        Y70To79 = "70_79", "70–79 years";
        /// Eighty to eighty-nine completed years.
        Y80To89 = "80_89", "80–89 years";
        /// Ninety completed years or more, pooled because a higher age can single out a person.
        Y90Plus = "90_plus", "90 years or more";
    }
}

impl AgeBand {
    /// The youngest age of the band, in completed years.
    pub fn lower_years(self) -> u8 {
        match self {
            Self::Y0To1 => 0,
            Self::Y2To5 => 2,
            Self::Y6To11 => 6,
            Self::Y12To17 => 12,
            Self::Y18To29 => 18,
            Self::Y30To39 => 30,
            Self::Y40To49 => 40,
            Self::Y50To59 => 50,
            Self::Y60To69 => 60,
            Self::Y70To79 => 70,
            Self::Y80To89 => 80,
            Self::Y90Plus => 90,
        }
    }

    /// Whether everyone in the band is 18 years old or more.
    pub fn is_adult(self) -> bool {
        self.lower_years() >= 18
    }
}

code_list! {
    /// Sex as recorded at the centre for medical purposes.
    Sex = "sex" {
        /// Recorded as female.
        Female = "f", "Female";
        /// Recorded as male.
        Male = "m", "Male";
        /// Recorded as neither female nor male, or as indeterminate.
        Other = "x", "Other";
    }
}

code_list! {
    /// Body weight of a child in kilograms, in the bands used to compare doses in children.
    WeightBand = "weight_band" {
        /// Less than 5 kg.
        Under5 = "under_5", "Under 5 kg";
        /// From 5 kg to less than 10 kg.
        Kg5To9 = "5_9", "5–9 kg";
        /// From 10 kg to less than 15 kg.
        Kg10To14 = "10_14", "10–14 kg";
        /// From 15 kg to less than 30 kg.
        Kg15To29 = "15_29", "15–29 kg";
        /// From 30 kg to less than 50 kg.
        Kg30To49 = "30_49", "30–49 kg";
        /// From 50 kg to less than 80 kg.
        Kg50To79 = "50_79", "50–79 kg";
        /// 80 kg or more.
        Kg80Plus = "80_plus", "80 kg or more";
    }
}

code_list! {
    /// The leading structural heart disease of the acquired or inherited kind; congenital
    /// malformations have their own list.
    StructuralDisease = "structural_disease" {
        /// No structural heart disease known after the usual work-up.
        None = "none", "None";
        /// Coronary disease with a past infarct, a scar or reduced pump function.
        Ischaemic = "ischaemic", "Ischaemic";
        /// Cardiomyopathy not explained by coronary, valvular or hypertrophic disease, including
        /// dilated, arrhythmogenic and inflammatory forms.
        NonIschaemic = "nicm", "Non-ischaemic cardiomyopathy";
        /// Hypertrophic cardiomyopathy, with or without obstruction.
        Hypertrophic = "hcm", "Hypertrophic cardiomyopathy";
        /// Valve disease of at least moderate degree, or a valve replaced or repaired, when it is
        /// the leading disease.
        Valve = "valve", "Valve disease";
        /// Another acquired or inherited disease of the heart's structure.
        Other = "other", "Other structural disease";
    }
}

code_list! {
    /// Congenital heart disease by the complexity of its anatomy, repaired or not.
    CongenitalDisease = "congenital_disease" {
        /// No congenital heart disease; a patent foramen ovale alone counts as none.
        None = "none", "None";
        /// A simple lesion, such as a small septal defect or one closed without residue.
        Simple = "simple", "Simple";
        /// A lesion of moderate complexity, such as repaired tetralogy or an atrioventricular
        /// septal defect.
        Moderate = "moderate", "Moderate";
        /// A lesion of great complexity, such as a single ventricle, a Fontan circulation or
        /// transposed great arteries.
        Complex = "complex", "Complex";
    }
}

code_list! {
    /// Cardiac devices in the body at the start of the procedure.
    DeviceInSitu = "device_in_situ" {
        /// No cardiac device and no abandoned lead.
        None = "none", "None";
        /// A pacemaker with one or more transvenous or epicardial leads.
        Pacemaker = "pm", "Pacemaker";
        /// An implantable defibrillator, transvenous or under the skin.
        Icd = "icd", "Defibrillator";
        /// A resynchronisation device with a left ventricular lead, with or without defibrillator.
        Crt = "crt", "Resynchronisation device";
        /// A leadless pacemaker inside the heart.
        Leadless = "leadless", "Leadless pacemaker";
        /// An implanted loop recorder.
        LoopRecorder = "ilr", "Loop recorder";
    }
}

code_list! {
    /// Oral or parenteral anticoagulation in the days before the procedure; heparin given during
    /// the procedure does not count.
    Anticoagulation = "anticoagulation" {
        /// No anticoagulant; antiplatelet medicines alone count as none.
        None = "none", "None";
        /// A vitamin K antagonist, continued or paused.
        Vka = "vka", "Vitamin K antagonist";
        /// A direct oral anticoagulant with no dose left out before the procedure.
        DoacUninterrupted = "doac_uninterrupted", "Direct anticoagulant, uninterrupted";
        /// A direct oral anticoagulant with at least one dose left out before the procedure.
        DoacHeld = "doac_held", "Direct anticoagulant, dose held";
        /// Heparin of any kind as the only anticoagulant or as a bridge.
        Heparin = "heparin", "Heparin";
    }
}

code_list! {
    /// Estimated glomerular filtration rate in mL/min per 1.73 m², latest value before the
    /// procedure.
    EgfrBand = "egfr_band" {
        /// 60 mL/min per 1.73 m² or more.
        E60Plus = "60_plus", "60 or more";
        /// From 30 to less than 60 mL/min per 1.73 m².
        E30To59 = "30_59", "30–59";
        /// Less than 30 mL/min per 1.73 m², or dialysis.
        Under30 = "under_30", "Under 30";
    }
}

code_list! {
    /// Cross-sectional imaging of the heart made to plan this procedure.
    PreproceduralImaging = "preprocedural_imaging" {
        /// No CT and no MRI was made for this procedure; echo alone counts as none.
        None = "none", "None";
        /// Computed tomography, which is itself an X-ray exposure outside the laboratory; also
        /// when MRI was made as well.
        Ct = "ct", "CT";
        /// Magnetic resonance imaging and no computed tomography.
        Mri = "mri", "MRI";
    }
}
