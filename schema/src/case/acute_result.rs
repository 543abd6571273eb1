//! What was shown at the end of the procedure. Acute success is derived from
//! it by the rule of the procedure type; a reasoned override keeps both.

use super::conditions::*;
use crate::dictionary::{Need::*, section};
use crate::reported::Reported;
use crate::value::{ScreenedText, Whole};
use crate::vocabulary::*;

section! {
    /// What was shown at the end of the procedure.
    AcuteResult {
        /// Whether ablation was attempted at all.
        ablation_attempted: YesNo = "Ablation attempted", Always, Internal;
        /// Everything that was demonstrated at the end. Acute success follows from it; it is not typed.
        endpoint_shown: Reported<Codes<EndpointShown>> = "Shown at the end", When(&ATTEMPTED), Internal;
        /// Minutes waited before the last test.
        wait_time_min: Reported<Whole<0, 120>> = "Waiting time", Optional, Internal, unit "min";
        /// Drug used for the last test.
        drug_test: Reported<DrugTest> = "Drug test", Optional, Internal;
        /// Pulmonary veins (counting a common trunk as one) that were to be isolated.
        veins_targeted: Reported<Whole<0, 8>> = "Veins targeted", When(&AF_ABLATION), Internal;
        /// Of these, veins isolated at the end.
        veins_isolated: Reported<Whole<0, 8>> = "Veins isolated", When(&AF_ABLATION), Internal;
        /// Why the procedure ended without ablation, or was broken off.
        abort_reason: Reported<AbortReason> = "Why it was broken off", When(&NOT_ATTEMPTED), Internal;
        /// The centre's own judgement where the derived acute success does not fit. Both are kept.
        acute_success_override: Reported<AcuteSuccess> = "Acute success, overridden", Optional, Internal;
        /// Why the derived acute success does not fit, without anything that could name a person.
        acute_success_override_reason: Reported<ScreenedText<300>> = "Reason for the override", When(&SUCCESS_OVERRIDDEN), Restricted;
        /// Yes when the case had no complication at all. No when complications are listed.
        no_complication_confirmed: YesNo = "No complication confirmed", Always, Internal;
        /// A short remark for the registry's own use. It never leaves the registry; names, dates and numbers are refused.
        comment: Reported<ScreenedText<300>> = "Comment", Optional, Restricted;
    }
}
