//! The patient at the time of the procedure. Nothing here can name a person.

use super::conditions::*;
use crate::dictionary::{Need::*, section};
use crate::reported::Reported;
use crate::value::{Decimal, Whole};
use crate::vocabulary::*;

section! {
    /// The patient at the time of the procedure.
    Patient {
        /// Age in whole years at the procedure, as a band. Everyone of 90 or more is in one band, because great age identifies.
        age_band: AgeBand = "Age band", Always, Internal;
        /// Sex as recorded by the centre. Women have more cardiac perforations, so it is a covariate.
        sex: Reported<Sex> = "Sex", Always, Internal;
        /// Body mass index. It drives scattered dose and the risk of perforation.
        bmi: Reported<Decimal<10_000, 80_000>> = "Body mass index", When(&ADULT), Internal, unit "kg/m2", query 15 to 55;
        /// Weight as a band, for patients younger than 18, whose dose is reported by weight.
        weight_band_paed: Reported<WeightBand> = "Weight band", When(&CHILD), Internal;
        /// Left ventricular ejection fraction before the procedure, in per cent.
        lvef: Reported<Whole<5, 85>> = "Ejection fraction", When(&ADULT), Internal, unit "%", query 15 to 75;
        /// CHA2DS2-VA stroke score, 0 to 8, for atrial fibrillation and flutter.
        chads_va: Reported<Whole<0, 8>> = "CHA2DS2-VA score", When(&AF_OR_FLUTTER), Internal;
        /// The older CHA2DS2-VASc score, 0 to 9, if the centre keeps it.
        chads_vasc: Reported<Whole<0, 9>> = "CHA2DS2-VASc score", Optional, Internal;
        /// Left atrial diameter, parasternal long axis.
        la_diameter: Reported<Whole<15, 90>> = "Left atrial diameter", Optional, Internal, unit "mm", query 25 to 70;
        /// Structural heart disease, the leading one.
        structural_hd: Reported<StructuralDisease> = "Structural heart disease", Always, Internal;
        /// Congenital heart disease. It is a usual exception to working without fluoroscopy.
        chd: Reported<CongenitalDisease> = "Congenital heart disease", Always, Restricted;
        /// Earlier catheter ablations of any kind: 0, 1, 2, or 3 for three or more.
        prior_ablation_n: Reported<Whole<0, 3>> = "Earlier ablations", Always, Internal;
        /// Earlier open heart surgery, which changes what fluid in the pericardium can do.
        prior_cardiac_surgery: Reported<YesNo> = "Earlier cardiac surgery", Always, Internal;
        /// Implanted devices and their leads. A lead check may need X-ray.
        device_in_situ: Reported<Codes<DeviceInSitu>> = "Implanted device", Always, Internal;
        /// Pregnancy at the procedure. Never leaves the network in any row or small cell.
        pregnant: Reported<YesNo> = "Pregnant", Always, Restricted;
        /// Anticoagulation around the procedure.
        anticoag: Reported<Anticoagulation> = "Anticoagulation", When(&LEFT_SIDED), Internal;
        /// Estimated glomerular filtration rate, as a band in mL/min/1.73 m².
        egfr_band: Reported<EgfrBand> = "Kidney function", Optional, Internal;
        /// Imaging for the procedure beforehand. A CT is radiation too: no fluoroscopy is not no radiation.
        preproc_ct: Reported<PreproceduralImaging> = "Imaging beforehand", When(&AF_OR_VT), Internal;
        /// Anaesthesiologists' physical status class, 1 to 5.
        asa_class: Reported<Whole<1, 5>> = "Physical status class", Optional, Internal;
    }
}
