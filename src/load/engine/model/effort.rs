//! Effort: work counted in units, never in seconds, and the engine's own seeded dice, so that the
//! same problem gives the same plan on a fast machine and on a slow one.

use super::watch::Watch;

/// How much work a call may spend.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Work units for the whole problem; some thousand million are a second of one core.
    pub units: u64,
    /// Where the search writes its progress, if somebody watches.
    pub watch: Option<&'static Watch>,
}

impl Default for Effort {
    fn default() -> Self {
        Effort::of(12_000_000_000)
    }
}

impl Effort {
    /// An effort of so many units, which nobody watches.
    pub const fn of(units: u64) -> Self {
        Effort { units, watch: None }
    }

    /// The same effort times a multiplier.
    #[must_use]
    pub fn times(self, multiplier: u64) -> Self {
        Effort { units: self.units.saturating_mul(multiplier), ..self }
    }
}

/// A purse of work units.
#[derive(Clone, Debug)]
pub(crate) struct Purse {
    left: u64,
}

impl Purse {
    pub(crate) fn new(units: u64) -> Self {
        Purse { left: units }
    }

    /// Takes units out; the purse may run dry but not negative.
    pub(crate) fn spend(&mut self, units: usize) {
        self.left = self.left.saturating_sub(u64::try_from(units).unwrap_or(u64::MAX));
    }

    pub(crate) fn dry(&self) -> bool {
        self.left == 0
    }

    pub(crate) fn left(&self) -> u64 {
        self.left
    }

    /// A part of the purse to spend on one attempt; give it back with [`Purse::settle`].
    pub(crate) fn purse(&mut self, units: u64) -> Purse {
        let part = units.min(self.left);
        self.left -= part;
        Purse { left: part }
    }

    /// Returns what an attempt left over.
    pub(crate) fn settle(&mut self, purse: &Purse) {
        self.left += purse.left;
    }
}

/// A small seeded generator (xorshift with a multiplicative finish): for shuffles, not secrets.
#[derive(Clone, Debug)]
pub(crate) struct Dice {
    state: u64,
}

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Dice { state: seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1 }
    }

    /// A number below `bound` (0 when `bound` is 0).
    pub(crate) fn below(&mut self, bound: usize) -> usize {
        self.state ^= self.state << 13;
        self.state ^= self.state >> 7;
        self.state ^= self.state << 17;
        let drawn = self.state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 16;
        let bound = u64::try_from(bound.max(1)).unwrap_or(1);
        usize::try_from(drawn % bound).unwrap_or(0)
    }

    /// Shuffles in place.
    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}
