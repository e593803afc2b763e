//! Exact division of an amount over slabs, by largest remainder (rule R3).

use std::cmp::Reverse;

use num_integer::Integer;
use num_traits::PrimInt;
use strength_reduce::StrengthReducedU64;

use super::{Decimal, Money, Overflow};

/// Why an amount cannot be spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpreadError {
    /// The weights sum to zero, or there are none: nothing to divide by.
    NoWeight,
    /// A weight is below zero, at this position.
    Negative(usize),
    /// Amount or weights are too large to divide exactly.
    Overflow,
}

impl From<Overflow> for SpreadError {
    fn from(_: Overflow) -> Self {
        Self::Overflow
    }
}

/// Exact integer weights in the proportion of some decimal key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weights {
    values: Values,
    total: u128,
}

/// Weights in 64 bits where all of them fit, as they nearly always do: shipments have slabs by the
/// million, and narrow figures take half the room and a fraction of the time.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Values {
    Narrow(Vec<u64>),
    Wide(Vec<u128>),
}

impl Values {
    fn sum(&self) -> Option<u128> {
        match self {
            Self::Narrow(values) => Some(values.iter().map(|value| u128::from(*value)).sum()),
            Self::Wide(values) => values.iter().copied().try_fold(0, u128::checked_add),
        }
    }
}

impl Weights {
    /// Weights in proportion to decimals (areas in m2, masses in kg, amounts of money), scaled to
    /// integers without losing a digit.
    ///
    /// # Errors
    /// [`SpreadError::Negative`], or [`SpreadError::Overflow`] where the digits do not fit.
    pub fn of(key: impl Iterator<Item = Decimal> + Clone) -> Result<Self, SpreadError> {
        // Most keys are all of one scale.
        let first = key.clone().next().map_or(0, |decimal| decimal.scale());
        if let Some(narrow) = narrow(key.clone(), first) {
            return Self::from_values(Values::Narrow(narrow));
        }
        let scale = key.clone().map(|d| d.scale()).max().unwrap_or(0);
        if let Some(narrow) = narrow(key.clone(), scale) {
            return Self::from_values(Values::Narrow(narrow));
        }
        let mut values = Vec::with_capacity(key.size_hint().0);
        for (position, decimal) in key.enumerate() {
            let mantissa =
                u128::try_from(decimal.mantissa()).map_err(|_| SpreadError::Negative(position))?;
            let factor =
                10u128.checked_pow(scale - decimal.scale()).ok_or(SpreadError::Overflow)?;
            values.push(mantissa.checked_mul(factor).ok_or(SpreadError::Overflow)?);
        }
        Self::from_values(Values::Wide(values))
    }

    /// Weights that already are integers.
    ///
    /// # Errors
    /// [`SpreadError::Overflow`] where their sum does not fit.
    pub fn from_integers(values: Vec<u128>) -> Result<Self, SpreadError> {
        Self::from_values(Values::Wide(values))
    }

    /// As many equal weights.
    pub fn equal(count: usize) -> Self {
        Self {
            values: Values::Narrow(vec![1; count]),
            total: count.try_into().unwrap_or(u128::MAX),
        }
    }

    fn from_values(values: Values) -> Result<Self, SpreadError> {
        // The proportion is all that matters: the common factor only costs room.
        let values = match values {
            Values::Narrow(values) => Values::Narrow(without_common_factor(values)),
            Values::Wide(values) => {
                let values = without_common_factor(values);
                let narrow = values.iter().map(|value| u64::try_from(*value).ok()).collect();
                match narrow {
                    Some(narrow) => Values::Narrow(narrow),
                    None => Values::Wide(values),
                }
            }
        };
        let total = values.sum().ok_or(SpreadError::Overflow)?;
        Ok(Self { values, total })
    }

