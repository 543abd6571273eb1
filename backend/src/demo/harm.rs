//! Complications as a centre would list them, from the harm that was drawn.

use super::chance::Chance;
use super::course::{Course, Harm, LeftHeart, Setting};
use super::event::{Event, Onset};
use super::model::found_on_image;
use super::practice::Practice;
use quietbeam_schema::vocabulary::{
    ComplicationKind as Kind, DetectedBy as By, EventOutcome, EventPhase as Phase, Intervention as Done,
    ProcedureType, Relatedness, Seriousness as Serious,
};

/// What happened to the patient.
#[derive(Clone)]
pub(super) struct Harms {
    pub(super) events: Vec<Event>,
    /// Fluid that only an image can show was there, found or not.
    pub(super) image_fluid: bool,
    pub(super) image_fluid_found: bool,
    /// The patient died of a complication on this day.
    pub(super) died_on_day: Option<i64>,
}

impl Harms {
    pub(super) fn draw(
        chance: &mut Chance,
        setting: &Setting<'_>,
        course: &Course,
        practice: &Practice,
    ) -> Self {
        let mut events = Vec::new();
        match course.harm {
            Harm::Drained => events.push(drained(chance, course, practice)),
            Harm::OtherMajor => events.push(other_major(chance, setting.model.kind, practice)),
            Harm::None => {}
        }
        let image_fluid = chance.happens(setting.model.image_fluid) && course.harm != Harm::Drained;
        let seen = chance.happens(found_on_image(course.echo_inside, setting.centre.routine_echo));
        if image_fluid && seen {
            events.push(fluid_on_image(chance, setting, course, practice));
        }
        events.extend(minor(chance, setting.model.kind));
        let died_on_day = events.iter().find(|event| event.outcome == EventOutcome::Fatal).map(|_| 0);
        Self { events, image_fluid, image_fluid_found: image_fluid && seen, died_on_day }
    }
}

fn drained(chance: &mut Chance, course: &Course, practice: &Practice) -> Event {
    let punctured = matches!(course.left_heart, LeftHeart::Punctured(_));
    let phase = match chance.uniform() {
        draw if punctured && draw < 0.35 => Phase::TransseptalNeedle,
        draw if punctured && draw < 0.65 => Phase::SheathInLa,
        draw if draw < 0.90 => Phase::Ablation,
        _ => Phase::Mapping,
    };
    let last = practice.skin_to_skin_min;
    let onset = chance.between(last / 5, last * 4 / 5);
    let seen = (onset + chance.between(0, 8)).min(900);
    let (shown_by, also) = match (course.echo_inside, course.beam_on()) {
        (true, _) => (By::Ice, By::ArterialPressure),
        (false, true) if chance.happens(0.3) => (By::FluoroSilhouette, By::Tte),
        _ => (By::ArterialPressure, By::Tte),
    };
    let surgery = chance.happens(0.05);
    let mut done = vec![Done::Reversal, Done::FluidPressor, Done::Pericardiocentesis];
    done.extend(surgery.then_some(Done::Surgery));
    Event {
        shown_by,
        also: Some(also),
        circulation_min: Some((seen + chance.between(0, 4)).min(900)),
        depth_mm: Some(chance.between(12, 30)),
        volume_ml: Some(chance.between(20, 80) * 10),
        drained_ml: Some(chance.between(15, 90) * 10),
        done,
        extra_days: chance.between(2, 6),
        serious: &[Serious::LifeThreat, Serious::Hospital],
        related: Relatedness::Definite,
        ..Event::new(Kind::Tamponade, phase, Onset::InRoom { onset, seen })
    }
}

fn fluid_on_image(chance: &mut Chance, setting: &Setting<'_>, course: &Course, practice: &Practice) -> Event {
    let depth_mm = Some(chance.between(3, 9));
    let seen_how = |shown_by, phase, onset| Event {
        shown_by,
        depth_mm,
        symptomatic: false,
        done: vec![Done::Observe],
        related: Relatedness::Probable,
        ..Event::new(Kind::Effusion, phase, onset)
    };
    if course.echo_inside {
        let last = practice.skin_to_skin_min;
        let onset = chance.between(last / 3, last);
        let seen = (onset + chance.between(0, 15)).min(900);
        seen_how(By::Ice, Phase::Ablation, Onset::InRoom { onset, seen })
    } else if setting.centre.routine_echo {
        seen_how(By::Tte, Phase::Recovery, Onset::Afterwards { onset: 0, seen: chance.between(0, 1) })
    } else {
        let seen = chance.between(1, 25);
        seen_how(By::RoutineFollowUp, Phase::Recovery, Onset::Afterwards { onset: 0, seen })
    }
}

/// Kinds of major complication other than drained fluid.
#[derive(Clone, Copy)]
enum Major {
    VesselRepair,
    TransfusedBleed,
    Stroke,
    Tia,
    PhrenicPalsy,
    LastingBlock,
    Arrest,
}

