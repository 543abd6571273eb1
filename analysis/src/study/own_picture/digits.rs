//! Last digits of doses and times: numbers that were read off a display end on every digit
//! about equally often, numbers that were rounded or guessed end on 0 and 5.

use super::FEW;
use crate::methods::evenness::{CategoryCounts, EvennessTest, even_chi_square_test, even_exact_test};

/// Below this p and above this share the digits look rounded. Engineering judgement, no source:
/// the page is looked at every quarter for three quantities, so that the usual 1 in 20 would
/// cry wolf, and with thousands of cases the smallest preference has a small p.
const UNUSUAL_P: f64 = 0.001;
const UNUSUAL_TIMES: f64 = 1.5;

/// Fewer expected in a category than this and the approximation is not trusted (common
/// practice).
const EXPECTED_FOR_APPROXIMATION: u64 = 5;

/// The last digit of a number as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::study) struct LastDigit {
    digit: u8,
    decimals: bool,
}

impl LastDigit {
    /// Of a dose: only of a number with three digits that count, because the first digits of a
    /// dose are not evenly spread.
    pub(super) fn of_dose(typed: &str) -> Option<Self> {
        let digits = typed.bytes().filter(u8::is_ascii_digit).skip_while(|digit| *digit == b'0');
        let plain = typed.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
        (plain && digits.count() >= 3).then(|| Self::of(typed)).flatten()
    }

    /// Of a time in whole minutes.
    pub(in crate::study) fn of_time(typed: &str) -> Option<Self> {
        (typed.len() >= 2).then(|| Self::of(typed)).flatten()
    }

    fn of(typed: &str) -> Option<Self> {
        let digit = typed.bytes().last()?.checked_sub(b'0').filter(|digit| *digit <= 9)?;
        Some(Self { digit, decimals: typed.contains('.') })
    }
}

/// What was typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DigitQuantity {
    /// Air kerma.
    AirKerma,
    /// Kerma-area product.
    KermaArea,
    /// Skin-to-skin time.
    SkinToSkin,
}

impl DigitQuantity {
    const ALL: [Self; 3] = [Self::AirKerma, Self::KermaArea, Self::SkinToSkin];

    /// The name in running text.
    pub fn name(self) -> &'static str {
        match self {
            Self::AirKerma => "air kerma",
            Self::KermaArea => "kerma-area product",
            Self::SkinToSkin => "skin-to-skin time",
        }
    }
}

/// Which digits can stand last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DigitsKept {
    /// Whole numbers: 0 to 9.
    Whole,
    /// Numbers with decimals: 1 to 9, because a 0 at their end is not kept.
    Decimals,
}

impl DigitsKept {
    /// The digits.
    pub fn digits(self) -> std::ops::RangeInclusive<u8> {
        match self {
            Self::Whole => 0..=9,
            Self::Decimals => 1..=9,
        }
    }
}

/// The last digits of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct DigitLine {
    /// What was typed.
    pub quantity: DigitQuantity,
    /// Whole numbers or decimals: whichever was typed more often.
    pub kept: DigitsKept,
    /// Numbers looked at.
    pub numbers: u32,
    /// How often each digit stood last, in their order, and how uneven that is; `None` with
    /// too few to say.
    pub found: Option<(Vec<u32>, EvennessTest)>,
}

impl DigitLine {
    fn of(quantity: DigitQuantity, lasts: impl Iterator<Item = LastDigits>) -> Self {
        let (mut whole, mut decimals) = ([0_u32; 10], [0_u32; 10]);
        for last in lasts.filter_map(|lasts| lasts[quantity as usize]) {
            let counts = if last.decimals { &mut decimals } else { &mut whole };
            counts[usize::from(last.digit)] += 1;
        }
        let sum = |counts: &[u32; 10]| counts.iter().sum::<u32>();
        let (kept, counts) = if sum(&whole) >= sum(&decimals) {
            (DigitsKept::Whole, &whole[..])
        } else {
            (DigitsKept::Decimals, &decimals[1..])
        };
        let numbers = counts.iter().sum();
        let found = if numbers < FEW { None } else { tested(counts) };
        Self { quantity, kept, numbers, found }
    }

    /// The digits that stand out, if the numbers look rounded.
    pub fn heaped(&self) -> Option<Vec<u8>> {
        let (counts, test) = self.found.as_ref()?;
        let usual = f64::from(self.numbers) / counts.len() as f64;
        let heaped = self.kept.digits().zip(counts).filter(|(_, n)| f64::from(**n) >= UNUSUAL_TIMES * usual);
        let heaped: Vec<u8> = heaped.map(|(digit, _)| digit).collect();
        (test.p < UNUSUAL_P && !heaped.is_empty()).then_some(heaped)
    }
}

fn tested(counts: &[u32]) -> Option<(Vec<u32>, EvennessTest)> {
    let counts = CategoryCounts::new(counts.to_vec()).ok()?;
    let few = counts.total() < EXPECTED_FOR_APPROXIMATION * counts.counts().len() as u64;
    let test = if few { even_exact_test(&counts).ok()? } else { even_chi_square_test(&counts) };
    Some((counts.counts().to_vec(), test))
}

/// The last digits of one case, of each quantity.
pub(in crate::study) type LastDigits = [Option<LastDigit>; DigitQuantity::ALL.len()];

/// The three quantities.
pub(in crate::study) fn lines(lasts: impl Iterator<Item = LastDigits> + Clone) -> Vec<DigitLine> {
    DigitQuantity::ALL.into_iter().map(|quantity| DigitLine::of(quantity, lasts.clone())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_last_digit_is_read_where_it_can_tell_something() {
        let dose = |typed| LastDigit::of_dose(typed).map(|last| (last.digit, last.decimals));
        assert_eq!(dose("25.2"), Some((2, true)));
        assert_eq!(dose("1250"), Some((0, false)));
        assert_eq!(dose("0.0252"), Some((2, true)));
        assert_eq!(dose("0.02"), None);
        assert_eq!(dose("25"), None);
        assert_eq!(dose("1e30"), None);
        assert_eq!(dose(""), None);
        let time = |typed| LastDigit::of_time(typed).map(|last| last.digit);
        assert_eq!((time("104"), time("90"), time("9"), time("")), (Some(4), Some(0), None, None));
    }
}
