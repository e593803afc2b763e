//! Integer weights in the proportion of an exact key, by which amounts are spread.

use std::sync::OnceLock;

use num_integer::Integer;
use rayon::prelude::*;

use super::{Decimal, Overflow};

/// Binary digits of a weight's part of the total, in [`Weights::parts`].
pub(super) const PLACES: u32 = 64;

/// From so many weights on, several threads make them.
pub(super) const MANY: usize = 1 << 16;

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
#[derive(Debug, Clone)]
pub struct Weights {
    values: Values,
    total: u128,
    /// Worked out when an amount is first divided.
    parts: OnceLock<Parts>,
}

/// Weights in 64 bits where all of them fit, as they nearly always do: shipments have slabs by the
/// million, and narrow figures take half the room and a fraction of the time.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Values {
    /// As many weights of one.
    Equal(usize),
    Narrow(Vec<u64>),
    Wide(Vec<u128>),
}

/// Each weight's part of the total in [`PLACES`] binary places, rounded up.
#[derive(Debug, Clone, Default)]
pub(super) struct Parts {
    /// None where a weight is wide, or is all of the total, or where all weights are equal.
    pub(super) each: Vec<u64>,
    /// The largest of them.
    pub(super) largest: u64,
}

impl Values {
    fn sum(&self) -> Option<u128> {
        match self {
            Self::Equal(count) => u128::try_from(*count).ok(),
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
        Self::try_of(key.map(Ok))
    }

    /// The same for a key that is worked out while it is asked for.
    ///
    /// # Errors
    /// As [`Weights::of`], and those of the key.
    pub fn try_of(
        key: impl Iterator<Item = Result<Decimal, Overflow>> + Clone,
    ) -> Result<Self, SpreadError> {
        // Most keys are all of one scale.
        let first = key.clone().next().transpose()?.map_or(0, |decimal| decimal.scale());
        if let Some(narrow) = narrow(key.clone(), first)? {
            return Self::from_values(Values::Narrow(narrow));
        }
        let mut scale = 0;
        for decimal in key.clone() {
            scale = scale.max(decimal?.scale());
        }
        if let Some(narrow) = narrow(key.clone(), scale)? {
            return Self::from_values(Values::Narrow(narrow));
        }
        let mut values = Vec::with_capacity(key.size_hint().0);
        for (position, decimal) in key.enumerate() {
            let decimal = decimal?;
            let mantissa =
                u128::try_from(decimal.mantissa()).map_err(|_| SpreadError::Negative(position))?;
            let factor =
                10u128.checked_pow(scale - decimal.scale()).ok_or(SpreadError::Overflow)?;
            values.push(mantissa.checked_mul(factor).ok_or(SpreadError::Overflow)?);
        }
        Self::from_values(Values::Wide(values))
    }

    /// The same for many, by position: by as many threads as the machine has.
    ///
    /// # Errors
    /// As [`Weights::of`], and those of the key.
    pub fn of_each(
        count: usize,
        key: impl Fn(usize) -> Result<Decimal, Overflow> + Sync,
    ) -> Result<Self, SpreadError> {
        if count >= MANY {
            let scale = key(0)?.scale();
            let one = |at: usize| key(at).ok().and_then(|decimal| narrow_one(decimal, scale));
            // The largest figure stands for none: a weight so large is not worth a path of its own.
            let all = (0..count).into_par_iter().with_min_len(MANY / 16);
            let values: Vec<u64> = all.map(|at| one(at).unwrap_or(u64::MAX)).collect();
            if !values.contains(&u64::MAX) {
                return Self::from_values(Values::Narrow(values));
            }
        }
        Self::try_of((0..count).map(&key))
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
            values: Values::Equal(count),
            total: count.try_into().unwrap_or(u128::MAX),
            parts: OnceLock::new(),
        }
    }

