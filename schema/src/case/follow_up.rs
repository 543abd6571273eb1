//! What became of the patient: at 30 days and later, in days from the procedure.

use crate::dictionary::{Condition, Need::*, section};
use crate::reported::Reported;
use crate::value::Whole;
use crate::vocabulary::*;

const SEEN_30: Condition = Condition::Is("fu30_status", &["contacted", "chart_only"]);
const KNOWN_30: Condition = Condition::IsNot("fu30_status", &["pending"]);
const DIED: Condition = Condition::Is("death", &["yes"]);
const FOLLOWED_LATE: Condition = Condition::Is("fu_late_status", &["contacted", "chart_only"]);
const RECURRED: Condition = Condition::AtLeast("recurrence_first_day", 0);

section! {
    /// Follow-up of a case.
    FollowUp {
        /// How the 30-day status was learnt. No events can be stated only where someone was contacted or the chart was read.
        fu30_status: FollowUpStatus = "30-day status", Always, Internal;
        /// Day of the 30-day contact, counted from the procedure.
        fu30_day: Reported<Whole<20, 60>> = "30-day contact on day", When(&SEEN_30), Internal, unit "d", query 25 to 45;
        /// Yes when the contact or the chart showed no new event.
        fu30_no_events: Reported<YesNo> = "No new event by 30 days", When(&SEEN_30), Internal;
        /// Death at any time since the procedure.
        death: Reported<YesNo> = "Death", When(&KNOWN_30), Restricted;
        /// Day of death, counted from the procedure.
        death_day: Reported<Whole<0, 1_500>> = "Day of death", When(&DIED), Restricted, unit "d";
        /// Cause of death.
        death_cause: Reported<DeathCause> = "Cause of death", When(&DIED), Restricted;
        /// How the late status was learnt.
        fu_late_status: Reported<FollowUpStatus> = "Late status", Optional, Internal;
        /// Last day on which the patient's rhythm was known, for censoring.
        fu_last_day: Reported<Whole<60, 1_500>> = "Last day known", When(&FOLLOWED_LATE), Internal, unit "d";
        /// How rhythm was watched. More watching finds more recurrence.
        fu_monitoring: Reported<RhythmMonitoring> = "Rhythm watched by", When(&FOLLOWED_LATE), Internal;
        /// Day of the first documented recurrence of 30 seconds or more. Any day; blanking is applied in the analysis. Blank if none.
        recurrence_first_day: Reported<Whole<0, 1_500>> = "First recurrence on day", Optional, Internal, unit "d";
        /// What recurred.
        recurrence_type: Reported<RecurrenceType> = "What recurred", When(&RECURRED), Internal;
        /// Day of a repeat ablation.
        redo_day: Reported<Whole<0, 1_500>> = "Repeat ablation on day", Optional, Internal, unit "d";
        /// Antiarrhythmic drug after the blanking period.
        aad_after_blanking: Reported<YesNo> = "Antiarrhythmic drug later", Optional, Internal;
        /// Day of an electrical cardioversion.
        cardioversion_day: Reported<Whole<0, 1_500>> = "Cardioversion on day", Optional, Internal, unit "d";
        /// Look at the skin two to four weeks after a substantial dose.
        skin_check: Reported<SkinCheck> = "Skin looked at", Optional, Internal;
    }
}
