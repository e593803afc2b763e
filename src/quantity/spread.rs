//! An amount divided by largest remainder (rule R3), each share worked out when it is asked for.

use std::cmp::Reverse;
use std::ops::Range;

use num_integer::Integer;
use rayon::prelude::*;

use super::weights::PLACES;
use super::{Money, SpreadError, Weights};

/// Binary digits that remainders are first told apart by, from the first that any of them has.
const MOST_LEAD: u32 = 12;

/// Positions that several divisions take at a time.
const PIECE: usize = 2048;

/// Such pieces that one thread takes at least.
const PIECES: usize = 16;

/// Positions that are so few that their remainders are put in order at once.
const FEW: usize = 64;

/// An amount divided in proportion to weights.
///
/// Exact shares of the magnitude are floored to the minor unit; the units left over go one each to
/// the largest remainders, ties to the earlier position; then the sign comes back, so that a full
/// credit cancels slab by slab. The shares sum to the amount, always, and each lies within one
/// minor unit of its exact share. (One more cent in the amount can take a cent from a slab: the
/// 1880 apportionment paradox. That is a known property of the method.)
#[derive(Debug)]
pub struct Division<'a> {
    weights: &'a Weights,
    /// See `Parts::each`.
    parts: &'a [u64],
    magnitude: u64,
    is_negative: bool,
    /// Where all weights are equal: the whole units of each, and how many of the first have one of
    /// the units left over.
    alike: Option<(u64, usize)>,
    /// A remainder in binary places above this one has one of the units left over, for certain.
    above: u64,
    /// One below this has none, for certain, unless it is below the magnitude.
    below: u64,
    /// How many binary digits of an uncertain remainder are looked at first.
    digits: u32,
    /// Whose remainder leads with more than this has one of the units left over.
    least: usize,
    /// Of those whose remainder leads with just this, the ones that have one too, in order.
    raised: Vec<usize>,
}

impl<'a> Division<'a> {
    /// Divides a whole number of units. `room` is for its counts, and may be used again.
    ///
    /// # Errors
    /// [`SpreadError::NoWeight`] unless there is nothing to divide; [`SpreadError::Overflow`].
    pub fn new(weights: &'a Weights, units: i64, room: &mut Vec<u32>) -> Result<Self, SpreadError> {
        let mut division = Self::even(weights, units)?;
        if division.settle_few() {
            return Ok(division);
        }
        let mut deal = Deal::new(division);
        let mut count = Count::new(weights.len(), std::mem::take(room));
        deal.count(0..weights.len(), &mut count);
        deal.find_least(&count);
        let mut close = Vec::with_capacity(deal.expected);
        deal.look_at(0..weights.len(), &mut close);
        *room = count.by_lead;
        Ok(deal.done(close))
    }

    /// Divides several numbers of units by the same weights, by as many threads as the machine has
    /// and some positions at a time: many weights are fetched from far away, and then serve all of
    /// them.
    ///
    /// # Errors
    /// As [`Division::new`], with the position of the first that is at fault.
    pub fn several(weights: &'a Weights, units: &[i64]) -> Result<Vec<Self>, (usize, SpreadError)> {
        weights.get_ready();
        let deal = |(at, units): (usize, &i64)| {
            Self::even(weights, *units).map(Deal::new).map_err(|error| (at, error))
        };
        let mut deals = units.iter().enumerate().map(deal).collect::<Result<Vec<_>, _>>()?;
        let length = weights.len();
        let piece = |at: usize| at * PIECE..length.min((at + 1) * PIECE);
        let pieces = || (0..length.div_ceil(PIECE)).into_par_iter().with_min_len(PIECES);
        let none = || deals.iter().map(|_| Count::new(length, Vec::new())).collect::<Vec<_>>();
        let counts = pieces().fold(none, |mut counts, at| {
            for (deal, count) in deals.iter().zip(&mut counts) {
                deal.count(piece(at), count);
            }
            counts
        });
        let counts = counts.reduce(none, |one, other| {
            one.into_iter().zip(other).map(|(one, other)| one.plus(&other)).collect()
        });
        for (deal, count) in deals.iter_mut().zip(&counts) {
            deal.find_least(count);
        }
        let none = || vec![Vec::new(); deals.len()];
        let close = pieces().fold(none, |mut close, at| {
            for (deal, close) in deals.iter().zip(&mut close) {
                deal.look_at(piece(at), close);
            }
            close
        });
        let close = close.reduce(none, |mut one, other| {
            for (one, mut other) in one.iter_mut().zip(other) {
                one.append(&mut other);
            }
            one
        });
        Ok(deals.into_iter().zip(close).map(|(deal, close)| deal.done(close)).collect())
    }