    /// The weight at a position.
    pub fn at(&self, position: usize) -> u128 {
        match &self.values {
            Values::Narrow(values) => values.get(position).copied().map_or(0, u128::from),
            Values::Wide(values) => values.get(position).copied().unwrap_or(0),
        }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        match &self.values {
            Values::Narrow(values) => values.len(),
            Values::Wide(values) => values.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The sum of all weights.
    pub fn total(&self) -> u128 {
        self.total
    }

    /// Divides an amount in proportion to the weights: the shares in minor units, in order.
    ///
    /// Exact shares of the magnitude are floored to the minor unit; the units left over go one
    /// each to the largest remainders, ties to the earlier position; then the sign comes back, so
    /// that a full credit cancels slab by slab. The shares sum to the amount, always, and each
    /// lies within one minor unit of its exact share. (One more cent in the amount can take a
    /// cent from a slab: the 1880 apportionment paradox. That is a known property of the method.)
    ///
    /// # Errors
    /// [`SpreadError::NoWeight`] unless the amount is zero too; [`SpreadError::Overflow`].
    pub fn divide(&self, amount: Money) -> Result<Vec<i64>, SpreadError> {
        self.divide_units(amount.minor()?)
    }

    /// The same for a whole number of any unit, such as grams.
    ///
    /// # Errors
    /// As [`Weights::divide`].
    pub fn divide_units(&self, units: i64) -> Result<Vec<i64>, SpreadError> {
        let mut shares = Vec::with_capacity(self.len());
        self.divide_into(units, &mut shares)?;
        Ok(shares)
    }

    /// The same, the shares added at the end of a list.
    ///
    /// # Errors
    /// As [`Weights::divide`].
    pub fn divide_into(&self, units: i64, shares: &mut Vec<i64>) -> Result<(), SpreadError> {
        if units == 0 {
            shares.resize(shares.len() + self.len(), 0);
            return Ok(());
        }
        if self.total == 0 {
            return Err(SpreadError::NoWeight);
        }
        let start = shares.len();
        let magnitude = units.unsigned_abs();
        if i64::try_from(magnitude).is_err() {
            return Err(SpreadError::Overflow);
        }
        match (&self.values, self.narrow_total(magnitude)) {
            (Values::Narrow(values), Some(total)) => {
                // No product overflows: the largest was tried.
                let product = |weight: u64| weight.wrapping_mul(magnitude);
                if values.len() <= FEW {
                    let split = |weight| product(weight).div_rem(&total);
                    deal(values, split, magnitude, total, shares);
                } else {
                    // One divisor for all: a product by its reciprocal, exact, is quicker.
                    let divisor = StrengthReducedU64::new(total);
                    let split = |weight| StrengthReducedU64::div_rem(product(weight), divisor);
                    deal(values, split, magnitude, total, shares);
                }
            }
            (Values::Narrow(values), None) => {
                let values: Vec<u128> = values.iter().map(|value| u128::from(*value)).collect();
                self.divide_wide(&values, magnitude, shares)?;
            }
            (Values::Wide(values), _) => self.divide_wide(values, magnitude, shares)?,
        }
        if units < 0 {
            for share in shares.iter_mut().skip(start) {
                *share = -*share;
            }
        }
        Ok(())
    }

    /// The weights at some positions.
    ///
    /// # Errors
    /// [`SpreadError::Overflow`] where their sum does not fit.
    pub fn part(
        &self,
        positions: impl Iterator<Item = usize> + Clone,
    ) -> Result<Self, SpreadError> {
        let values = match &self.values {
            Values::Narrow(values) => {
                let at = |position: usize| values.get(position).copied().unwrap_or(0);
                Values::Narrow(positions.map(at).collect())
            }
            Values::Wide(_) => Values::Wide(positions.map(|position| self.at(position)).collect()),
        };
        let total = values.sum().ok_or(SpreadError::Overflow)?;
        Ok(Self { values, total })
    }

    /// The total, where every product of a weight and the magnitude fits 64 bits.
    fn narrow_total(&self, magnitude: u64) -> Option<u64> {
        let total = u64::try_from(self.total).ok()?;
        // No weight is above the total.
        total.checked_mul(magnitude).map(|_| total).or_else(|| {
            let Values::Narrow(values) = &self.values else { return None };
            values.iter().max()?.checked_mul(magnitude).map(|_| total)
        })
    }

    fn divide_wide(
        &self,
        values: &[u128],
        magnitude: u64,
        shares: &mut Vec<i64>,
    ) -> Result<(), SpreadError> {
        let product = |weight: u128| weight.checked_mul(u128::from(magnitude));
        if values.iter().any(|weight| product(*weight).is_none()) {
            return Err(SpreadError::Overflow);
        }
        let split = |weight: u128| {
            let (floor, rest) = product(weight).unwrap_or(0).div_rem(&self.total);
            // A share is at most the magnitude, which is 64 bits wide.
            (u64::try_from(floor).unwrap_or(magnitude), rest)
        };
        deal(values, split, magnitude, self.total, shares);
        Ok(())
    }

    /// One position's share, and whether it received one of the left-over minor units: what
    /// `explain` shows.
    ///
    /// # Errors
    /// As [`Weights::divide`].
    pub fn share_at(&self, amount: Money, position: usize) -> Result<Share, SpreadError> {
        let minor = amount.minor()?;
        let parts = self.divide(amount)?;
        let cents = parts.get(position).copied().ok_or(SpreadError::NoWeight)?;
        let product = self
            .at(position)
            .checked_mul(u128::from(minor.unsigned_abs()))
            .ok_or(SpreadError::Overflow)?;
        let floor = product.checked_div(self.total).unwrap_or(0);
        let leftover = u128::from(cents.unsigned_abs()) > floor;
        Ok(Share { amount: Money::from_minor(cents, amount.currency()), leftover })
    }
}

/// One slab's share of a charge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Share {
    /// The share.
    pub amount: Money,
    /// Whether one of its minor units is a left-over one.
    pub leftover: bool,
}

/// Deals the magnitude out: the floors, and one more to each of the largest remainders, ties to the
/// earlier. `split` gives floor and remainder of a weight's share; `total` is above every
/// remainder.
fn deal<W: Copy, R: Copy + Ord + PrimInt>(
    weights: &[W],
    split: impl Fn(W) -> (u64, R),
    magnitude: u64,
    total: R,
    shares: &mut Vec<i64>,
) {
    let start = shares.len();
    let mut close = Vec::new();
    let left = if weights.len() > FEW {
        deal_many(weights, &split, magnitude, total, shares, &mut close)
    } else {
        close.reserve(weights.len());
        let mut left = magnitude;
        for (position, weight) in weights.iter().enumerate() {
            let (floor, rest) = split(*weight);
            left -= floor;
            // No floor is above the magnitude, which fits.
            shares.push(i64::try_from(floor).unwrap_or(i64::MAX));
            close.push((Reverse(rest), position));
        }
        usize::try_from(left).unwrap_or(usize::MAX)
    };
    if left == 0 {
        return;
    }
    if left < close.len() {
        close.select_nth_unstable(left);
    }
    for (_, position) in close.into_iter().take(left) {
        if let Some(share) = shares.get_mut(start + position) {
            *share += 1;
        }
    }
}

/// Binary digits that many remainders are first told apart by.
const LEAD: usize = 10;

/// So many remainders are put in order without a first look.
const FEW: usize = 1024;

/// Deals to many all that is certain by the leading digits of their remainders. `close` are those
/// that are left, by remainder and position; the answer is how many of them get one more.
fn deal_many<W: Copy, R: Copy + Ord + PrimInt>(
    weights: &[W],
    split: impl Fn(W) -> (u64, R),
    magnitude: u64,
    total: R,
    shares: &mut Vec<i64>,
    close: &mut Vec<(Reverse<R>, usize)>,
) -> usize {
    let width = usize::try_from(total.count_zeros() + total.count_ones() - total.leading_zeros());
    let shift = width.unwrap_or(0).saturating_sub(LEAD);
    let mut counts = vec![0usize; 1 << LEAD];
    let mut leads = Vec::with_capacity(weights.len());
    let mut left = magnitude;
    let start = shares.len();
    shares.extend(weights.iter().map(|weight| {
        let (floor, rest) = split(*weight);
        let lead = (rest >> shift).to_u16().unwrap_or(0);
        leads.push(lead);
        if let Some(count) = counts.get_mut(usize::from(lead)) {
            *count += 1;
        }
        left -= floor;
        i64::try_from(floor).unwrap_or(i64::MAX)
    }));
    let mut left = usize::try_from(left).unwrap_or(usize::MAX);
    if left == 0 {
        return 0;
    }
    // Those that lead with more than `least` all get one more, of those that lead with it some.
    let mut least = counts.len() - 1;
    while let Some(count) = counts.get(least).filter(|count| **count < left) {
        left -= count;
        least = least.saturating_sub(1);
    }
    let least = u16::try_from(least).unwrap_or(u16::MAX);
    let dealt = shares.iter_mut().skip(start).zip(leads).zip(weights);
    for (position, ((share, lead), weight)) in dealt.enumerate() {
        if lead > least {
            *share += 1;
        } else if lead == least {
            close.push((Reverse(split(*weight).1), position));
        }
    }
    left
}

/// Decimals as 64-bit integers of one scale; `None` where one of them is finer or does not fit.
fn narrow(key: impl Iterator<Item = Decimal>, scale: u32) -> Option<Vec<u64>> {
    key.map(|decimal| {
        let mantissa = u64::try_from(decimal.mantissa()).ok()?;
        match scale.checked_sub(decimal.scale())? {
            0 => Some(mantissa),
            up => mantissa.checked_mul(10u64.checked_pow(up)?),
        }
    })
    .collect()
}

/// Weights divided by their greatest common divisor.
fn without_common_factor<T: Integer + Copy>(mut values: Vec<T>) -> Vec<T> {
    let mut factor = T::zero();
    for value in &values {
        factor = factor.gcd(value);
        if factor.is_one() {
            return values;
        }
    }
    if !factor.is_zero() {
        for value in &mut values {
            *value = *value / factor;
        }
    }
    values
}

#[cfg(test)]
mod tests {
    use super::super::{Currency, Written};
    use super::*;
    use proptest::prelude::*;

