//! A denominator as a bar: performed is the outline, eligible the pale fill, submitted the
//! dark one, and below it what is missing.

use maud::{Markup, Render, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_schema::centre::ScreeningCounts;

use super::{Axis, number};

/// The bar of one quarter, or of any sum of lines.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct DenominatorBar {
    performed: u32,
    eligible: u32,
    submitted: u32,
}

impl DenominatorBar {
    /// Adds the counts of a line, which nest by their type.
    pub(crate) fn add(&mut self, counts: &ScreeningCounts) {
        self.performed = self.performed.saturating_add(counts.performed());
        self.eligible = self.eligible.saturating_add(counts.eligible());
        self.submitted = self.submitted.saturating_add(counts.submitted());
    }

    /// The same with the cases that have arrived until now in place of what the log says.
    pub(crate) fn arrived(self, cases: u32) -> Self {
        Self { submitted: cases, ..self }
    }

    /// Eligible cases that were not sent in.
    pub(crate) fn missing(&self) -> u32 {
        self.eligible.saturating_sub(self.submitted)
    }

    /// Performed, eligible and submitted in one sentence.
    pub(crate) fn sentence(&self) -> String {
        let [performed, eligible, submitted] = [self.performed, self.eligible, self.submitted].map(count);
        format!("{performed} performed, {eligible} eligible, {submitted} submitted")
    }
}

const WIDTH: f64 = 292.0;

impl Render for DenominatorBar {
    fn render(&self) -> Markup {
        let axis = Axis { values: (0.0, f64::from(self.performed.max(1))), pixels: (1.0, WIDTH - 1.0) };
        // More may have arrived than was counted; the bar ends where it ends.
        let at = |number: u32| axis.at(f64::from(number.min(self.performed)));
        let (eligible, submitted) = (at(self.eligible), at(self.submitted));
        // A label keeps inside the drawing, whichever end it belongs to.
        let under = eligible.clamp(70.0, WIDTH);
        let inside = submitted > 110.0;
        html! {
            svg viewBox="0 0 292 66" width="292" height="66" role="img" aria-label=(self.sentence()) {
                text.quiet x="0" y="12" { (count(self.performed)) " performed" }
                rect.hair-fill x="1" y="20" width=(number(eligible - 1.0)) height="20" {}
                rect.act-fill x="1" y="20" width=(number(submitted - 1.0)) height="20" {}
                rect.edge x="1" y="20" width=(number(WIDTH - 2.0)) height="20" {}
                @if inside {
                    text.on-act x="10" y="35" { (count(self.submitted)) " submitted" }
                } @else {
                    text.strong.halo x=(number(submitted + 8.0)) y="35" { (count(self.submitted)) " submitted" }
                }
                path.ink d={ "M" (number(eligible)) " 40v9" } {}
                text x=(number(under)) y="62" text-anchor="end" { (count(self.eligible)) " eligible" }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use std::collections::BTreeMap;

    use quietbeam_schema::centre::EnteredCounts;
    use quietbeam_schema::vocabulary::ExclusionReason;

    use super::*;

    fn bar(lines: &[(u32, u32, u32)]) -> DenominatorBar {
        let mut bar = DenominatorBar::default();
        for (performed, eligible, submitted) in lines.iter().copied() {
            let excluded = BTreeMap::from([(ExclusionReason::Age, performed - submitted)]);
            bar.add(&EnteredCounts { performed, eligible, submitted, excluded }.try_into().unwrap());
        }
        bar
    }

    #[test]
    fn lines_add_up_and_the_rest_is_missing() {
        let both = bar(&[(40, 36, 33), (32, 30, 28)]);
        assert_eq!(both.sentence(), "72 performed, 66 eligible, 61 submitted");
        assert_eq!(both.missing(), 5);
        assert!(both.render().into_string().contains("72 performed"));
    }

    #[test]
    fn nothing_performed_draws_an_empty_bar() {
        let empty = bar(&[]).render().into_string();
        assert!(!empty.contains("NaN") && empty.contains("0 submitted"), "{empty}");
    }
}