    /// Whether a number of units can be divided at all.
    ///
    /// # Errors
    /// As [`Division::new`].
    pub fn check(weights: &Weights, units: i64) -> Result<(), SpreadError> {
        let magnitude = units.unsigned_abs();
        if i64::try_from(magnitude).is_err() {
            return Err(SpreadError::Overflow);
        }
        if units != 0 && weights.total() == 0 {
            return Err(SpreadError::NoWeight);
        }
        weights.largest_product(magnitude).map(|_| ()).ok_or(SpreadError::Overflow)
    }

    /// A division of which nothing is left over.
    fn even(weights: &'a Weights, units: i64) -> Result<Self, SpreadError> {
        Self::check(weights, units)?;
        let magnitude = units.unsigned_abs();
        let mut division = Self {
            weights,
            parts: &[],
            magnitude,
            is_negative: units < 0,
            alike: None,
            above: u64::MAX,
            below: u64::MAX,
            digits: lead(weights.len()),
            least: usize::MAX,
            raised: Vec::new(),
        };
        if magnitude == 0 {
            return Ok(division);
        }
        division.alike = weights.equals().and_then(|count| {
            let (each, more) = magnitude.div_rem(&u64::try_from(count).ok()?);
            Some((each, usize::try_from(more).ok()?))
        });
        if division.alike.is_none() {
            let parts = weights.parts();
            division.parts = &parts.each;
            // Small amounts over many weights leave nothing but small remainders.
            let spare = match split(parts.largest, magnitude) {
                (0, rest) if !parts.each.is_empty() => rest.leading_zeros(),
                _ => 0,
            };
            let room = weights.total().leading_zeros().saturating_sub(division.digits);
            division.digits += spare.min(room);
        }
        Ok(division)
    }

    /// Settles who has one of the units left over, where there are few positions and the last of
    /// them that has one is clearly apart from the first that has none.
    fn settle_few(&mut self) -> bool {
        if self.parts.len() > FEW || self.parts.is_empty() {
            return false;
        }
        let mut rests = [0; FEW];
        let mut left = self.magnitude;
        for (part, slot) in self.parts.iter().zip(&mut rests) {
            let (floor, rest) = split(*part, self.magnitude);
            if rest < self.magnitude {
                return false;
            }
            // Floors sum to no more than the magnitude.
            left = left.wrapping_sub(floor);
            *slot = rest;
        }
        if left == 0 {
            return true;
        }
        let Some(rests) = rests.get_mut(..self.parts.len()) else { return false };
        let Ok(left) = usize::try_from(left) else { return false };
        if left >= rests.len() {
            return false;
        }
        let (raised, first_without, _) =
            rests.select_nth_unstable_by(left, |one, other| other.cmp(one));
        let last_raised = raised.iter().min().copied().unwrap_or(0);
        if last_raised.saturating_sub(*first_without) <= self.magnitude {
            return false;
        }
        (self.above, self.below) = (last_raised - 1, last_raised);
        true
    }

    /// Settles where the units left over run out: above these leading digits all have one, below
    /// none. A remainder is too large by less than the magnitude.
    fn stop_at(&mut self, least: usize) {
        let first =
            |lead: usize| u64::try_from(lead).ok()?.checked_mul(1 << (PLACES - self.digits));
        let above = least.checked_add(1).and_then(first);
        self.below = first(least).unwrap_or(u64::MAX);
        self.above = above.map_or(u64::MAX, |above| above.saturating_add(self.magnitude));
        self.least = least;
    }

    /// Tells the positions of a range, with the whole units of a share and the leading digits of
    /// what is left of it.
    fn each_cut(&self, range: Range<usize>, mut tell: impl FnMut(usize, u64, usize)) {
        let Some(parts) = self.parts.get(range.clone()) else {
            for position in range {
                let (floor, lead) = self.exact_cut(position);
                tell(position, floor, lead);
            }
            return;
        };
        for (index, part) in parts.iter().enumerate() {
            let (floor, lead) = self.cut_part(*part, range.start + index);
            tell(range.start + index, floor, lead);
        }
    }

