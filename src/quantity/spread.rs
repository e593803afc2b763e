//! One amount divided by largest remainder (rule R3).

use std::cmp::Reverse;

use super::{Money, SpreadError, Weights};

impl Weights {
    /// Divides an amount in proportion to the weights: the shares in minor units, in order.
    ///
    /// Exact shares of the magnitude are floored to the minor unit; the units left over go one each
    /// to the largest remainders, ties to the earlier position; then the sign comes back. The shares
    /// sum to the amount, always, and each lies within one minor unit of its exact share. (One more
    /// cent in the amount can take a cent from a share: the 1880 apportionment paradox. That is a
    /// known property of the method.)
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
        if units == 0 {
            return Ok(vec![0; self.len()]);
        }
        if self.is_nothing() {
            return Err(SpreadError::NoWeight);
        }
        let magnitude = i64::try_from(units.unsigned_abs()).map_err(|_| SpreadError::Overflow)?;
        let mut shares = Vec::with_capacity(self.len());
        let mut largest = Vec::with_capacity(self.len());
        for position in 0..self.len() {
            let (floor, rest) = self.floor_and_rest(magnitude.unsigned_abs(), position);
            shares.push(i64::try_from(floor).map_err(|_| SpreadError::Overflow)?);
            largest.push((Reverse(rest), position));
        }
        let left = usize::try_from(magnitude - shares.iter().sum::<i64>()).unwrap_or(0);
        if left < largest.len() {
            largest.select_nth_unstable(left);
        }
        for (_, position) in largest.iter().take(left) {
            if let Some(share) = shares.get_mut(*position) {
                *share += 1;
            }
        }
        if units < 0 {
            for share in &mut shares {
                *share = -*share;
            }
        }
        Ok(shares)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Currency, Decimal, Exact, Written};
    use super::*;
    use proptest::prelude::*;

    fn divide(amount: &str, key: &[&str]) -> Vec<i64> {
        let key = key.iter().map(|weight| weight.parse::<Decimal>().unwrap());
        Weights::of(key).unwrap().divide(Money::read(amount).unwrap()).unwrap()
    }

    fn seats(count: i64, populations: &[u32]) -> Vec<i64> {
        let weights = Weights::of(populations.iter().map(|people| Decimal::from(*people)));
        weights.unwrap().divide_units(count).unwrap()
    }

    #[test]
    fn apportionment_of_1790() {
        // Census of 1790, 120 seats by largest remainders: COMAP, For All Practical Purposes,
        // 10th edition, table 14.5.
        let table: [(u32, i64); 15] = [
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
        let populations: Vec<u32> = table.iter().map(|row| row.0).collect();
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
        let nothing = Weights::of([Decimal::ZERO; 2]).unwrap();
        assert_eq!(nothing.divide_units(1), Err(SpreadError::NoWeight));
        assert_eq!(nothing.divide_units(0), Ok(vec![0, 0]));
        let negative = Weights::of([Decimal::ONE, -Decimal::ONE]);
        assert_eq!(negative.unwrap_err(), SpreadError::Negative(1));
        let empty = Weights::equal(0);
        assert_eq!(empty.divide_units(1), Err(SpreadError::NoWeight));
        assert_eq!(Weights::equal(1).divide_units(i64::MIN), Err(SpreadError::Overflow));
    }

    proptest! {
        #[test]
        fn shares_sum_and_stay_within_one(
            minor in -1_000_000_000_000i64..1_000_000_000_000,
            key in prop::collection::vec((0u64..100_000_000, 0u32..8), 1..60),
        ) {
            let decimals = key.iter().map(|(m, s)| Decimal::from_i128_with_scale(i128::from(*m), *s));
            let weights = Weights::of(decimals).unwrap();
            prop_assume!(!weights.is_nothing());
            let shares = weights.divide_units(minor).unwrap();
            prop_assert_eq!(shares.iter().sum::<i64>(), minor);
            let credit = weights.divide_units(-minor).unwrap();
            let units = |count: i64| Exact::new(Decimal::from(count), Currency::from_code("JPY").unwrap());
            for (at, share) in shares.iter().enumerate() {
                let off = weights.share(&units(minor), [at].into_iter()).minus(&units(*share)).unwrap();
                let off = if off.is_negative() { off.negated() } else { off };
                prop_assert!(off.minus(&units(1)).unwrap().is_negative());
                prop_assert_eq!(credit[at], -share);
            }
        }

        #[test]
        fn shares_are_those_of_a_full_order(
            units in 1i64..1 << 40, key in prop::collection::vec(0u64..5_000, 1..200),
        ) {
            let total: u64 = key.iter().sum();
            prop_assume!(total > 0);
            let product = |weight: u64| u128::from(weight) * u128::from(units.unsigned_abs());
            let floor = |weight: u64| i64::try_from(product(weight) / u128::from(total)).unwrap();
            let mut shares: Vec<i64> = key.iter().map(|weight| floor(*weight)).collect();
            let mut order: Vec<usize> = (0..key.len()).collect();
            order.sort_by_key(|at| (Reverse(product(key[*at]) % u128::from(total)), *at));
            let left = usize::try_from(units - shares.iter().sum::<i64>()).unwrap();
            for at in order.iter().take(left) {
                shares[*at] += 1;
            }
            let weights = Weights::of(key.iter().map(|weight| Decimal::from(*weight))).unwrap();
            prop_assert_eq!(weights.divide_units(units).unwrap(), shares);
        }
    }
}
