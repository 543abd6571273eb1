//! The invented centres and their habits. No centre, person or place is real.

use quietbeam_schema::centre::{Centre, Room};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{AnnualVolume, CentreType, ConsentBasis};

/// The network's name.
pub(crate) const NAME: &str = "Lanternfield Rhythm Collaborative";
/// Quarters of the scenario, ending with 2026Q3.
pub(super) const QUARTERS: usize = 8;
/// Quarters from the registry's first, 2010Q1, to the scenario's first, 2024Q4.
const QUARTERS_BEFORE: usize = 59;

/// The calendar quarter of the scenario's quarter, counted from 0.
pub(super) fn quarter(position: usize) -> Quarter {
    (0..QUARTERS_BEFORE + position).fold(Quarter::FIRST, |quarter, _| quarter.next())
}

/// How a centre writes fluoroscopy time.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum TimeStyle {
    Seconds,
    Minutes,
    /// Minutes and seconds as a console shows them, such as `7:30`.
    Clock,
}

/// The unit in which a console shows the kerma-area product, as the centre
/// writes it, and how many make one Gy·cm².
#[derive(Clone, Copy)]
pub(super) struct AreaUnit {
    pub(super) written: &'static str,
    pub(super) in_one_gy_cm2: f64,
}

pub(super) const GY_CM2: AreaUnit = AreaUnit { written: "Gy.cm2", in_one_gy_cm2: 1.0 };
const DGY_CM2: AreaUnit = AreaUnit { written: "dGy.cm2", in_one_gy_cm2: 10.0 };
const CGY_CM2: AreaUnit = AreaUnit { written: "cGycm2", in_one_gy_cm2: 100.0 };
const MGY_CM2: AreaUnit = AreaUnit { written: "mGy.cm2", in_one_gy_cm2: 1000.0 };
const UGY_M2: AreaUnit = AreaUnit { written: "µGy·m²", in_one_gy_cm2: 100.0 };

/// What a centre is like.
pub(super) struct Habits {
    number: u8,
    region: &'static str,
    name: &'static str,
    kind: CentreType,
    volume: AnnualVolume,
    /// Cases among the 4,300 of a network of the usual size.
    pub(super) share: usize,
    /// Share of cases intended without fluoroscopy, in the first and the last quarter.
    pub(super) zero_intended: (f64, f64),
    /// Share of cases with intracardiac echo, by intended strategy.
    pub(super) echo_zero: f64,
    pub(super) echo_conventional: f64,
    /// Air kerma rate of the room in mGy a minute at a body mass index of 28.
    pub(super) room_rate: f64,
    /// Log odds of success and of major harm against the network.
    pub(super) success_shift: f64,
    pub(super) major_shift: f64,
    pub(super) operators: usize,
    pub(super) for_children: bool,
    /// How much more of the cases are ventricular tachycardia than elsewhere.
    pub(super) vt_weight: f64,
    /// Every patient has an echo within a day.
    pub(super) routine_echo: bool,
    pub(super) lost_at_30_days: f64,
    pub(super) consent: ConsentBasis,
    pub(super) pulse_rates: &'static [f64],
    pub(super) area_unit: AreaUnit,
    /// The quarter from which the console shows Gy·cm² instead.
    pub(super) area_unit_switch: Option<usize>,
    pub(super) time_style: TimeStyle,
    /// The console shows air kerma in Gy.
    pub(super) kerma_in_gray: bool,
    pub(super) slips: Slips,
}

/// Shares of cases that a centre writes down wrongly.
pub(super) struct Slips {
    /// A beam that was never on leaves blank dose boxes instead of zeros.
    pub(super) blank_for_zero: f64,
    /// Only fluoroscopy time is written down, no dose.
    pub(super) time_only: f64,
    /// A number in gray stands beside the unit mGy.
    pub(super) gray_as_milligray: f64,
    /// A cross-over is entered afterwards as intended conventional.
    pub(super) back_filled: f64,
    /// Eligible procedures that are sent in.
    pub(super) submitted: f64,
}

const CAREFUL: Slips =
    Slips { blank_for_zero: 0.0, time_only: 0.0, gray_as_milligray: 0.0, back_filled: 0.0, submitted: 0.97 };

const TYPICAL: Habits = Habits {
    number: 0,
    region: "North",
    name: "",
    kind: CentreType::Community,
    volume: AnnualVolume::From200To499,
    share: 0,
    zero_intended: (0.5, 0.5),
    echo_zero: 0.9,
    echo_conventional: 0.2,
    room_rate: 2.0,
    success_shift: 0.0,
    major_shift: 0.0,
    operators: 3,
    for_children: false,
    vt_weight: 1.0,
    routine_echo: false,
    lost_at_30_days: 0.03,
    consent: ConsentBasis::Consent,
    pulse_rates: &[7.5],
    area_unit: GY_CM2,
    area_unit_switch: None,
    time_style: TimeStyle::Minutes,
    kerma_in_gray: false,
    slips: CAREFUL,
};

