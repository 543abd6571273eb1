//! The two arms.

use serde::Serialize;

/// The two arms of every comparison; differences are first − second in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Arm {
    /// Zero-fluoroscopy.
    ZeroFluoroscopy,
    /// Conventional fluoroscopy.
    Conventional,
}

impl Arm {
    /// Both in their order.
    pub const BOTH: [Self; 2] = [Self::ZeroFluoroscopy, Self::Conventional];

    /// The name in running text.
    pub fn name(self) -> &'static str {
        match self {
            Self::ZeroFluoroscopy => "zero-fluoroscopy",
            Self::Conventional => "conventional",
        }
    }
}

/// One thing for each arm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct ByArm<T> {
    /// Of the zero-fluoroscopy arm.
    pub zero_fluoroscopy: T,
    /// Of the conventional arm.
    pub conventional: T,
}

impl<T> ByArm<T> {
    /// Makes both from the arm's name.
    pub fn from_fn(mut make: impl FnMut(Arm) -> T) -> Self {
        Self { zero_fluoroscopy: make(Arm::ZeroFluoroscopy), conventional: make(Arm::Conventional) }
    }

    /// Turns both into something else.
    pub fn map<U>(&self, mut turn: impl FnMut(&T) -> U) -> ByArm<U> {
        ByArm { zero_fluoroscopy: turn(&self.zero_fluoroscopy), conventional: turn(&self.conventional) }
    }

    /// Both with the arm's name.
    pub fn each(&self) -> [(Arm, &T); 2] {
        [(Arm::ZeroFluoroscopy, &self.zero_fluoroscopy), (Arm::Conventional, &self.conventional)]
    }

    /// The one of an arm.
    pub fn of(&self, arm: Arm) -> &T {
        match arm {
            Arm::ZeroFluoroscopy => &self.zero_fluoroscopy,
            Arm::Conventional => &self.conventional,
        }
    }

    /// The one of an arm, to change it.
    pub fn of_mut(&mut self, arm: Arm) -> &mut T {
        match arm {
            Arm::ZeroFluoroscopy => &mut self.zero_fluoroscopy,
            Arm::Conventional => &mut self.conventional,
        }
    }
}
