//! Integer weights in the proportion of an exact key, by which amounts are spread.

use std::ops::DivAssign;
use std::sync::Arc;

use num_bigint::{BigInt, BigUint};
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{CheckedAdd, CheckedMul, FromPrimitive, One, Signed, ToPrimitive, Zero};

use super::fraction::Fraction;
use super::{Decimal, Exact, Overflow, Wholes};

/// Why an amount cannot be spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpreadError {
    /// The weights sum to zero, or there are none: nothing to divide by.
    NoWeight,
    /// A weight is below zero, at this position.
    Negative(usize),
    /// The amount, or a figure of the key, is too large to be held.
    Overflow,
}

impl From<Overflow> for SpreadError {
    fn from(_: Overflow) -> Self {
        Self::Overflow
    }
}

/// Exact integer weights in the proportion of some key.
#[derive(Debug, Clone)]
pub struct Weights(Values);

/// Areas, masses and counts fit 63 bits; the exact values of slabs of many lines need not.
#[derive(Debug, Clone)]
enum Values {
    Narrow { each: Wholes, total: u128 },
    Big { each: Vec<BigUint>, total: BigUint },
}

use Values::{Big, Narrow};

/// Weights as [`Weights::digits`] writes them, one after the other.
#[derive(Debug, Clone, Default)]
pub struct WrittenWeights {
    each: Vec<i64>,
    /// All of them, once one does not fit 63 bits.
    big: Option<Vec<BigUint>>,
}

impl WrittenWeights {
    /// The next weight; `None` where it is no whole number.
    pub fn push(&mut self, digits: &str) -> Option<()> {
        match (digits.parse(), &mut self.big) {
            (Ok(weight @ 0..), None) => self.each.push(weight),
            (_, Some(big)) => big.push(digits.parse().ok()?),
            (_, None) => {
                let each = self.each.drain(..).map(|weight| weight.unsigned_abs().into());
                let next = digits.parse().ok()?;
                self.big = Some(each.chain([next]).collect());
            }
        }
        Some(())
    }

    /// The weights so far; the next ones begin anew.
    pub fn take(&mut self) -> Weights {
        match self.big.take() {
            Some(big) => Weights::big(big),
            None => {
                let weights = Weights::narrow_of(&mut self.each);
                self.each.clear();
                weights
            }
        }
    }
}

/// A share of a whole number of units: the units below it, and what it has beyond them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cut {
    /// The exact share rounded down (towards less, for a credit too).
    pub floor: i64,
    /// Whether there is anything beyond.
    pub is_open: bool,
    /// How much that is, in parts of [`Cut::WHOLE`], rounded down.
    pub beyond: i64,
}

impl Cut {
    /// One unit, in the parts that [`Cut::beyond`] counts.
    pub const WHOLE: i64 = 1 << 32;
}

impl Weights {
    /// Weights in proportion to decimals (areas in m2, masses in kg, amounts of money), scaled to
    /// integers without losing a digit.
    ///
    /// # Errors
    /// [`SpreadError::Negative`].
    pub fn of(
        key: impl IntoIterator<Item = Decimal, IntoIter: Clone>,
    ) -> Result<Self, SpreadError> {
        let key = key.into_iter();
        if let Some(position) = key.clone().position(|decimal| decimal.mantissa() < 0) {
            return Err(SpreadError::Negative(position));
        }
        let scale = key.clone().map(|decimal| decimal.scale()).max().unwrap_or(0);
        let narrow = |decimal: Decimal| {
            let digits = i64::try_from(decimal.mantissa()).ok()?;
            digits.checked_mul(10i64.checked_pow(scale - decimal.scale())?)
        };
        if let Some(each) = key.clone().map(narrow).collect::<Option<Vec<i64>>>() {
            return Ok(Self::narrow(each));
        }
        let big = |decimal: Decimal| {
            let digits = BigUint::from(decimal.mantissa().unsigned_abs());
            digits * BigUint::from(10u32).pow(scale - decimal.scale())
        };
        Ok(Self::big(key.map(big).collect()))
    }

