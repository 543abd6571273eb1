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
    /// Which counts are told first where a summary with a comparison cannot tell all of them: what one
    /// tells, the other may have to hide.
    ToldFirst = "told_first" {
        /// The comparison tells what costs no other table a number; often that is less than its differences
        /// need.
        Tables = "tables", "The other tables";
        /// What stands behind a difference is told if that can be; the other tables hide what they must for
        /// it, perhaps even how many cases there are.
        Comparison = "comparison", "The comparison";
    }
}

code_list! {
    /// What the check demands of everything published.
    DisclosureProfile = "disclosure_profile" {
        /// Counts from 1 to 10 are hidden everywhere, and whatever would give one away. Other numbers
        /// can be chosen; a lower one needs a reason.
        Strict = "strict", "Strict";
        /// Strict, but small counts of the whole network are shown where it has at least 1,000
        /// cases of at least five centres; needs a reason, which whoever approves it signs.
        TwoTier = "two_tier", "Two tiers";
    }
}

code_list! {
    /// The numbers of a profile. Of each a lower one shows more.
    ProfileNumber = "profile_number" {
        /// The smallest count above zero that may be shown; a count that leaves fewer of its group is
        /// not shown either.
        Threshold = "threshold", "Smallest count shown";
        /// The fewest centres that may stand behind a count above zero.
        LeastCentres = "least_centres", "Fewest centres behind a count";
        /// The narrowest range, highest minus lowest possible value, in which a hidden count may be
        /// held; it is no wider than the threshold.
        LeastWidth = "least_width", "Narrowest range of a hidden count";
        /// How near, in per cent of it, the second largest centre may come to the largest one's count
        /// by taking itself from the total. At 0 this is not asked.
        Dominance = "dominance", "Nearest to the largest centre's count, per cent";
        /// The most centres that are taken to put together what they know. At 0 only outsiders are.
        Coalition = "coalition", "Centres that put together what they know";
        /// The fewest cases of a network of which two tiers show small counts.
        NetworkCases = "network_cases", "Second tier: fewest cases";
        /// The fewest centres with cases of a network of which two tiers show small counts.
        NetworkCentres = "network_centres", "Second tier: fewest centres";
    }
}