/// The seven centres.
pub(super) static CENTRES: [Habits; 7] = [
    Habits {
        number: 1,
        region: "North",
        name: "Amberlight Heart Institute",
        kind: CentreType::Academic,
        volume: AnnualVolume::From500To999,
        share: 1_100,
        zero_intended: (0.85, 0.92),
        echo_zero: 0.98,
        echo_conventional: 0.60,
        room_rate: 0.6,
        success_shift: 0.10,
        major_shift: -0.10,
        operators: 5,
        routine_echo: true,
        pulse_rates: &[4.0, 3.75],
        time_style: TimeStyle::Seconds,
        ..TYPICAL
    },
    Habits {
        number: 2,
        region: "South",
        name: "Bellwater General",
        share: 700,
        zero_intended: (0.25, 0.65),
        echo_conventional: 0.25,
        room_rate: 1.5,
        operators: 3,
        consent: ConsentBasis::Waiver,
        area_unit: CGY_CM2,
        area_unit_switch: Some(4),
        time_style: TimeStyle::Clock,
        ..TYPICAL
    },
    Habits {
        number: 3,
        region: "North",
        name: "Cedar Hollow Arrhythmia Centre",
        share: 600,
        zero_intended: (0.05, 0.15),
        echo_zero: 0.80,
        echo_conventional: 0.10,
        room_rate: 3.0,
        success_shift: -0.05,
        major_shift: 0.05,
        area_unit: UGY_M2,
        consent: ConsentBasis::QualityImprovement,
        slips: Slips { time_only: 0.20, ..CAREFUL },
        ..TYPICAL
    },
    Habits {
        number: 4,
        region: "South",
        name: "Driftmoor Teaching Hospital",
        kind: CentreType::Academic,
        share: 900,
        zero_intended: (0.40, 0.60),
        echo_zero: 0.97,
        echo_conventional: 0.70,
        success_shift: -0.05,
        major_shift: 0.20,
        operators: 4,
        vt_weight: 3.0,
        routine_echo: true,
        pulse_rates: &[7.5, 6.0],
        area_unit: DGY_CM2,
        time_style: TimeStyle::Seconds,
        ..TYPICAL
    },
    Habits {
        number: 5,
        region: "North",
        name: "Eldertarn Children's Rhythm Unit",
        kind: CentreType::Paediatric,
        volume: AnnualVolume::Under200,
        share: 260,
        zero_intended: (0.70, 0.80),
        echo_zero: 0.15,
        echo_conventional: 0.05,
        room_rate: 0.5,
        success_shift: 0.05,
        major_shift: -0.20,
        operators: 2,
        for_children: true,
        pulse_rates: &[3.75],
        area_unit: MGY_CM2,
        slips: Slips { blank_for_zero: 1.0, ..CAREFUL },
        ..TYPICAL
    },
    Habits {
        number: 6,
        region: "South",
        name: "Fennwick Coastal Hospital",
        share: 420,
        zero_intended: (0.10, 0.55),
        echo_zero: 0.75,
        echo_conventional: 0.15,
        room_rate: 2.5,
        success_shift: -0.20,
        major_shift: 0.15,
        operators: 2,
        consent: ConsentBasis::Waiver,
        area_unit: CGY_CM2,
        time_style: TimeStyle::Clock,
        slips: Slips { blank_for_zero: 0.35, back_filled: 0.5, submitted: 0.72, ..CAREFUL },
        ..TYPICAL
    },
    Habits {
        number: 7,
        region: "North",
        name: "Graylock Ridge Clinic",
        volume: AnnualVolume::Under200,
        share: 320,
        zero_intended: (0.30, 0.50),
        room_rate: 4.0,
        success_shift: -0.10,
        major_shift: 0.10,
        operators: 2,
        lost_at_30_days: 0.12,
        pulse_rates: &[10.0, 7.5],
        kerma_in_gray: true,
        slips: Slips { gray_as_milligray: 0.08, ..CAREFUL },
        ..TYPICAL
    },
];

impl Habits {
    pub(super) fn code(&self) -> CentreCode {
        CentreCode::from_random(self.number)
    }

    pub(super) fn centre(&self) -> Centre {
        Centre {
            code: self.code(),
            name: self.name.to_owned(),
            region: Some(self.region.to_owned()),
            kind: self.kind,
            annual_volume: self.volume,
            // Every centre had begun before the scenario does.
            zero_fluoroscopy_since: Quarter::new(2024, 4),
        }
    }

    /// The rooms with their consoles as they stood when the centre joined.
    pub(super) fn rooms(&self) -> Vec<Room> {
        let room = |(position, rate): (usize, &f64)| {
            Some(Room {
                code: format!("R{}", position + 1).parse().ok()?,
                kap_unit: self.area_unit.written.parse().ok()?,
                air_kerma_shown: true,
                dose_correction: None,
                pulse_rate: Some(*rate),
            })
        };
        self.pulse_rates.iter().enumerate().filter_map(room).collect()
    }

    /// The position of the room in which an operator works.
    pub(super) fn room_of(&self, operator: usize) -> usize {
        operator % self.pulse_rates.len()
    }

    /// Share of cases intended without fluoroscopy in a quarter: a straight line.
    pub(super) fn zero_share(&self, quarter: usize) -> f64 {
        let (start, end) = self.zero_intended;
        start + (end - start) * quarter as f64 / (QUARTERS - 1) as f64
    }

    /// The unit of the console in a quarter.
    pub(super) fn area_unit_in(&self, quarter: usize) -> AreaUnit {
        if self.area_unit_switch.is_some_and(|switch| quarter >= switch) { GY_CM2 } else { self.area_unit }
    }
}

/// How many cases each centre sends, by largest remainder.
pub(super) fn allotted(cases: usize) -> Vec<usize> {
    apportion(cases, &CENTRES.iter().map(|centre| centre.share).collect::<Vec<_>>())
}

/// Splits a whole number in proportion to shares, by largest remainder.
pub(super) fn apportion(whole: usize, shares: &[usize]) -> Vec<usize> {
    let all: usize = shares.iter().sum();
    let mut parts: Vec<usize> = shares.iter().map(|share| whole * share / all).collect();
    let mut order: Vec<usize> = (0..shares.len()).collect();
    order.sort_by_key(|at| (std::cmp::Reverse(whole * shares[*at] % all), *at));
    let left = whole - parts.iter().sum::<usize>();
    for at in order.into_iter().take(left) {
        parts[at] += 1;
    }
    parts
}