    /// The share at a position, in units.
    pub fn share(&self, position: usize) -> i64 {
        let share = match (self.alike, self.parts.get(position)) {
            _ if self.magnitude == 0 => 0,
            (Some((each, more)), _) => each + u64::from(position < more),
            (None, Some(part)) => self.share_of(*part, position),
            (None, None) => self.exact_share(position),
        };
        // No share is above the magnitude, which fits.
        let share = i64::try_from(share).unwrap_or(i64::MAX);
        if self.is_negative { -share } else { share }
    }

    /// The magnitude of a share by the part at its position: nearly all are certain by one product.
    fn share_of(&self, part: u64, position: usize) -> u64 {
        let (floor, rest) = split(part, self.magnitude);
        // One test for both: which of the two it is no processor can guess.
        let is_above = rest > self.above;
        let is_below =
            rest.wrapping_sub(self.magnitude) < self.below.saturating_sub(self.magnitude);
        if is_above | is_below { floor + u64::from(is_above) } else { self.exact_share(position) }
    }

    /// The same, exactly.
    #[cold]
    fn exact_share(&self, position: usize) -> u64 {
        let (floor, lead) = self.exact_cut(position);
        let is_raised = lead > self.least
            || (lead == self.least && self.raised.binary_search(&position).is_ok());
        floor + u64::from(is_raised)
    }

    /// Adds the shares of the positions from `first` on, so many times, to sums.
    pub fn add_to(&self, sums: &mut [i64], first: usize, times: i64) {
        if self.magnitude == 0 {
            return;
        }
        let parts = self.parts.get(first..).unwrap_or(&[]);
        if parts.is_empty() {
            for (position, sum) in (first..).zip(sums) {
                *sum += self.share(position) * times;
            }
            return;
        }
        let times = if self.is_negative { -times } else { times };
        for (index, (part, sum)) in parts.iter().zip(sums).enumerate() {
            let share = self.share_of(*part, first + index);
            *sum += i64::try_from(share).unwrap_or(i64::MAX) * times;
        }
    }

    /// Whether the share at a position has one of the units left over.
    pub fn has_leftover(&self, position: usize) -> bool {
        u128::from(self.share(position).unsigned_abs()) > self.exact(position).0
    }

    /// The whole units of a share and the leading digits of what is left of it, by the part at its
    /// position.
    ///
    /// A part is rounded up by less than its last place, so that its product with the magnitude is
    /// too large by less than the magnitude, in units of the last place. Whole units and leading
    /// digits are right all the same where the digits below the leading ones do not fall under that.
    fn cut_part(&self, part: u64, position: usize) -> (u64, usize) {
        let (floor, rest) = split(part, self.magnitude);
        let is_certain = rest & (u64::MAX >> self.digits) >= self.magnitude;
        match usize::try_from(rest >> (PLACES - self.digits)) {
            Ok(lead) if is_certain => (floor, lead),
            _ => self.exact_cut(position),
        }
    }

    /// The same, exactly.
    #[cold]
    fn exact_cut(&self, position: usize) -> (u64, usize) {
        let (floor, rest) = self.exact(position);
        let total = self.weights.total();
        let lead = if total.leading_zeros() >= self.digits {
            (rest << self.digits) / total
        } else {
            rest / ((total >> self.digits) + 1)
        };
        (u64::try_from(floor).unwrap_or(u64::MAX), usize::try_from(lead).unwrap_or(0))
    }

    /// The whole units of a share, and what is left of it in parts of the total.
    fn exact(&self, position: usize) -> (u128, u128) {
        let product = self.weights.at(position).checked_mul(u128::from(self.magnitude));
        // The largest product was tried, and the total is above zero where there is a magnitude.
        product.unwrap_or(0).div_rem(&self.weights.total().max(1))
    }
}

/// How many leading digits tell so many remainders apart.
fn lead(count: usize) -> u32 {
    (count.checked_ilog2().unwrap_or(0) + 2).min(MOST_LEAD)
}

/// A division under way: the shares are counted by what is left of them, to find who has one of the
/// units left over.
struct Deal<'a> {
    division: Division<'a>,
    /// The units that are not dealt once all are counted.
    left: u64,
    /// Among how many the last of them go.
    expected: usize,
}

/// Shares of some positions, counted.
struct Count {
    /// Their whole units.
    floors: u64,
    /// How many remainders lead with these digits.
    by_lead: Vec<u32>,
}

