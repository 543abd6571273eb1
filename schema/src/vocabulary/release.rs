//! What the composer of a safety summary chooses from.

use super::code_list;

code_list! {
    /// Tables that a safety summary can have beside the one of procedures and strategies. All
    /// counts of a summary pass one check together, whatever is chosen.
    SummaryTable = "summary_table" {
        /// Complications by class and by how much harm they did, of the whole network.
        ComplicationClass = "complication_class", "Kinds of complication";
        /// What showed complications first, of the whole network.
        DetectionRoute = "detection_route", "What showed complications first";
        /// Cases and outcomes year by year, all strategies together.
        Year = "year", "Year by year";
        /// Cases and outcomes region by region, all strategies together. A centre counts for the
        /// region that it had when the data cut was taken.
        Region = "region", "Region by region";
        /// Median and quartiles of the dose among the cases with X-ray, by strategy.
        Dose = "dose", "Dose among cases with X-ray";
        /// Cases without X-ray and lead worn by staff, by strategy.
        Staff = "staff", "Protection of staff";
        /// Median and quartiles of badge readings among the cases with X-ray, by role and by where the
        /// badge was worn, all strategies together.
        StaffDose = "staff_dose", "Badge readings of staff";
        /// How many outcomes are known, and how many intentions were written down beforehand.
        Completeness = "completeness", "What is known and what is not";
        /// Eligible procedures by the signed screening logs and how many of them were sent in, by
        /// procedure. The strategy of a procedure that was not sent in is written nowhere.
        Capture = "capture", "Eligible procedures and cases sent in";
    }
}

code_list! {
    /// What the check demands of everything published.
    DisclosureProfile = "disclosure_profile" {
        /// Counts from 1 to 10 are hidden everywhere, and whatever would give one away.
        Strict = "strict", "Strict";
        /// Strict, but small counts of the whole network are shown where it has at least 1,000
        /// cases of at least five centres; needs a reason, which whoever approves it signs.
        TwoTier = "two_tier", "Two tiers";
    }
}
