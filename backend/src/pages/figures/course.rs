//! The course of a complication in minutes: when it began, when it was seen, when pressure
//! fell. A thick bar where it was seen first: that time was won by looking.

use maud::{Markup, Render, html};

use super::{Axis, number};

/// The times that are known; at least seeing and falling.
pub(crate) struct Course {
    began: Option<i64>,
    seen: i64,
    fell: i64,
}

impl Course {
    /// `None` when the lead cannot be told.
    pub(crate) fn new(began: Option<i64>, seen: Option<i64>, fell: Option<i64>) -> Option<Self> {
        Some(Self { began, seen: seen?, fell: fell? })
    }

    /// The lead as a sentence.
    fn sentence(&self) -> String {
        match self.fell - self.seen {
            0 => "Seen at the minute in which circulation was affected".to_owned(),
            lead if lead > 0 => format!("Seen {lead} min before circulation was affected"),
            late => format!("Seen {} min after circulation was affected", -late),
        }
    }
}

impl Render for Course {
    fn render(&self) -> Markup {
        html! {
            p { (self.sentence()) }
            div.wide-only { (self.drawing(420.0)) }
            div.narrow-only { (self.drawing(240.0)) }
        }
    }
}

impl Course {
    fn drawing(&self, width: f64) -> Markup {
        let known = [self.began, Some(self.seen), Some(self.fell)];
        let first = known.into_iter().flatten().min().unwrap_or(self.seen);
        let last = known.into_iter().flatten().max().unwrap_or(self.fell);
        // Room for half a label at either end.
        let axis = Axis { values: (first as f64, last as f64), pixels: (44.0, width - 56.0) };
        let at = |minute: i64| axis.at(minute as f64);
        let lead = self.seen < self.fell;
        html! {
            svg viewBox={ "0 0 " (number(width)) " 62" } width=(number(width)) height="62" role="img" aria-label=(self.sentence()) {
                path.edge d={ "M0 22H" (number(width)) } {}
                path.ink stroke-width=(if lead { "5" } else { "1.6" })
                    d={ "M" (number(at(self.seen))) " 22H" (number(at(self.fell))) } {}
                @if let Some(began) = self.began { (tick(at(began), 58.0, "began", began)) }
                (tick(at(self.seen), 42.0, "seen", self.seen))
                (tick(at(self.fell), 58.0, "affected", self.fell))
            }
        }
    }
}

fn tick(x: f64, baseline: f64, word: &str, minute: i64) -> Markup {
    html! {
        path.ink stroke-width="1.8" d={ "M" (number(x)) " 14v16" } {}
        text x=(number(x)) y=(number(baseline)) text-anchor="middle" { (word) " " (minute) " min" }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn the_lead_is_told_in_words() {
        let said = |seen, fell| Course::new(Some(62), seen, fell).map(|course| course.sentence());
        assert_eq!(said(Some(64), Some(71)).unwrap(), "Seen 7 min before circulation was affected");
        assert_eq!(said(Some(71), Some(64)).unwrap(), "Seen 7 min after circulation was affected");
        assert_eq!(said(Some(64), Some(64)).unwrap(), "Seen at the minute in which circulation was affected");
        assert_eq!(said(Some(64), None), None);
        let same = Course::new(Some(5), Some(5), Some(5)).unwrap().render().into_string();
        assert!(!same.contains("NaN"), "{same}");
    }
}