    /// Weights in proportion to exact amounts of one currency.
    ///
    /// # Errors
    /// [`SpreadError::Negative`], or [`SpreadError::Overflow`] where the currencies differ.
    pub fn of_exact(key: &[Exact]) -> Result<Self, SpreadError> {
        let Some(first) = key.first() else { return Ok(Self::narrow(Vec::new())) };
        if key.iter().any(|one| one.currency() != first.currency()) {
            return Err(SpreadError::Overflow);
        }
        if let Some(position) = key.iter().position(Exact::is_negative) {
            return Err(SpreadError::Negative(position));
        }
        // The parts of one amount have one denominator, and nothing has any.
        let small = |one: &Exact| one.fraction().small();
        let common = key.iter().filter_map(small).find(|(num, _)| *num != 0);
        let alike = |one: &Exact| {
            let (num, den) = small(one)?;
            let is_like = num == 0 || common.is_some_and(|(_, common)| den == common);
            u128::try_from(num).ok().filter(|_| is_like)
        };
        if let Some(each) = key.iter().map(alike).collect::<Option<Vec<u128>>>() {
            return Ok(Self::wide(each));
        }
        let parts: Vec<_> = key.iter().map(|one| one.fraction().big()).collect();
        let common = parts.iter().fold(BigInt::one(), |common, part| common.lcm(part.denom()));
        let whole =
            |part: &BigRational| (part.numer() * (&common / part.denom())).magnitude().clone();
        Ok(Self::big(parts.iter().map(whole).collect()))
    }

    /// The weight at a position as a whole number, for a file.
    pub fn digits(&self, position: usize) -> String {
        self.at(position).to_string()
    }

    /// Whether a position has any weight.
    pub fn has(&self, position: usize) -> bool {
        self.small(position) != Some(0)
    }

    /// Weights in proportion to what each of `len` places has of some amounts of one currency together. Each
    /// amount is shared by weights of its own; `place` says where the share at a position of them lies.
    ///
    /// # Errors
    /// [`SpreadError::Negative`], or [`SpreadError::Overflow`] where the currencies differ.
    pub(crate) fn of_shares<P: Iterator<Item = usize>>(
        len: usize,
        amounts: &[(Exact, Arc<Self>)],
        places: impl Fn(usize) -> P,
    ) -> Result<Self, SpreadError> {
        if amounts
            .windows(2)
            .any(|two| matches!(two, [(one, _), (other, _)] if one.currency() != other.currency()))
        {
            return Err(SpreadError::Overflow);
        }
        // What a weight of one stands for in each amount, brought to one denominator.
        let one = |(amount, weights): &(Exact, Arc<Self>)| amount.fraction().times(&weights.one());
        let ones: Vec<BigRational> = amounts.iter().map(|each| one(each).big()).collect();
        let common = ones.iter().fold(BigInt::one(), |common, one| common.lcm(one.denom()));
        let mut factors: Vec<BigInt> =
            ones.iter().map(|one| one.numer() * (&common / one.denom())).collect();
        reduce(&mut factors);
        let each = || amounts.iter().zip(&factors).enumerate();
        if let Some(sums) = Self::summed::<i64, P>(len, each(), &places) {
            return match sums.iter().position(|sum| *sum < 0) {
                Some(position) => Err(SpreadError::Negative(position)),
                None => Ok(Self::narrow(sums)),
            };
        }
        if let Some(sums) = Self::summed::<i128, P>(len, each(), &places) {
            return match sums.iter().position(|sum| *sum < 0) {
                Some(position) => Err(SpreadError::Negative(position)),
                None => Ok(Self::wide(sums.into_iter().map(i128::unsigned_abs).collect())),
            };
        }
        let mut sums = vec![BigInt::ZERO; len];
        for (at, ((_, weights), factor)) in each() {
            for (position, place) in places(at).enumerate() {
                if let Some(sum) = sums.get_mut(place) {
                    *sum += factor * BigInt::from(weights.at(position));
                }
            }
        }
        if let Some(position) = sums.iter().position(Signed::is_negative) {
            return Err(SpreadError::Negative(position));
        }
        Ok(Self::big(sums.into_iter().map(BigInt::into_parts).map(|(_, sum)| sum).collect()))
    }