fn other_major(chance: &mut Chance, kind: ProcedureType, practice: &Practice) -> Event {
    use Major as M;
    let kinds: &[(Major, f64)] = match kind {
        ProcedureType::Avnrt => {
            &[(M::LastingBlock, 0.5), (M::VesselRepair, 0.35), (M::TransfusedBleed, 0.15)]
        }
        ProcedureType::AvNode | ProcedureType::CtiFlutter => {
            &[(M::VesselRepair, 0.7), (M::TransfusedBleed, 0.3)]
        }
        kind if kind.is_af() => &[
            (M::VesselRepair, 0.36),
            (M::TransfusedBleed, 0.20),
            (M::Stroke, 0.13),
            (M::Tia, 0.13),
            (M::PhrenicPalsy, 0.18),
        ],
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial => {
            &[(M::VesselRepair, 0.35), (M::TransfusedBleed, 0.20), (M::Stroke, 0.15), (M::Arrest, 0.30)]
        }
        _ => &[(M::VesselRepair, 0.6), (M::TransfusedBleed, 0.2), (M::LastingBlock, 0.2)],
    };
    match chance.one_of(kinds) {
        M::VesselRepair => vessel_repair(chance),
        M::TransfusedBleed => transfused_bleed(chance),
        M::Stroke => stroke(chance),
        M::Tia => Event {
            done: vec![Done::Observe],
            extra_days: 1,
            serious: &[Serious::Hospital],
            ..Event::new(Kind::Tia, Phase::Recovery, Onset::Afterwards { onset: 0, seen: 0 })
        },
        M::PhrenicPalsy => phrenic_palsy(chance, practice),
        M::LastingBlock => lasting_block(chance, practice),
        M::Arrest => arrest(chance, practice),
    }
}

fn vessel_repair(chance: &mut Chance) -> Event {
    let onset = chance.between(0, 5);
    let thrombin = chance.happens(0.5);
    Event {
        shown_by: By::ClinicalSign,
        hct_fall: Some(chance.between(3, 15)),
        done: vec![if thrombin { Done::Thrombin } else { Done::VascularRepair }],
        extra_days: chance.between(1, 4),
        serious: &[Serious::Hospital],
        related: Relatedness::Definite,
        ..Event::new(Kind::Pseudoaneurysm, Phase::Recovery, Onset::Afterwards { onset, seen: onset })
    }
}

fn transfused_bleed(chance: &mut Chance) -> Event {
    Event {
        shown_by: By::ClinicalSign,
        also: Some(By::Lab),
        hct_fall: Some(chance.between(20, 34)),
        done: vec![Done::Reversal, Done::Transfusion],
        extra_days: chance.between(2, 5),
        serious: &[Serious::Hospital],
        related: Relatedness::Definite,
        ..Event::new(Kind::Retroperitoneal, Phase::Recovery, Onset::Afterwards { onset: 0, seen: 0 })
    }
}

fn stroke(chance: &mut Chance) -> Event {
    let lasting = chance.happens(0.5);
    let onset = chance.between(0, 3);
    Event {
        also: Some(By::Ct),
        done: vec![Done::Other],
        extra_days: chance.between(3, 14),
        permanent: lasting,
        serious: if lasting { &[Serious::Hospital, Serious::Disability] } else { &[Serious::Hospital] },
        outcome: if lasting { EventOutcome::Sequelae } else { EventOutcome::Resolved },
        ..Event::new(Kind::Stroke, Phase::Recovery, Onset::Afterwards { onset, seen: onset })
    }
}

fn phrenic_palsy(chance: &mut Chance, practice: &Practice) -> Event {
    let onset = chance.between(practice.skin_to_skin_min / 2, practice.skin_to_skin_min);
    Event {
        done: vec![Done::Observe],
        extra_days: chance.between(0, 1),
        serious: &[Serious::Important],
        related: Relatedness::Definite,
        outcome: EventOutcome::Resolving,
        ..Event::new(Kind::PhrenicPersistent, Phase::Ablation, Onset::InRoom { onset, seen: onset })
    }
}

fn lasting_block(chance: &mut Chance, practice: &Practice) -> Event {
    let onset = chance.between(practice.skin_to_skin_min / 2, practice.skin_to_skin_min);
    Event {
        shown_by: By::Ecg,
        done: vec![Done::Pacemaker],
        extra_days: chance.between(2, 4),
        permanent: true,
        serious: &[Serious::Hospital, Serious::Disability],
        related: Relatedness::Definite,
        outcome: EventOutcome::Sequelae,
        ..Event::new(Kind::AvbPermanent, Phase::Ablation, Onset::InRoom { onset, seen: onset })
    }
}

fn arrest(chance: &mut Chance, practice: &Practice) -> Event {
    let onset = chance.between(practice.skin_to_skin_min / 4, practice.skin_to_skin_min);
    let fatal = chance.happens(0.2);
    Event {
        shown_by: By::ArterialPressure,
        also: Some(By::Ecg),
        done: vec![Done::FluidPressor, Done::Cpr],
        extra_days: if fatal { 0 } else { chance.between(2, 10) },
        serious: if fatal { &[Serious::Death] } else { &[Serious::LifeThreat] },
        outcome: if fatal { EventOutcome::Fatal } else { EventOutcome::Resolved },
        ..Event::new(Kind::Arrest, Phase::Mapping, Onset::InRoom { onset, seen: onset })
    }
}

/// Minor complications, alike under both strategies.
fn minor(chance: &mut Chance, kind: ProcedureType) -> Option<Event> {
    let onset = Onset::Afterwards { onset: 0, seen: 0 };
    let pericarditis = if kind.is_af() { 0.008 } else { 0.001 };
    match chance.uniform() {
        draw if draw < 0.015 => Some(Event {
            hct_fall: Some(chance.between(0, 8)),
            done: vec![Done::Observe],
            extra_days: chance.between(0, 1),
            related: Relatedness::Definite,
            ..Event::new(Kind::Haematoma, Phase::Recovery, onset)
        }),
        draw if draw < 0.015 + pericarditis => Some(Event {
            done: vec![Done::Other],
            extra_days: chance.between(0, 1),
            ..Event::new(Kind::Pericarditis, Phase::Recovery, onset)
        }),
        _ => None,
    }
}
