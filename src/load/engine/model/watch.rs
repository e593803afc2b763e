//! The progress of a search, for whoever watches. The search never reads it: the same problem gives
//! the same plan, watched or not.

use std::sync::{Mutex, PoisonError};

use crate::quantity::Currency;

/// Where searches write their progress. Where several run at once, the last to write is seen.
#[derive(Debug, Default)]
pub struct Watch(Mutex<SearchState>);

/// How far a search is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SearchState {
    /// The shipment, with its currency; `None` before the first.
    pub shipment: Option<(String, Currency)>,
    /// How many choices of offers were tried, and of how many.
    pub tried: (usize, usize),
    /// How many draws were costed, and of how many; of none where nothing is drawn.
    pub draws: (usize, usize),
    /// The cost of the best load so far, in minor units of the currency.
    pub best: Option<i64>,
    /// The proven lower bound of that cost, in the same units.
    pub bound: i64,
    /// Work units spent, and how many there are.
    pub spent: (u64, u64),
}

impl Watch {
    /// No progress yet.
    pub const fn new() -> Self {
        Self(Mutex::new(SearchState {
            shipment: None,
            tried: (0, 0),
            draws: (0, 0),
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
