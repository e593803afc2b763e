//! What a search says of itself while it runs, for somebody to look at. Nothing is read back: the
//! same problem gives the same plan, looked at or not.

use std::sync::{Mutex, PoisonError};

use crate::quantity::Currency;

/// Where searches write how far they are. Of several at a time the last to write is seen.
#[derive(Debug, Default)]
pub struct Watch(Mutex<SearchState>);

/// How far a search is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SearchState {
    /// The shipment, with its currency; `None` before the first.
    pub shipment: Option<(String, Currency)>,
    /// How many choices of offers were tried, and of how many.
    pub tried: (usize, usize),
    /// The cost of the best load so far, in minor units of the currency.
    pub best: Option<i64>,
    /// What no load goes below, in the same.
    pub bound: i64,
    /// Work units spent, and how many there are.
    pub spent: (u64, u64),
}

impl Watch {
    /// Nothing to see yet.
    pub const fn new() -> Self {
        Self(Mutex::new(SearchState {
            shipment: None,
            tried: (0, 0),
            best: None,
            bound: 0,
            spent: (0, 0),
        }))
    }

    /// What was written last.
    pub fn seen(&self) -> SearchState {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Writes.
    pub fn tell(&self, write: impl FnOnce(&mut SearchState)) {
        write(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner));
    }
}