impl Count {
    fn new(length: usize, mut by_lead: Vec<u32>) -> Self {
        by_lead.clear();
        by_lead.resize(1 << lead(length), 0);
        Self { floors: 0, by_lead }
    }

    fn plus(mut self, other: &Self) -> Self {
        // Floors sum to no more than the magnitude.
        self.floors = self.floors.wrapping_add(other.floors);
        for (one, other) in self.by_lead.iter_mut().zip(&other.by_lead) {
            *one += other;
        }
        self
    }
}

/// A remainder that one of the last units may go to, and its position: the largest first, of equal
/// ones the earlier.
type Close = (Reverse<u128>, usize);

impl<'a> Deal<'a> {
    fn new(division: Division<'a>) -> Self {
        let left = if division.alike.is_some() { 0 } else { division.magnitude };
        Self { division, left, expected: 0 }
    }

    /// Counts the shares of some positions.
    fn count(&self, range: Range<usize>, count: &mut Count) {
        if self.left == 0 {
            return;
        }
        let (mut floors, by_lead) = (count.floors, count.by_lead.as_mut_slice());
        self.division.each_cut(range, |_, floor, lead| {
            floors = floors.wrapping_add(floor);
            if let Some(count) = by_lead.get_mut(lead) {
                *count += 1;
            }
        });
        count.floors = floors;
    }

    /// Finds the leading digits that the units left over run out at.
    fn find_least(&mut self, counted: &Count) {
        self.left = self.left.wrapping_sub(counted.floors);
        if self.left == 0 {
            return;
        }
        let count_of = |lead: usize| counted.by_lead.get(lead).copied().unwrap_or(0);
        // There are fewer units left than remainders, so that this comes to an end.
        let mut least = counted.by_lead.len() - 1;
        while u64::from(count_of(least)) < self.left && least > 0 {
            self.left -= u64::from(count_of(least));
            least -= 1;
        }
        if u64::from(count_of(least)) == self.left && least > 0 {
            // All that lead with it have one.
            self.left = 0;
            least -= 1;
        } else {
            self.expected = usize::try_from(count_of(least)).unwrap_or(0);
        }
        self.division.stop_at(least);
    }

    /// Finds, in a range, those among whom the last units go.
    fn look_at(&self, range: Range<usize>, close: &mut Vec<Close>) {
        if self.left == 0 {
            return;
        }
        let division = &self.division;
        division.each_cut(range, |position, _, lead| {
            if lead == division.least {
                close.push((Reverse(division.exact(position).1), position));
            }
        });
    }

    /// The division, once it is known among whom the last units go.
    fn done(self, mut close: Vec<Close>) -> Division<'a> {
        let Self { mut division, left, .. } = self;
        let left = usize::try_from(left).unwrap_or(usize::MAX);
        if left < close.len() {
            close.select_nth_unstable(left);
            close.truncate(left);
        }
        division.raised = close.into_iter().map(|(_, position)| position).collect();
        division.raised.sort_unstable();
        division
    }
}

/// The product of a part and a magnitude: whole units, and the binary places below them.
fn split(part: u64, magnitude: u64) -> (u64, u64) {
    let product = u128::from(part) * u128::from(magnitude);
    let low = product & u128::from(u64::MAX);
    // Both halves fit.
    let half = |half: u128| u64::try_from(half).unwrap_or(u64::MAX);
    (half(product >> PLACES), half(low))
}

