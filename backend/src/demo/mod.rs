//! The invented network of the demonstration: seven centres, their rooms and
//! screening logs, and the files they would send, as a pure function of a seed
//! and a number of cases. It is arranged so that selection flatters one arm and
//! looking with echo flatters the other, and so that the truth is known.
//!
//! No centre, person, place or device is real.

mod after;
mod case;
mod case_rows;
mod chance;
mod course;
mod dose;
mod event;
mod event_rows;
mod faults;
mod harm;
mod model;
mod network;
mod patient;
mod practice;
mod screening;
mod sheet;
mod simulated;
mod truth;

pub use case::Drawn;
pub use course::Risks;
pub use faults::{FaultFile, FaultKind, SeededFault, ShownBy};
pub(crate) use network::NAME;
pub use screening::ScreeningLine;
pub use truth::Truth;

use case::Case;
use chance::Chance;
use course::Setting;
use model::{CHILDREN_MIX, KINDS, KindModel};
use network::{CENTRES, Habits, QUARTERS, allotted, apportion};
use quietbeam_schema::centre::{Centre, Room};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::vocabulary::ProcedureGroup;

/// The scenario of the demonstration.
pub struct Scenario;

impl Scenario {
    /// The usual number of cases.
    pub const USUAL_CASES: usize = 4_300;

    /// Generates the network. The same seed and number of cases give the same
    /// network, and the same bytes in its files, on any machine.
    pub fn generate(seed: u64, cases: usize) -> Network {
        let centres: Vec<DemoCentre> = CENTRES
            .iter()
            .zip(allotted(cases))
            .enumerate()
            .map(|(number, (habits, cases))| DemoCentre::generate(seed, number as u64, habits, cases))
            .collect();
        let truth = Truth::of(centres.iter().flat_map(|centre| centre.drawn()));
        Network { name: network::NAME, centres, truth }
    }
}

/// The network.
pub struct Network {
    /// Its name.
    pub name: &'static str,
    /// Its centres.
    pub centres: Vec<DemoCentre>,
    /// What is true of it, which no registry can see.
    pub truth: Truth,
}

impl Network {
    /// Every fault that was put in.
    pub fn faults(&self) -> Vec<SeededFault> {
        self.centres.iter().flat_map(DemoCentre::faults).collect()
    }
}

/// One centre of the network.
pub struct DemoCentre {
    /// The centre.
    pub centre: Centre,
    /// Its rooms, with what their consoles showed when it joined.
    pub rooms: Vec<Room>,
    /// Its screening log.
    pub screening: Vec<ScreeningLine>,
    habits: &'static Habits,
    cases: Vec<Case>,
}

/// The three files of a centre, ready to be imported.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CentreFiles {
    /// A row a case.
    pub cases: String,
    /// A row a complication.
    pub complications: String,
    /// A row a follow-up.
    pub follow_ups: String,
}

/// Centres at which one case is entered twice, if they send this many.
const ENTERED_TWICE: [u64; 3] = [1, 3, 5];
const ENOUGH_TO_REPEAT: usize = 20;

impl DemoCentre {
    fn generate(seed: u64, number: u64, habits: &'static Habits, rows: usize) -> Self {
        let twice = usize::from(ENTERED_TWICE.contains(&number) && rows >= ENOUGH_TO_REPEAT);
        let mut chance = Chance::new(seed, 2 * number);
        let mut slips = Chance::new(seed, 2 * number + 1);
        let mix = mix(habits);
        let mut zero_cases = vec![0; habits.operators];
        let mut cases = Vec::with_capacity(rows);
        for (quarter, of_quarter) in apportion(rows - twice, &[1; QUARTERS]).into_iter().enumerate() {
            for _ in 0..of_quarter {
                let setting = Setting { centre: habits, quarter, model: chance.one_of(&mix) };
                cases.push(Case::draw(&mut chance, &setting, &mut zero_cases));
            }
        }
        faults::seed(&mut slips, habits, &mut cases, twice);
        let screening = screening::log(&mut slips, habits, &cases);
        Self { centre: habits.centre(), rooms: habits.rooms(), screening, habits, cases }
    }

    /// How many rows the cases file has, and so how many codes it needs.
    pub fn case_rows(&self) -> usize {
        self.cases.len()
    }

    /// The files, with the codes that the registry issued, one a row of the
    /// cases file; rows beyond the codes are left out.
    pub fn files(&self, codes: &[CaseCode]) -> CentreFiles {
        CentreFiles {
            cases: case_rows::cases_file(self.habits, &self.cases, codes),
            complications: event_rows::complications_file(&self.cases, codes),
            follow_ups: event_rows::follow_ups_file(&self.cases, codes),
        }
    }

    /// What was drawn, row by row of the cases file.
    pub fn drawn(&self) -> impl Iterator<Item = Drawn> + '_ {
        self.cases.iter().map(Case::drawn)
    }

    /// The faults that were put in here.
    pub fn faults(&self) -> Vec<SeededFault> {
        faults::manifest(self.habits, &self.cases)
    }
}

/// The types of procedure at a centre with their weights.
fn mix(centre: &Habits) -> Vec<(&'static KindModel, f64)> {
    let weight = |model: &KindModel| {
        if centre.for_children {
            CHILDREN_MIX.iter().find(|(kind, _)| *kind == model.kind).map_or(0.0, |(_, weight)| *weight)
        } else if model.kind.group() == ProcedureGroup::Vt {
            model.weight * centre.vt_weight
        } else {
            model.weight
        }
    };
    KINDS.iter().map(|model| (model, weight(model))).collect()
}