    fn divide(amount: &str, key: &[&str]) -> Vec<i64> {
        let key: Vec<Decimal> = key.iter().map(|w| w.parse().unwrap()).collect();
        Weights::of(key.into_iter()).unwrap().divide(Money::read(amount).unwrap()).unwrap()
    }

    fn seats(count: i64, populations: &[u128]) -> Vec<i64> {
        let money = Money::from_minor(count, Currency::from_code("JPY").unwrap());
        Weights::from_integers(populations.to_vec()).unwrap().divide(money).unwrap()
    }

    #[test]
    fn apportionment_of_1790() {
        // Census of 1790, 120 seats by largest remainders: COMAP, For All Practical Purposes,
        // 10th edition, table 14.5.
        let table: [(u128, i64); 15] = [
            (179_570, 6),
            (630_560, 21),
            (236_841, 8),
            (206_236, 7),
            (55_540, 2),
            (85_533, 3),
            (475_327, 16),
            (353_523, 12),
            (141_822, 5),
            (432_879, 14),
            (70_835, 2),
            (68_705, 2),
            (68_446, 2),
            (278_514, 9),
            (331_589, 11),
        ];
        let populations: Vec<u128> = table.iter().map(|row| row.0).collect();
        let printed: Vec<i64> = table.iter().map(|row| row.1).collect();
        assert_eq!(seats(120, &populations), printed);
    }

