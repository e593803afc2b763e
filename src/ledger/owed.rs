//! When a charge was owed.

use crate::quantity::{Currency, Quote};
use crate::trade::Date;

/// When a charge was owed, and at what.
#[derive(Debug, Clone)]
pub struct Owed {
    /// The event, by position.
    pub event: usize,
    /// The event in the order of the fold.
    pub rank: usize,
    /// The day.
    pub posted: Date,
    /// The rate of that day, where it is in another currency than the books.
    pub rate: Option<Quote>,
    /// The currency it was owed in.
    pub currency: Currency,
}
