//! Lists that several topics share, and the basis on which a case is held.

use super::code_list;

code_list! {
    /// A question with two answers; not knowing is a missing code, not an answer.
    YesNo = "yes_no" {
        /// The thing asked about was so, was present or was done.
        Yes = "yes", "Yes";
        /// The thing asked about was looked into and was not so, not present or not done.
        No = "no", "No";
    }
}

code_list! {
    /// The legal or ethical basis on which the centre may send the case.
    ConsentBasis = "consent_basis" {
        /// The patient, or whoever may decide for the patient, agreed in writing to registry use.
        Consent = "consent", "Consent given";
        /// An ethics board allowed the use without individual consent.
        Waiver = "waiver", "Consent waived by ethics board";
        /// The centre holds the case as quality improvement under its own written determination.
        QualityImprovement = "qi", "Quality improvement";
        /// The responsible board or law states that no consent is needed for de-identified cases
        /// such as this one.
        NotRequired = "not_required", "Consent not required";
    }
}
