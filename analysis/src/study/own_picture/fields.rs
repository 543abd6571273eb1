//! How complete each field is over all cases of a centre.

use quietbeam_schema::case::{CASE_GROUPS, CaseForm, complication_variables, follow_up_variables};
use quietbeam_schema::completeness::sections;
use quietbeam_schema::dictionary::{Need, Variable};
use std::collections::HashMap;

/// One field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FieldLine {
    /// The heading of its section.
    pub section: &'static str,
    /// Its label.
    pub label: &'static str,
    /// How often it applied: to a case, or to a complication.
    pub applies: u32,
    /// How often it said more than "not recorded".
    pub filled: u32,
}

impl FieldLine {
    /// How often it was left open.
    pub fn open(&self) -> u32 {
        self.applies - self.filled
    }
}

/// Every field that is asked for, in the order of the work. An optional field has no gaps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Completeness {
    lines: Vec<FieldLine>,
    places: HashMap<(&'static str, &'static str), usize>,
}

impl Default for Completeness {
    fn default() -> Self {
        let mut all = Self { lines: Vec::new(), places: HashMap::new() };
        for group in CASE_GROUPS {
            all.expect(group.key, group.label, group.variables);
        }
        all.expect("complications", "Complications", complication_variables());
        all.expect("follow_up", "Follow-up", follow_up_variables());
        all
    }
}

impl Completeness {
    fn expect(
        &mut self,
        key: &'static str,
        section: &'static str,
        variables: impl IntoIterator<Item = &'static Variable>,
    ) {
        for variable in variables.into_iter().filter(|variable| !matches!(variable.need, Need::Optional)) {
            self.places.insert((key, variable.key), self.lines.len());
            self.lines.push(FieldLine { section, label: variable.label, applies: 0, filled: 0 });
        }
    }

    /// Adds one case.
    pub(super) fn add(&mut self, form: &CaseForm) {
        for section in sections(form) {
            for field in &section.fields {
                if let Some(place) = self.places.get(&(section.key, field.variable.key)) {
                    let line = &mut self.lines[*place];
                    line.applies += 1;
                    line.filled += u32::from(field.filled);
                }
            }
        }
    }

    /// The fields that applied at least once.
    pub fn lines(&self) -> impl Iterator<Item = &FieldLine> {
        self.lines.iter().filter(|line| line.applies > 0)
    }

    /// The fields most often left open, the worst first, at most `most`.
    pub fn most_open(&self, most: usize) -> Vec<FieldLine> {
        let mut open: Vec<FieldLine> = self.lines().copied().filter(|line| line.open() > 0).collect();
        let share = |line: &FieldLine| f64::from(line.open()) / f64::from(line.applies);
        open.sort_by(|one, other| share(other).total_cmp(&share(one)));
        open.truncate(most);
        open
    }

    /// How many answers were asked for, and how many were given.
    pub fn total(&self) -> (u64, u64) {
        self.lines().fold((0, 0), |(applies, filled), line| {
            (applies + u64::from(line.applies), filled + u64::from(line.filled))
        })
    }
}
