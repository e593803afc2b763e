//! A fraction in 128 bits, which falls back on big integers where those are not enough.
//!
//! Decided on 2026-11-26. More than half of a costing was arithmetic on big integers. A fraction is reduced
//! only when it would overflow, and a property test holds both ways equal.

use std::cmp::Ordering;

use num_bigint::{BigInt, BigUint};
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};
use rust_decimal::Decimal;

use super::Overflow;
use super::number::{self, Decimals};

/// An exact fraction. Its parts are not reduced until they would overflow: nearly every amount fits
/// as it is, and a reduction costs more than all the rest.
#[derive(Clone, Debug)]
pub(crate) struct Fraction(Value);

#[derive(Clone, Debug)]
enum Value {
    /// The denominator is above zero.
    Small {
        num: i128,
        den: i128,
    },
    Large(Box<BigRational>),
}

use Value::{Large, Small};

impl Fraction {
    /// The value of a decimal.
    pub(crate) fn of(value: Decimal) -> Self {
        // A decimal has at most 28 places, and ten to that power fits.
        match 10i128.checked_pow(value.scale()) {
            Some(den) => Self(Small { num: value.mantissa(), den }),
            None => Self::large(number::rational(value)),
        }
    }

    /// A whole number.
    pub(crate) fn whole(value: i128) -> Self {
        Self(Small { num: value, den: 1 })
    }

    /// One whole number over another, which is not zero.
    pub(crate) fn ratio(part: u128, whole: u128) -> Self {
        match (i128::try_from(part), i128::try_from(whole)) {
            (Ok(num), Ok(den)) => Self(Small { num, den }),
            _ => Self::large(BigRational::new(part.into(), whole.into())),
        }
    }

    /// The same of big numbers.
    pub(crate) fn big_ratio(part: BigUint, whole: BigUint) -> Self {
        Self::large(BigRational::new(part.into(), whole.into()))
    }

    /// A big fraction, in 128 bits again where it fits.
    fn large(value: BigRational) -> Self {
        match (value.numer().to_i128(), value.denom().to_i128()) {
            (Some(num), Some(den)) => Self(Small { num, den }),
            _ => Self(Large(Box::new(value))),
        }
    }

    /// The fraction in lowest terms.
    pub(super) fn big(&self) -> BigRational {
        match &self.0 {
            Small { num, den } => BigRational::new(BigInt::from(*num), BigInt::from(*den)),
            Large(value) => (**value).clone(),
        }
    }

    /// The parts as they are held; `None` where they are big.
    pub(super) fn small(&self) -> Option<(i128, i128)> {
        match self.0 {
            Small { num, den } => Some((num, den)),
            Large(_) => None,
        }
    }

    /// The parts in lowest terms, the lower above zero; `None` where they are big.
    pub(crate) fn reduced(&self) -> Option<(i128, i128)> {
        let Small { num, den } = self.0 else { return None };
        // The least of all numbers has no magnitude of its own kind.
        let common = if num == i128::MIN { 1 } else { num.gcd(&den).max(1) };
        Some((num / common, den / common))
    }

    /// The same fraction with parts as small as they can be.
    pub(crate) fn in_lowest_terms(&self) -> Self {
        match self.reduced() {
            Some((num, den)) => Self(Small { num, den }),
            None => self.clone(),
        }
    }

    /// Works two fractions out in 128 bits: as they are, then in lowest terms, then in big integers.
    fn worked(
        &self,
        other: &Self,
        small: impl Fn((i128, i128), (i128, i128)) -> Option<(i128, i128)>,
        big: impl FnOnce(BigRational, BigRational) -> BigRational,
    ) -> Self {
        let plain = match (&self.0, &other.0) {
            (Small { num, den }, Small { num: more, den: parts }) => {
                small((*num, *den), (*more, *parts))
            }
            _ => None,
        };
        let known = plain.or_else(|| small(self.reduced()?, other.reduced()?));
        match known {
            Some((num, den)) => Self(Small { num, den }),
            None => Self::large(big(self.big(), other.big())),
        }
    }

