//! How many events were judged by people who did not know the arm, and what changed.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_analysis::study::report::{Adjudication, Judged};

use crate::pages::components::{Cell, Column, Table};

/// A number of an arm.
type Of = fn(&Judged) -> u32;

/// The section.
pub(super) fn section(adjudication: &Adjudication) -> Markup {
    let arms = &adjudication.events;
    let lines: [(&str, Of); 9] = [
        ("Events reported", |arm| arm.reported),
        ("Of these, deaths that the follow-up alone tells", |arm| arm.deaths_of_follow_up),
        ("Settled by people who did not know the arm", |arm| arm.settled),
        ("Of the settled, by a third judge", |arm| arm.by_third),
        ("Too little recorded to tell", |arm| arm.cannot_tell),
        ("Not to be shown without telling that X-ray was used", |arm| arm.not_shown),
        ("Judged major, by the record not", |arm| arm.raised),
        ("Judged not major, by the record major", |arm| arm.lowered),
        ("Cases with major harm or death, as judged", |arm| arm.major_as_judged),
    ];
    let row = |(label, of): (&str, Of)| {
        [
            Cell::text(label),
            Cell::text(count(of(&arms.zero_fluoroscopy))),
            Cell::text(count(of(&arms.conventional))),
        ]
    };
    html! {
        section id="adjudication" {
            h2 { "Events judged blind" }
            (Table {
                caption: "Events within and after 30 days, as intended".to_owned(),
                columns: [
                    Column::words("Events"),
                    Column::numbers("Zero-fluoroscopy"),
                    Column::numbers("Conventional"),
                ],
                rows: lines.map(row).into(),
            })
            p { (adjudication.in_words) }
        }
    }
}