impl Weights {
    /// Divides an amount in proportion to the weights, as [`Division`] says: the shares in minor
    /// units, in order.
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
        let division = Division::new(self, units, &mut Vec::new())?;
        let mut shares = vec![0; self.len()];
        division.add_to(&mut shares, 0, 1);
        Ok(shares)
    }

    /// One position's share, and whether it received one of the left-over minor units: what
    /// `explain` shows.
    ///
    /// # Errors
    /// As [`Weights::divide`].
    pub fn share_at(&self, amount: Money, position: usize) -> Result<Share, SpreadError> {
        let division = Division::new(self, amount.minor()?, &mut Vec::new())?;
        if position >= self.len() {
            return Err(SpreadError::NoWeight);
        }
        let amount = Money::from_minor(division.share(position), amount.currency());
        Ok(Share { amount, leftover: division.has_leftover(position) })
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

#[cfg(test)]
mod tests {
    use super::super::weights::MANY;
    use super::super::{Currency, Decimal, Overflow, Written};
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
    fn many_weights_are_divided_by_several_threads_as_by_one() {
        let figure = |at: usize| {
            // One in a thousand has a scale of its own.
            let scale = if at % 1_000 == 999 { 5 } else { 3 };
            Decimal::new(i64::try_from(at * 7_919 % 10_007).unwrap(), scale)
        };
        for (count, step) in [(MANY, 1), (MANY + 3, 1), (MANY, 1_000)] {
            let many = Weights::of_each(count, |at| Ok(figure(at * step))).unwrap();
            let one = Weights::of((0..count).map(|at| figure(at * step))).unwrap();
            for units in [4_500, 8_999_999_999] {
                let shares = Division::several(&many, &[units]).unwrap();
                let shares: Vec<i64> = (0..count).map(|at| shares[0].share(at)).collect();
                assert_eq!(shares, one.divide_units(units).unwrap(), "{count} {step} {units}");
            }
        }
        let overflow = Overflow { what: "a weight" };
        assert!(Weights::of_each(MANY, |_| Err(overflow)).is_err());
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
        assert_eq!(negative.unwrap_err(), SpreadError::Negative(1));
        let empty = Weights::from_integers(Vec::new()).unwrap();
        assert_eq!(empty.divide(Money::from_minor(1, usd)), Err(SpreadError::NoWeight));
    }

    #[test]
    fn what_is_too_large_says_so() {
        let huge = Weights::from_integers(vec![u128::MAX / 4, 1]).unwrap();
        let usd = Currency::from_code("USD").unwrap();
        assert_eq!(huge.divide(Money::from_minor(i64::MAX, usd)), Err(SpreadError::Overflow));
        assert_eq!(Weights::from_integers(vec![u128::MAX, 1]).unwrap_err(), SpreadError::Overflow);
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
        fn shares_are_those_of_a_full_order(
            minor in 1i64..i64::MAX,
            shift in 0u32..60,
            count in prop_oneof![1usize..FEW + 3, 1usize..3_000],
            seed in any::<u64>(),
            spread in 1u64..5_000,
        ) {
            let magnitude = u128::try_from(minor >> shift).unwrap().max(1);
            let mut state = seed;
            let mut next = || {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                (state >> 33) % spread
            };
            // Some weigh nothing, and where the spread is small many are alike.
            let key: Vec<u128> = (0..count).map(|_| u128::from(next())).collect();
            let weights = Weights::from_integers(key).unwrap();
            prop_assume!(weights.total() > 0);
            let units = i64::try_from(magnitude).unwrap();
            let (mut floors, mut order): (Vec<i64>, Vec<(Reverse<u128>, usize)>) = (0..count)
                .map(|at| {
                    let (floor, rest) = (weights.at(at) * magnitude).div_rem(&weights.total());
                    (i64::try_from(floor).unwrap(), (Reverse(rest), at))
                })
                .unzip();
            order.sort_unstable();
            let left = usize::try_from(units - floors.iter().sum::<i64>()).unwrap();
            for (_, at) in order.iter().take(left) {
                floors[*at] += 1;
            }
            prop_assert_eq!(&weights.divide_units(units).unwrap(), &floors);
            // Beside others the same.
            let several = Division::several(&weights, &[units / 3, -units, 0]).unwrap();
            let credit: Vec<i64> = (0..count).map(|at| several[1].share(at)).collect();
            prop_assert_eq!(credit, floors.iter().map(|share| -share).collect::<Vec<_>>());
        }

        #[test]
        fn equal_weights_share_evenly(each in 1i64..1_000_000, more in 0usize..2_000, count in 1usize..2_000) {
            let more = more % count;
            let units = each * i64::try_from(count).unwrap() + i64::try_from(more).unwrap();
            let shares = Weights::equal(count).divide_units(units).unwrap();
            let expected: Vec<i64> = (0..count).map(|at| each + i64::from(at < more)).collect();
            prop_assert_eq!(shares, expected);
        }

        #[test]
        fn wide_and_narrow_division_agree(minor in 1i64..1_000_000, key in prop::collection::vec(1u128..1_000_000, 1..20)) {
            let usd = Currency::from_code("USD").unwrap();
            let amount = Money::from_minor(minor, usd);
            let narrow = Weights::from_integers(key).unwrap();
            prop_assert_eq!(narrow.divide(amount), narrow.unreduced(1 << 70).divide(amount));
        }
    }
}
