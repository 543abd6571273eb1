//! What a judge says of an event.

use super::code_list;

code_list! {
    /// How grave an event was, by whoever judged it without knowing how the case was guided.
    HarmRuling = "harm_ruling" {
        /// Death, permanent injury, or harm that needed an invasive treatment, a transfusion or more
        /// than two extra days in hospital.
        Major = "major", "Major harm";
        /// A complication that was none of these.
        Minor = "minor", "Minor harm";
        /// Something was seen and did no harm, or it was not a complication of the procedure.
        NoHarm = "no_harm", "No harm";
        /// What is recorded is not enough to tell; the centre should be asked.
        CannotTell = "cannot_tell", "Cannot be told";
    }
}