    pub(crate) fn plus(&self, other: &Self) -> Self {
        let sum = |(a, b): (i128, i128), (c, d): (i128, i128)| {
            if b == d {
                return Some((a.checked_add(c)?, b));
            }
            let num = a.checked_mul(d)?.checked_add(c.checked_mul(b)?)?;
            Some((num, b.checked_mul(d)?))
        };
        self.worked(other, sum, |a, b| a + b)
    }

    pub(crate) fn minus(&self, other: &Self) -> Self {
        self.plus(&other.negated())
    }

    pub(crate) fn times(&self, other: &Self) -> Self {
        let product = |(a, b): (i128, i128), (c, d): (i128, i128)| {
            Some((a.checked_mul(c)?, b.checked_mul(d)?))
        };
        self.worked(other, product, |a, b| a * b)
    }

    /// The quotient by a fraction that is not zero.
    pub(crate) fn over(&self, other: &Self) -> Self {
        let quotient = |(a, b): (i128, i128), (c, d): (i128, i128)| {
            let (num, den) = (a.checked_mul(d)?, b.checked_mul(c)?);
            // The sign belongs above.
            if den < 0 { Some((num.checked_neg()?, den.checked_neg()?)) } else { Some((num, den)) }
        };
        self.worked(other, quotient, |a, b| a / b)
    }

    pub(crate) fn negated(&self) -> Self {
        match self.0 {
            Small { num, den } if num != i128::MIN => Self(Small { num: -num, den }),
            _ => Self::large(-self.big()),
        }
    }

    pub(crate) fn abs(&self) -> Self {
        if self.is_negative() { self.negated() } else { self.clone() }
    }

    pub(crate) fn is_zero(&self) -> bool {
        match &self.0 {
            Small { num, .. } => *num == 0,
            Large(value) => value.is_zero(),
        }
    }

    pub(crate) fn is_negative(&self) -> bool {
        match &self.0 {
            Small { num, .. } => *num < 0,
            Large(value) => value.is_negative(),
        }
    }

    pub(crate) fn is_positive(&self) -> bool {
        !self.is_zero() && !self.is_negative()
    }

    /// The least whole number that is not below the fraction.
    pub(crate) fn ceil(&self) -> Self {
        match &self.0 {
            Small { num, den } => {
                let whole = num.div_euclid(*den);
                Self(Small { num: whole + i128::from(num.rem_euclid(*den) != 0), den: 1 })
            }
            Large(value) => Self::large(value.ceil()),
        }
    }

    /// Its whole part, towards zero; `None` where 64 bits are not enough.
    pub(crate) fn to_i64(&self) -> Option<i64> {
        match &self.0 {
            Small { num, den } => i64::try_from(num / den).ok(),
            Large(value) => value.to_integer().to_i64(),
        }
    }

    /// Whether it is a whole number.
    pub(crate) fn is_whole(&self) -> bool {
        match &self.0 {
            Small { num, den } => num % den == 0,
            Large(value) => value.is_integer(),
        }
    }

    /// Rounds half away from zero to a decimal of `places` places.
    ///
    /// # Errors
    /// Where the decimal cannot be held.
    pub(crate) fn round(&self, places: Decimals, what: &'static str) -> Result<Decimal, Overflow> {
        match self.rounded(places) {
            Some(digits) => {
                Decimal::try_from_i128_with_scale(digits, places).map_err(|_| Overflow { what })
            }
            None => number::round_rational(&self.big(), places, what),
        }
    }

    /// The digits of the rounded decimal; `None` where 128 bits are not enough.
    fn rounded(&self, places: Decimals) -> Option<i128> {
        let unit = 10i128.checked_pow(places)?;
        let scaled = |(num, den): (i128, i128)| Some((num.checked_mul(unit)?, den));
        let plain = match self.0 {
            Small { num, den } => scaled((num, den)),
            Large(_) => None,
        };
        let (num, den) = plain.or_else(|| scaled(self.reduced()?))?;
        let den = den.unsigned_abs();
        let (whole, rest) = num.unsigned_abs().div_rem(&den);
        let whole = i128::try_from(whole + u128::from(rest >= den - rest)).ok()?;
        Some(if num < 0 { -whole } else { whole })
    }
}

