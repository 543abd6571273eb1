//! X-ray used, in squares of a hundred.

use maud::{Markup, Render};
use quietbeam_analysis::study::published::{OneOrAll, Published as Count};
use quietbeam_analysis::study::summary::SafetySummary;
use quietbeam_schema::vocabulary::Strategy;

use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{Drawings, Figure, Hundred, Squares};

/// The figure; nothing without cases.
pub(super) fn figure(summary: &SafetySummary) -> Option<Markup> {
    let of = |strategy| used_of_hundred(summary, strategy);
    let (zero, conventional) = (of(Strategy::Zero), of(Strategy::Conventional));
    if zero.is_none() && conventional.is_none() {
        return None;
    }
    let name = |planned: &str, used: Option<Used>| match used {
        Some(used) => format!("{planned}: {} of 100", used.in_words()),
        None => format!("{planned}: not shown"),
    };
    let names = [name("No X-ray planned", zero), name("X-ray planned", conventional)];
    let in_words = match (zero, conventional) {
        (Some(zero), Some(conventional)) => format!(
            "X-ray was used in {} of 100 procedures planned without it and in {} of 100 conventional ones.",
            zero.in_words(),
            conventional.in_words()
        ),
        _ => format!("{}. {}.", names[0], names[1]),
    };
    let [first, second] = names;
    let row = |name: &str, used: Option<Used>| {
        [Cell::text(name), used.map_or(Cell::NotShown, |used| Cell::text(used.in_words()))]
    };
    let numbers = Table {
        caption: "X-ray used, of 100 procedures".to_owned(),
        columns: [Column::words("What was planned"), Column::numbers("Of 100")],
        rows: vec![row("No X-ray", zero), row("X-ray", conventional)],
    };
    let hundred = |name, used: Option<Used>| Hundred { name, filled: used.map(|used| used.of_hundred) };
    let drawn = Squares([hundred(first, zero), hundred(second, conventional)]);
    let figure = Figure {
        id: "x-ray-used",
        lead: "X-ray used.".to_owned(),
        caption: "Each square is one of 100 procedures; filled where X-ray was used.".to_owned(),
        drawings: Drawings::of(|size| drawn.draw(size)),
        in_words,
        numbers,
    };
    Some(figure.render())
}

/// So many of a hundred, rounded; a few of very many are not none.
#[derive(Clone, Copy)]
struct Used {
    of_hundred: u8,
    any: bool,
}

impl Used {
    fn in_words(self) -> String {
        match self.of_hundred {
            0 if self.any => "fewer than 1".to_owned(),
            used => used.to_string(),
        }
    }
}

/// How many of a hundred had X-ray: from the two counts that the table shows, rounded.
fn used_of_hundred(summary: &SafetySummary, strategy: Strategy) -> Option<Used> {
    let line = summary.line(OneOrAll::All, OneOrAll::One(strategy))?;
    let (Count::Shown(without), Count::Shown(cases)) = (line.no_x_ray.count, line.cases) else { return None };
    let with = cases.saturating_sub(without);
    let share = (cases > 0).then(|| with as f64 / cases as f64)?;
    Some(Used { of_hundred: (100.0 * share).round() as u8, any: with > 0 })
}