    /// Adds up the shares of each place; `None` where a number of this kind does not hold them.
    fn summed<'w, T, P>(
        len: usize,
        each: impl Iterator<Item = (usize, (&'w (Exact, Arc<Self>), &'w BigInt))>,
        places: impl Fn(usize) -> P,
    ) -> Option<Vec<T>>
    where
        T: Clone + Zero + CheckedAdd + CheckedMul + FromPrimitive,
        P: Iterator<Item = usize>,
    {
        let mut sums = vec![T::zero(); len];
        for (at, ((_, weights), factor)) in each {
            let factor = T::from_i128(factor.to_i128()?)?;
            for (position, place) in places(at).enumerate() {
                let sum = sums.get_mut(place)?;
                let share = factor.checked_mul(&T::from_i64(weights.small(position)?)?)?;
                *sum = sum.checked_add(&share)?;
            }
        }
        Some(sums)
    }

    /// The part of the whole that a weight of one is; nothing where there is no weight.
    fn one(&self) -> Fraction {
        match &self.0 {
            _ if self.is_nothing() => Fraction::whole(0),
            Narrow { total, .. } => Fraction::ratio(1, *total),
            Big { total, .. } => Fraction::big_ratio(BigUint::one(), total.clone()),
        }
    }

    /// The weight at a position, where 63 bits hold it.
    fn small(&self, position: usize) -> Option<i64> {
        match &self.0 {
            Narrow { each, .. } => Some(each.at(position)),
            Big { each, .. } => each.get(position)?.to_i64(),
        }
    }

    /// The weight at a position.
    fn at(&self, position: usize) -> BigUint {
        match &self.0 {
            Narrow { each, .. } => each.at(position).unsigned_abs().into(),
            Big { each, .. } => each.get(position).cloned().unwrap_or_default(),
        }
    }

    /// As many equal weights.
    pub fn equal(count: usize) -> Self {
        Self::narrow(vec![1; count])
    }

    /// The proportion is all that matters, and small figures are soon multiplied.
    fn narrow(mut each: Vec<i64>) -> Self {
        Self::narrow_of(&mut each)
    }

    fn narrow_of(each: &mut [i64]) -> Self {
        reduce(each);
        let total = each.iter().map(|weight| u128::from(weight.unsigned_abs())).sum();
        Self(Narrow { each: Wholes::new(each), total })
    }

    fn wide(mut each: Vec<u128>) -> Self {
        reduce(&mut each);
        if each.iter().any(|weight| i64::try_from(*weight).is_err()) {
            return Self::big(each.into_iter().map(BigUint::from).collect());
        }
        let mut narrow = Vec::with_capacity(each.len());
        narrow.extend(each.iter().filter_map(|weight| i64::try_from(*weight).ok()));
        drop(each);
        Self::narrow(narrow)
    }

    fn big(mut each: Vec<BigUint>) -> Self {
        reduce(&mut each);
        if let Some(each) = each.iter().map(ToPrimitive::to_i64).collect::<Option<Vec<i64>>>() {
            return Self::narrow(each);
        }
        let total = each.iter().sum();
        Self(Big { each, total })
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        match &self.0 {
            Narrow { each, .. } => each.len(),
            Big { each, .. } => each.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Whether all of them are nothing, so that nothing can be spread by them.
    pub fn is_nothing(&self) -> bool {
        match &self.0 {
            Narrow { total, .. } => *total == 0,
            Big { total, .. } => total.is_zero(),
        }
    }

    /// The weights at some positions, in that order.
    #[must_use]
    pub fn among(&self, positions: impl Iterator<Item = usize>) -> Self {
        match &self.0 {
            Narrow { each, .. } => Self::narrow(positions.map(|at| each.at(at)).collect()),
            Big { each, .. } => {
                let at = |position: usize| each.get(position).cloned().unwrap_or_default();
                Self::big(positions.map(at).collect())
            }
        }
    }

    /// The exact share of an amount that falls to some positions together; nothing of no weight.
    #[must_use]
    pub fn share(&self, amount: &Exact, positions: impl Iterator<Item = usize>) -> Exact {
        amount.part(&self.part(positions))
    }

    /// What some positions weigh together, of the whole; nothing of no weight.
    fn part(&self, positions: impl Iterator<Item = usize>) -> Fraction {
        match &self.0 {
            _ if self.is_nothing() => Fraction::whole(0),
            Narrow { each, total } => {
                let own = positions.map(|at| u128::from(each.at(at).unsigned_abs()));
                Fraction::ratio(own.sum(), *total)
            }
            Big { each, total } => {
                let own = positions.filter_map(|position| each.get(position));
                Fraction::big_ratio(own.sum(), total.clone())
            }
        }
    }

    /// The share of a whole number of units at a position, cut at a whole unit. Weights that are
    /// nothing have none.
    pub fn cut(&self, units: i64, position: usize) -> Cut {
        let magnitude = units.unsigned_abs();
        let (whole, rest, beyond) = match &self.0 {
            _ if self.is_nothing() => (0, false, 0),
            Narrow { each, total } => {
                let (whole, rest) = divided(each.at(position).unsigned_abs(), magnitude, *total);
                (whole, rest > 0, part_beyond(rest, *total))
            }
            Big { each, total } => {
                let weight = each.get(position).cloned().unwrap_or_default();
                let (whole, rest) = (weight * magnitude).div_rem(total);
                let beyond = (&rest << 32u32) / total;
                let whole = whole.to_u64().unwrap_or(u64::MAX);
                (whole, !rest.is_zero(), beyond.to_i64().unwrap_or(0))
            }
        };
        let whole = i64::try_from(whole).unwrap_or(i64::MAX);
        match (units < 0, rest) {
            (false, _) => Cut { floor: whole, is_open: rest, beyond },
            (true, false) => Cut { floor: -whole, is_open: false, beyond: 0 },
            // Below the exact share, the next whole unit is one further from nothing.
            (true, true) => {
                Cut { floor: -whole - 1, is_open: true, beyond: (Cut::WHOLE - 1 - beyond).max(0) }
            }
        }
    }

    /// The share of a whole number of units at a position rounded down, and the rest: of the same units the rests
    /// at all positions are in one measure. Of weights that are not nothing.
    pub(super) fn floor_and_rest(&self, units: u64, position: usize) -> (u64, Rest) {
        match &self.0 {
            Narrow { each, total } => {
                let (whole, rest) = divided(each.at(position).unsigned_abs(), units, *total);
                (whole, Rest::Small(rest))
            }
            Big { each, total } => {
                let weight = each.get(position).cloned().unwrap_or_default();
                let (whole, rest) = (weight * units).div_rem(total);
                (whole.to_u64().unwrap_or(u64::MAX), Rest::Large(rest))
            }
        }
    }

    /// What the shares of a whole number of units at some positions have beyond the units below each,
    /// exactly.
    pub(crate) fn beyond(
        &self,
        units: i64,
        positions: impl Iterator<Item = usize> + Clone,
    ) -> Fraction {
        let floors = positions.clone().map(|at| i128::from(self.cut(units, at).floor)).sum();
        let exact = self.part(positions).times(&Fraction::whole(units.into()));
        exact.minus(&Fraction::whole(floors))
    }
}

/// Divides weights by what divides all of them.
fn reduce<T: Integer + for<'a> DivAssign<&'a T>>(each: &mut [T]) {
    let mut factor = T::zero();
    for weight in &*each {
        factor = factor.gcd(weight);
        if factor.is_one() {
            return;
        }
    }
    if !factor.is_zero() {
        for weight in each {
            *weight /= &factor;
        }
    }
}

/// What a share leaves when it is rounded down.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Rest {
    Small(u128),
    Large(BigUint),
}