    #[test]
    fn the_paradox_of_1880_is_a_property_of_the_method() {
        // Same book, example 7: with one seat more in the house Alabama loses one. Three states of
        // the census; the other states are one weight here, whose remainder stays out of the way.
        let (alabama, illinois, texas, nation) = (1_262_505, 3_077_871, 1_591_749, 49_371_340);
        let fraction = |seats: u128, population: u128| seats * population % nation;
        let order = |seats| {
            let mut states = [("AL", alabama), ("IL", illinois), ("TX", texas)];
            states.sort_by_key(|state| std::cmp::Reverse(fraction(seats, state.1)));
            states.map(|state| state.0)
        };
        assert_eq!(order(299), ["AL", "IL", "TX"]);
        assert_eq!(order(300), ["IL", "TX", "AL"]);
        // The smallest case of it (computed): one unit more, and the last weight has one less.
        assert_eq!(seats(10, &[6, 6, 2]), [4, 4, 2]);
        assert_eq!(seats(11, &[6, 6, 2]), [5, 5, 1]);
    }

    #[test]
    fn worked_by_hand() {
        // Derived by hand from the largest-remainder rule.
        let areas = ["5.94", "5.61", "5.28", "5.94", "6.12"];
        assert_eq!(divide("1000.00 USD", &areas), [20_561, 19_418, 18_276, 20_561, 21_184]);
        assert_eq!(divide("2267.51 USD", &areas), [46_622, 44_032, 41_441, 46_622, 48_034]);
        assert_eq!(divide("100.00 USD", &["1", "1", "1"]), [3_334, 3_333, 3_333]);
        assert_eq!(divide("-100.00 USD", &["1", "1", "1"]), [-3_334, -3_333, -3_333]);
        assert_eq!(divide("0.03 USD", &["1"; 7]), [1, 1, 1, 0, 0, 0, 0]);
    }

