//! The network without its files: what the estimators of a comparison are held to.

use super::chance::Chance;
use super::{Drawn, Scenario};
use quietbeam_analysis::study::recovery::{SimulatedCase, SimulatedOutcome};
use quietbeam_schema::vocabulary::ProcedureType;

/// Streams of chance beyond those that draw the cases.
const BLUR: u64 = 1_000;

impl Scenario {
    /// A network as [`Scenario::generate`] draws it: as it was, before anybody wrote it down.
    /// Epicardial ablations are left out, as no strategy was chosen there.
    pub fn simulate(seed: u64, cases: usize) -> Vec<SimulatedCase> {
        let mut chance = Chance::new(seed, BLUR);
        let network = Self::generate(seed, cases);
        let centres = (0..).zip(&network.centres);
        let drawn = centres.flat_map(|(number, centre)| centre.drawn().map(move |drawn| (number, drawn)));
        drawn
            .filter(|(_, drawn)| !drawn.entered_before && drawn.kind != ProcedureType::VtEpicardial)
            .map(|(number, drawn)| simulated(number, &drawn, &mut chance))
            .collect()
    }
}

fn simulated(centre: u32, drawn: &Drawn, chance: &mut Chance) -> SimulatedCase {
    let outcome =
        |event, zero_fluoroscopy, conventional| SimulatedOutcome { event, zero_fluoroscopy, conventional };
    let (success, major, drained) = (drawn.success_risk, drawn.major_risk, drawn.drained_risk);
    let fluid = |drained: f64| drained + (1.0 - drained) * drawn.image_fluid_risk;
    SimulatedCase {
        centre,
        group: drawn.kind.group(),
        zero: drawn.zero_intended,
        zero_chance: drawn.zero_chance,
        complexity: drawn.complexity,
        noise: chance.normal(),
        lot: chance.uniform(),
        outcomes: [
            outcome(drawn.success, success.zero, success.conventional),
            outcome(drawn.major, major.zero, major.conventional),
            outcome(drawn.drained, drained.zero, drained.conventional),
            outcome(
                drawn.drained || drawn.image_fluid_found,
                fluid(drained.zero),
                fluid(drained.conventional),
            ),
        ],
    }
}