/// A weight's share of so many units, rounded down, and its rest in parts of the total.
fn divided(weight: u64, units: u64, total: u128) -> (u64, u128) {
    // Most products fit 64 bits, where a division takes a tenth of the time.
    if let (Some(product), Ok(total)) = (weight.checked_mul(units), u64::try_from(total)) {
        return (product / total, (product % total).into());
    }
    let product = u128::from(weight) * u128::from(units);
    let whole = product / total;
    // The magnitude is a whole share's, and larger than this one.
    (u64::try_from(whole).unwrap_or(u64::MAX), product - whole * total)
}

/// A rest in parts of [`Cut::WHOLE`] of the total, rounded down: too small by less than one part.
fn part_beyond(rest: u128, total: u128) -> i64 {
    // Narrow weights add up to so much less than 2^96 that nothing is lost.
    match (u32::try_from(rest), u64::try_from(total)) {
        (Ok(rest), Ok(total)) => i64::try_from((u64::from(rest) << 32) / total).unwrap_or(0),
        _ => i64::try_from((rest << 32) / total).unwrap_or(0),
    }
}

#[cfg(test)]
mod tests {
    use super::super::Currency;
    use super::*;
    use proptest::prelude::*;

    fn units(count: i64) -> Exact {
        Exact::new(Decimal::from(count), Currency::from_code("JPY").unwrap())
    }