/// `part` over `whole`, rounded half away from zero: for quotients that are shown and never
/// summed (unit costs, percentages). `None` where there is nothing to divide by.
pub fn ratio(part: Decimal, whole: Decimal, places: Decimals) -> Option<Decimal> {
    if whole.is_zero() {
        return None;
    }
    Fraction::of(part).over(&Fraction::of(whole)).round(places, "a quotient").ok()
}

impl PartialEq for Fraction {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Fraction {}

impl PartialOrd for Fraction {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Fraction {
    fn cmp(&self, other: &Self) -> Ordering {
        let order = |(a, b): (i128, i128), (c, d): (i128, i128)| {
            Some(a.checked_mul(d)?.cmp(&c.checked_mul(b)?))
        };
        let plain = match (&self.0, &other.0) {
            (Small { num: a, den: b }, Small { num: c, den: d }) if b == d => Some(a.cmp(c)),
            (Small { num: a, den: b }, Small { num: c, den: d }) => order((*a, *b), (*c, *d)),
            _ => None,
        };
        plain
            .or_else(|| order(self.reduced()?, other.reduced()?))
            .unwrap_or_else(|| self.big().cmp(&other.big()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn two_ways() -> impl Strategy<Value = (Fraction, BigRational)> {
        // Of every size, so that results lie on both sides of 128 bits.
        (any::<i128>(), 1u128..u128::MAX, 0u32..127, 0u32..127, any::<bool>()).prop_map(
            |(num, den, less, shift, is_big)| {
                let (num, den) = (num >> less, (den >> shift).max(1));
                let big = BigRational::new(num.into(), den.into());
                let magnitude = Fraction::ratio(num.unsigned_abs(), den);
                let fraction = if num < 0 { magnitude.negated() } else { magnitude };
                // As what a long sum leaves behind.
                let fraction =
                    if is_big { Fraction(Large(Box::new(fraction.big()))) } else { fraction };
                (fraction, big)
            },
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]

        #[test]
        fn it_is_worked_out_as_a_big_fraction_is(
            (a, wide_a) in two_ways(), (b, wide_b) in two_ways(), places in 0u32..8,
        ) {
            prop_assert_eq!(a.big(), wide_a.clone());
            prop_assert_eq!(a.plus(&b).big(), &wide_a + &wide_b);
            prop_assert_eq!(a.times(&b).big(), &wide_a * &wide_b);
            prop_assert_eq!(a.negated().big(), -&wide_a);
            prop_assert_eq!(a.ceil().big(), wide_a.ceil());
            prop_assert_eq!(a.is_whole(), wide_a.is_integer());
            prop_assert_eq!(a.cmp(&b), wide_a.cmp(&wide_b));
            prop_assert_eq!(a.is_negative(), wide_a.is_negative());
            prop_assert_eq!(a.is_zero(), wide_a.is_zero());
            prop_assert_eq!(a.round(places, "t"), number::round_rational(&wide_a, places, "t"));
            if !b.is_zero() {
                prop_assert_eq!(a.over(&b).big(), &wide_a / &wide_b);
            }
        }

        #[test]
        fn a_long_chain_stays_exact(
            steps in prop::collection::vec((any::<i32>(), 0u32..9, 0u8..4), 1..40),
        ) {
            let mut value = Fraction::of(Decimal::ONE);
            let mut wide = number::rational(Decimal::ONE);
            for (digits, scale, step) in steps {
                let decimal = Decimal::new(i64::from(digits), scale);
                let (one, other) = (Fraction::of(decimal), number::rational(decimal));
                match step {
                    0 => (value, wide) = (value.plus(&one), wide + other),
                    1 => (value, wide) = (value.times(&one), wide * other),
                    2 if digits != 0 => (value, wide) = (value.over(&one), wide / other),
                    _ => (value, wide) = (value.plus(&one.negated()), wide - other),
                }
                prop_assert_eq!(value.big(), wide.clone());
            }
        }
    }

    #[test]
    fn two_forms_of_one_fraction_are_equal() {
        assert_eq!(Fraction::ratio(1, 3), Fraction::ratio(4, 12));
        assert_eq!(Fraction::of(Decimal::new(50, 2)), Fraction::ratio(1, 2));
    }
}
