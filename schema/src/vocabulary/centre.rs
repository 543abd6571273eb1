//! The centre that sends the cases.

use super::code_list;

code_list! {
    /// The kind of centre.
    CentreType = "centre_type" {
        /// A university hospital, or one that trains electrophysiologists.
        Academic = "academic", "Academic";
        /// A hospital or clinic without a training programme in electrophysiology.
        Community = "community", "Community";
        /// A centre, or a department counted on its own, that treats children above all.
        Paediatric = "paediatric", "Paediatric";
    }
}

code_list! {
    /// Catheter ablations of every kind at the centre in a usual year.
    AnnualVolume = "annual_volume" {
        /// Fewer than 200 ablations a year.
        Under200 = "under_200", "Under 200";
        /// From 200 to 499 ablations a year.
        From200To499 = "200_499", "200–499";
        /// From 500 to 999 ablations a year.
        From500To999 = "500_999", "500–999";
        /// 1,000 ablations a year or more.
        From1000 = "1000_plus", "1,000 or more";
    }
}

code_list! {
    /// Why a procedure that was performed was not sent to the registry.
    ExclusionReason = "exclusion_reason" {
        /// The patient's age lay outside what the protocol takes in.
        Age = "age", "Age";
        /// The procedure was diagnostic, without ablation.
        DiagnosticOnly = "diagnostic_only", "Diagnostic only";
        /// Consent was needed and was refused, withdrawn or never asked.
        ConsentNo = "consent_no", "No consent";
        /// The procedure was an emergency, in which the strategy could not be declared beforehand.
        Emergency = "emergency", "Emergency";
        /// Nobody had the time to enter the case.
        Staff = "staff", "No staff to enter it";
        /// Another reason.
        Other = "other", "Other reason";
    }
}

code_list! {
    /// What a centre needs before it may send cases.
    ApprovalKind = "approval_kind" {
        /// The decision of the ethics board, or its determination that none is needed, under which
        /// the centre takes part.
        EthicsApproval = "ethics_approval", "Ethics approval";
        /// The agreement between the centre and the network on what the data may be used for.
        DataAgreement = "data_agreement", "Data agreement";
    }
}