    proptest! {
        #[test]
        fn a_cut_is_the_exact_share_and_less_than_a_unit_below_it(
            count in any::<i32>(),
            key in prop::collection::vec(0u64..1 << 40, 1..12),
            factor in prop_oneof![Just(1u128), Just(1 << 70)],
        ) {
            prop_assume!(key.iter().any(|weight| *weight > 0));
            let count = i64::from(count);
            // The same proportions, with and without room in 64 bits.
            let each: Vec<BigUint> = key.iter().map(|weight| BigUint::from(*weight) * factor).collect();
            let total = each.iter().sum();
            let weights = if factor == 1 { Weights::big(each) } else { Weights(Big { each, total }) };
            for at in 0..key.len() {
                let cut = weights.cut(count, at);
                let exact = weights.share(&units(count), [at].into_iter());
                let beyond = exact.minus(&units(cut.floor)).unwrap();
                prop_assert!(!beyond.is_negative());
                prop_assert_eq!(!beyond.is_zero(), cut.is_open);
                prop_assert_eq!(beyond.fraction(), &weights.beyond(count, [at].into_iter()));
                let parts = beyond.times(Decimal::from(Cut::WHOLE));
                let error = parts.minus(&units(cut.beyond)).unwrap();
                prop_assert!(!error.is_negative());
                prop_assert!(!error.minus(&units(1)).unwrap().fraction().is_positive());
            }
        }
    }

    #[test]
    fn weights_of_exact_amounts_keep_their_proportion() {
        // A third and a seventh of one amount are as 7 and 3.
        let amount = units(1_000);
        let thirds = Weights::equal(3).share(&amount, 0..1);
        let sevenths = Weights::equal(7).share(&amount, 0..1);
        let weights = Weights::of_exact(&[thirds, sevenths]).unwrap();
        assert_eq!(weights.divide_units(10), Ok(vec![7, 3]));
        assert_eq!(
            Weights::of_exact(&[units(1), units(-1)]).unwrap_err(),
            SpreadError::Negative(1)
        );
    }

    #[test]
    fn weights_of_shares_are_those_of_their_sums() {
        // 700 by 1 to 2 over the first two of three, 300 by 1 to 1 over the last two, and 10 less for all:
        // 233 1/3 - 3 1/3, 466 2/3 + 150 - 3 1/3 and 150 - 3 1/3.
        let shares = |weights: Weights, units_of: i64| (units(units_of), Arc::new(weights));
        let key = |of: &[u64]| Weights::of(of.iter().map(|one| Decimal::from(*one))).unwrap();
        for factor in [1, i64::MAX / 1_000] {
            let amounts = [
                shares(key(&[1, 2]), 700 * factor),
                shares(Weights::equal(2), 300 * factor),
                shares(Weights::equal(3), -10 * factor),
            ];
            let places = |at: usize| [0..2, 1..3, 0..3][at].clone();
            let weights = Weights::of_shares(3, &amounts, places).unwrap();
            assert_eq!(weights.divide_units(2_970), Ok(vec![690, 1_840, 440]));
        }
        let less = [shares(Weights::equal(2), 5), shares(Weights::equal(2), -9)];
        let error = Weights::of_shares(2, &less, |_| 0..2).unwrap_err();
        assert_eq!(error, SpreadError::Negative(0));
    }

    #[test]
    fn weights_of_many_digits_are_no_fault() {
        let fine = Decimal::from_i128_with_scale(1, 28);
        let weights = Weights::of([Decimal::from(1_000_000_000_000i64), fine]).unwrap();
        assert_eq!(weights.divide_units(5), Ok(vec![5, 0]));
    }
}