    fn from_values(values: Values) -> Result<Self, SpreadError> {
        // The proportion is all that matters: the common factor only costs room.
        let values = match values {
            Values::Equal(count) => Values::Equal(count),
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
        let values = match values {
            Values::Narrow(values) if values.iter().all(|value| *value == 1) => {
                Values::Equal(values.len())
            }
            values => values,
        };
        let total = values.sum().ok_or(SpreadError::Overflow)?;
        Ok(Self { values, total, parts: OnceLock::new() })
    }

    /// How many weights there are, where all are equal.
    pub(super) fn equals(&self) -> Option<usize> {
        match &self.values {
            Values::Equal(count) => Some(*count),
            _ => None,
        }
    }

    /// The weight at a position.
    pub fn at(&self, position: usize) -> u128 {
        match &self.values {
            Values::Equal(count) => u128::from(position < *count),
            Values::Narrow(values) => values.get(position).copied().map_or(0, u128::from),
            Values::Wide(values) => values.get(position).copied().unwrap_or(0),
        }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        match &self.values {
            Values::Equal(count) => *count,
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

    /// The weights at some positions.
    ///
    /// # Errors
    /// [`SpreadError::Overflow`] where their sum does not fit.
    pub fn part(
        &self,
        positions: impl Iterator<Item = usize> + Clone,
    ) -> Result<Self, SpreadError> {
        let values = match &self.values {
            Values::Equal(_) => Values::Equal(positions.count()),
            Values::Narrow(values) => {
                let at = |position: usize| values.get(position).copied().unwrap_or(0);
                Values::Narrow(positions.map(at).collect())
            }
            Values::Wide(_) => Values::Wide(positions.map(|position| self.at(position)).collect()),
        };
        let total = values.sum().ok_or(SpreadError::Overflow)?;
        Ok(Self { values, total, parts: OnceLock::new() })
    }

    /// The same proportions, held unreduced so that 64 bits are not enough.
    #[cfg(test)]
    pub(super) fn unreduced(&self, factor: u128) -> Self {
        Self {
            values: Values::Wide((0..self.len()).map(|at| self.at(at) * factor).collect()),
            total: self.total * factor,
            parts: OnceLock::new(),
        }
    }

    /// Works out now what the first division would: for many weights by as many threads as the
    /// machine has.
    pub fn get_ready(&self) {
        if self.len() >= MANY && self.parts.get().is_none() {
            // Not inside the cell: a thread that waits for others there may be given work that
            // waits for the cell.
            let parts = self.parts_by(|values, part| values.par_iter().map(part).collect());
            // Where another was faster, theirs are the same.
            let _ = self.parts.set(parts);
        }
    }

    /// Each weight's part of the total.
    pub(super) fn parts(&self) -> &Parts {
        self.parts.get_or_init(|| self.parts_by(|values, part| values.iter().map(part).collect()))
    }

    fn parts_by(
        &self,
        each: impl FnOnce(&[u64], &(dyn Fn(&u64) -> u64 + Sync)) -> Vec<u64>,
    ) -> Parts {
        let Values::Narrow(values) = &self.values else { return Parts::default() };
        let largest = values.iter().copied().max().unwrap_or(0);
        if u128::from(largest) == self.total {
            return Parts::default();
        }
        // A weight times the reciprocal of the total is too small by less than three, and one
        // division serves all.
        let reciprocal = u128::MAX / self.total.max(1);
        let part = |weight: &u64| {
            let weight = u128::from(*weight);
            let mut part = (weight * reciprocal) >> PLACES;
            let mut rest = (weight << PLACES) - part * self.total;
            while rest > 0 {
                part += 1;
                rest = rest.saturating_sub(self.total);
            }
            // No weight is the whole, so that no part is one.
            u64::try_from(part).unwrap_or(u64::MAX)
        };
        Parts { each: each(values, &part), largest: part(&largest) }
    }

    /// The product of the largest weight and a magnitude; `None` where it is too large. Narrow ones
    /// need no look.
    pub(super) fn largest_product(&self, magnitude: u64) -> Option<u128> {
        let largest = match &self.values {
            Values::Equal(_) => 1,
            Values::Narrow(_) => u128::from(u64::MAX),
            Values::Wide(values) => values.iter().copied().max().unwrap_or(0),
        };
        largest.checked_mul(u128::from(magnitude))
    }
}

/// Decimals as 64-bit integers of one scale; `None` where one of them is finer or does not fit.
fn narrow(
    mut key: impl Iterator<Item = Result<Decimal, Overflow>>,
    scale: u32,
) -> Result<Option<Vec<u64>>, Overflow> {
    let mut values = Vec::with_capacity(key.size_hint().0);
    let mut fit = true;
    key.try_for_each(|decimal| {
        let decimal = decimal?;
        let value = narrow_one(decimal, scale);
        match value {
            Some(value) => values.push(value),
            None => fit = false,
        }
        Ok::<(), Overflow>(())
    })?;
    Ok(fit.then_some(values))
}

/// A decimal as a 64-bit integer of a scale; `None` where it is finer or does not fit.
fn narrow_one(decimal: Decimal, scale: u32) -> Option<u64> {
    let mantissa = u64::try_from(decimal.mantissa()).ok()?;
    match scale.checked_sub(decimal.scale())? {
        0 => Some(mantissa),
        up => mantissa.checked_mul(10u64.checked_pow(up)?),
    }
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