    #[test]
    fn no_weight_is_a_fault_unless_there_is_nothing_to_spread() {
        let usd = Currency::from_code("USD").unwrap();
        let nothing = Weights::from_integers(vec![0, 0]).unwrap();
        assert_eq!(nothing.divide(Money::from_minor(1, usd)), Err(SpreadError::NoWeight));
        assert_eq!(nothing.divide(Money::zero(usd)), Ok(vec![0, 0]));
        let negative = Weights::of([Decimal::ONE, -Decimal::ONE].into_iter());
        assert_eq!(negative, Err(SpreadError::Negative(1)));
        let empty = Weights::from_integers(Vec::new()).unwrap();
        assert_eq!(empty.divide(Money::from_minor(1, usd)), Err(SpreadError::NoWeight));
    }

    #[test]
    fn what_is_too_large_says_so() {
        let huge = Weights::from_integers(vec![u128::MAX / 4, 1]).unwrap();
        let usd = Currency::from_code("USD").unwrap();
        assert_eq!(huge.divide(Money::from_minor(i64::MAX, usd)), Err(SpreadError::Overflow));
        assert_eq!(Weights::from_integers(vec![u128::MAX, 1]), Err(SpreadError::Overflow));
    }

    proptest! {
        #[test]
        fn shares_sum_and_stay_within_one(
            minor in -1_000_000_000_000i64..1_000_000_000_000,
            code in 0usize..3,
            key in prop::collection::vec((0u64..100_000_000, 0u32..8), 1..60),
        ) {
            let currency = Currency::from_code(["JPY", "USD", "KWD"][code]).unwrap();
            let decimals = key.iter().map(|(m, s)| Decimal::from_i128_with_scale(i128::from(*m), *s));
            let weights = Weights::of(decimals).unwrap();
            prop_assume!(weights.total() > 0);
            let amount = Money::from_minor(minor, currency);
            let shares = weights.divide(amount).unwrap();
            prop_assert_eq!(shares.iter().sum::<i64>(), minor);
            let credit = weights.divide(amount.negated()).unwrap();
            for (position, share) in shares.iter().enumerate() {
                // |share - minor * w / W| < 1, in integers.
                let exact = i128::from(minor) * i128::try_from(weights.at(position)).unwrap();
                let total = i128::try_from(weights.total()).unwrap();
                prop_assert!((i128::from(*share) * total - exact).abs() < total);
                prop_assert_eq!(credit[position], -share);
                prop_assert_eq!(weights.share_at(amount, position).unwrap().amount.minor(), Ok(*share));
            }
        }

        #[test]
        fn many_shares_are_those_of_a_full_order(minor in 1i64..10_000_000, seed in any::<u64>(), spread in 1u64..5_000) {
            let mut state = seed;
            let mut next = || {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                1 + (state >> 33) % spread
            };
            let key: Vec<u128> = (0..FEW + 1000).map(|_| u128::from(next())).collect();
            let weights = Weights::from_integers(key).unwrap();
            let shares = weights.divide_units(minor).unwrap();
            let magnitude = u128::try_from(minor).unwrap();
            let (mut floors, mut order): (Vec<i64>, Vec<(std::cmp::Reverse<u128>, usize)>) = (0..weights.len())
                .map(|at| {
                    let (floor, rest) = (weights.at(at) * magnitude).div_rem(&weights.total());
                    (i64::try_from(floor).unwrap(), (std::cmp::Reverse(rest), at))
                })
                .unzip();
            order.sort_unstable();
            let left = usize::try_from(minor - floors.iter().sum::<i64>()).unwrap();
            for (_, at) in order.iter().take(left) {
                floors[*at] += 1;
            }
            prop_assert_eq!(shares, floors);
        }

        #[test]
        fn wide_and_narrow_division_agree(minor in 1i64..1_000_000, key in prop::collection::vec(1u128..1_000_000, 1..20)) {
            let usd = Currency::from_code("USD").unwrap();
            let amount = Money::from_minor(minor, usd);
            let narrow = Weights::from_integers(key.clone()).unwrap();
            // The same proportions, held unreduced so that 64 bits are not enough.
            let factor = 1u128 << 70;
            let wide = Weights {
                values: Values::Wide((0..key.len()).map(|at| narrow.at(at) * factor).collect()),
                total: narrow.total * factor,
            };
            prop_assert_eq!(narrow.divide(amount), wide.divide(amount));
        }
    }
}
