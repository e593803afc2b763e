//! Where a draw stands in its ranges: the same seed, draw and source give the same place everywhere.
//!
//! Decided on 2026-11-27. A number is the opening of the SHA-256 (FIPS 180-4) of seed, draw and source. So no
//! draw waits for the one before, and no count of threads changes an answer.

use sha2::{Digest, Sha256};

use crate::quantity::Decimal;

/// Places of a number that is drawn.
const PLACES: u32 = 9;
/// Numbers that can be drawn.
const ALL: u64 = 1_000_000_000;

/// A number from nothing to one, each as likely: the middle of one of a thousand million equal parts.
pub(super) fn drawn(seed: u64, draw: u64, source: u64) -> Decimal {
    let mut hash = Sha256::new();
    for word in [seed, draw, source] {
        hash.update(word.to_be_bytes());
    }
    let opening =
        hash.finalize().iter().take(8).fold(0u128, |all, byte| (all << 8) | u128::from(*byte));
    let part = (opening * u128::from(ALL)) >> 64;
    let tenfold = i128::try_from(part).unwrap_or(0) * 10 + 5;
    Decimal::try_from_i128_with_scale(tenfold, PLACES + 1).unwrap_or_default()
}

/// Where in a triangular range a number stands, from nothing at its lower end to one at its upper. `mode` is
/// where its likeliest value stands: F(x) = x2 / mode up to it, 1 - (1 - x)2 / (1 - mode) from there on.
pub(super) fn triangular(number: Decimal, mode: Decimal) -> Option<Decimal> {
    let root = |square: Decimal| {
        // Ten places under the root have twenty before it.
        let scaled = square.checked_mul(Decimal::from(ALL) * Decimal::TEN)?.trunc();
        let whole = u128::try_from(scaled).ok()?.checked_mul(u128::from(ALL) * 10)?.isqrt();
        Decimal::try_from_i128_with_scale(i128::try_from(whole).ok()?, PLACES + 1).ok()
    };
    if number < mode {
        root(number.checked_mul(mode)?)
    } else {
        let rest = (Decimal::ONE - number).checked_mul(Decimal::ONE - mode)?;
        Some(Decimal::ONE - root(rest)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::ratio;

    fn percentile(sorted: &[Decimal], hundredths: usize) -> Decimal {
        sorted[(sorted.len() * hundredths).div_ceil(1_000) - 1]
    }

    /// JCGM 101:2008, 9.2.2: the sum of four rectangular inputs of mean 0 and standard uncertainty 1 lies in
    /// +-3.88 with 95 %. Its P10 and P90 are +-2.610 (computed from the same distribution).
    #[test]
    fn four_rectangular_inputs_have_the_interval_of_jcgm_101() {
        let root_3 = Decimal::new(1_732_051, 6);
        let sum = |draw: u64| {
            let inputs = (0..4)
                .map(|source| (drawn(7, draw, source) * Decimal::TWO - Decimal::ONE) * root_3);
            inputs.sum::<Decimal>()
        };
        let mut all: Vec<Decimal> = (0..20_000).map(sum).collect();
        all.sort_unstable();
        for (at, expected) in [(25, -388), (975, 388), (100, -261), (900, 261)] {
            let off = (percentile(&all, at) - Decimal::new(expected, 2)).abs();
            assert!(off < Decimal::new(9, 2), "{at}: {}", percentile(&all, at));
        }
    }

    #[test]
    fn a_triangle_stands_where_its_distribution_says() {
        let at = |number: i64, mode: i64| {
            let place = triangular(Decimal::new(number, 4), Decimal::new(mode, 4)).unwrap();
            ratio(place, Decimal::ONE, 4).unwrap()
        };
        // By hand, the mode in the middle: F(0.5) = 0.5, F(0.25) = 2 x 0.0625 = 0.125.
        assert_eq!(
            [at(5_000, 5_000), at(1_250, 5_000), at(8_750, 5_000)],
            [5_000, 2_500, 7_500].map(|one| Decimal::new(one, 4))
        );
        // The mode at an end: F(x) = x2 with it at the upper, 1 - (1 - x)2 at the lower.
        assert_eq!([at(2_500, 10_000), at(7_500, 0)], [Decimal::new(5, 1); 2]);
    }
}
