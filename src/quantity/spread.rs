//! Exact division of an amount over slabs, by largest remainder (rule R3).

use num_integer::Integer;

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
    values: Vec<u128>,
    total: u128,
    largest: u128,
}

impl Weights {
    /// Weights in proportion to decimals (areas in m2, masses in kg, amounts of money), scaled to
    /// integers without losing a digit.
    ///
    /// # Errors
    /// [`SpreadError::Negative`], or [`SpreadError::Overflow`] where the digits do not fit.
    pub fn of(key: impl Iterator<Item = Decimal> + Clone) -> Result<Self, SpreadError> {
        let scale = key.clone().map(|d| d.scale()).max().unwrap_or(0);
        let mut values = Vec::with_capacity(key.size_hint().0);
        for (position, decimal) in key.enumerate() {
            let mantissa =
                u128::try_from(decimal.mantissa()).map_err(|_| SpreadError::Negative(position))?;
            let factor =
                10u128.checked_pow(scale - decimal.scale()).ok_or(SpreadError::Overflow)?;
            values.push(mantissa.checked_mul(factor).ok_or(SpreadError::Overflow)?);
        }
        Self::from_integers(values)
    }

    /// Weights that already are integers.
    ///
    /// # Errors
    /// [`SpreadError::Overflow`] where their sum does not fit.
    pub fn from_integers(mut values: Vec<u128>) -> Result<Self, SpreadError> {
        // The proportion is all that matters: the common factor only costs room.
        let factor = common_factor(&values);
        if factor > 1 {
            for value in &mut values {
                *value /= factor;
            }
        }
        let total = values
            .iter()
            .try_fold(0u128, |sum, value| sum.checked_add(*value))
            .ok_or(SpreadError::Overflow)?;
        let largest = values.iter().copied().max().unwrap_or(0);
        Ok(Self { values, total, largest })
    }

    /// The weight at a position.
    pub fn at(&self, position: usize) -> u128 {
        self.values.get(position).copied().unwrap_or(0)
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
    pub fn divide_units(&self, minor: i64) -> Result<Vec<i64>, SpreadError> {
        if minor == 0 {
            return Ok(vec![0; self.values.len()]);
        }
        if self.total == 0 {
            return Err(SpreadError::NoWeight);
        }
        let magnitude = minor.unsigned_abs();
        let (mut shares, remainders) = self.floors(magnitude)?;
        let dealt: u64 = shares.iter().sum();
        let left = usize::try_from(magnitude - dealt).map_err(|_| SpreadError::Overflow)?;
        for position in largest_remainders(&remainders, left) {
            shares[position] += 1;
        }
        shares
            .into_iter()
            .map(|share| i64::try_from(share).map(|s| if minor < 0 { -s } else { s }))
            .collect::<Result<_, _>>()
            .map_err(|_| SpreadError::Overflow)
    }

    /// Floors and remainders of every exact share.
    fn floors(&self, magnitude: u64) -> Result<(Vec<u64>, Vec<u128>), SpreadError> {
        let small = |value: u128| u64::try_from(value).ok();
        let narrow = small(self.largest)
            .and_then(|largest| largest.checked_mul(magnitude))
            .and(small(self.total));
        if let Some(total) = narrow {
            // Everything fits 64 bits, as it nearly always does: divide there, at a fraction of
            // the price of 128-bit division.
            let share = |weight: &u128| {
                let (floor, rest) = (small(*weight).unwrap_or(0) * magnitude).div_rem(&total);
                (floor, u128::from(rest))
            };
            return Ok(self.values.iter().map(share).unzip());
        }
        let share = |weight: &u128| {
            let product = weight.checked_mul(u128::from(magnitude)).ok_or(SpreadError::Overflow)?;
            let (floor, rest) = product.div_rem(&self.total);
            Ok((u64::try_from(floor).map_err(|_| SpreadError::Overflow)?, rest))
        };
        self.values.iter().map(share).collect()
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

/// The positions of the `count` largest remainders, ties to the earlier.
fn largest_remainders(remainders: &[u128], count: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..remainders.len()).collect();
    if count == 0 {
        return Vec::new();
    }
    if count < order.len() {
        order.select_nth_unstable_by(count, |a, b| {
            remainders[*b].cmp(&remainders[*a]).then(a.cmp(b))
        });
    }
    order.truncate(count);
    order
}

/// The greatest common divisor of all weights; stops early once it is one.
fn common_factor(values: &[u128]) -> u128 {
    let mut factor = 0u128;
    for value in values {
        factor = match (u64::try_from(factor), u64::try_from(*value)) {
            (Ok(a), Ok(b)) => u128::from(a.gcd(&b)),
            _ => factor.gcd(value),
        };
        if factor == 1 {
            break;
        }
    }
    factor
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
        fn wide_and_narrow_division_agree(minor in 1i64..1_000_000, key in prop::collection::vec(1u128..1_000_000, 1..20)) {
            let usd = Currency::from_code("USD").unwrap();
            let amount = Money::from_minor(minor, usd);
            let narrow = Weights::from_integers(key.clone()).unwrap();
            // The same proportions, held unreduced so that 64 bits are not enough.
            let factor = 1u128 << 70;
            let wide = Weights {
                values: narrow.values.iter().map(|w| w * factor).collect(),
                total: narrow.total * factor,
                largest: narrow.largest * factor,
            };
            prop_assert_eq!(narrow.divide(amount), wide.divide(amount));
        }
    }
}
